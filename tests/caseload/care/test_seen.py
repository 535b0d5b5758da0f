"""Who was shown students' supports, cautions and contacts: each page of a substitute, and nobody else's."""

import datetime as dt
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person, Substitution
from caseload.care.models import CareView, Caution, Contact, Support
from tests.api import Api
from tests.conftest import Cast, date_there

pytestmark = pytest.mark.django_db


@pytest.fixture
def covering(cast: Cast) -> Client:
    """The substitute, on a day of the substitution; something is written about the student."""
    today = date_there()
    Substitution.objects.create(substitute=cast.substitute, teacher=cast.teacher, first_date=today, last_date=today)
    Support.objects.create(student=cast.student, text="Picture cards")
    return signed_in(cast.substitute)


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    browser = Client()
    browser.force_login(person)
    return browser


def test_each_page_with_care_is_a_view(cast: Cast, covering: Client) -> None:
    """The student's page twice and the list once; a page that isn't there, and what leads elsewhere, is none."""
    page = reverse("student_detail", args=[cast.student.pk])
    for address in (page, page, reverse("student_list"), reverse("student_detail", args=[10**6]), reverse("home")):
        covering.get(address)
    covering.head(page)
    seen = CareView.objects.values_list("viewer__username", "student__code", "page")
    who = (cast.substitute.username, cast.student.code)
    assert sorted(seen) == sorted([(*who, "student_list"), *[(*who, "student_detail")] * 2])


def test_teachers_and_coordinators_make_no_view(cast: Cast, covering: Client) -> None:
    """It is about who stands in."""
    for person in (cast.teacher, cast.coordinator):
        assert signed_in(person).get(reverse("student_detail", args=[cast.student.pk])).status_code == 200
    assert not CareView.objects.exists()


@pytest.mark.parametrize("what", ["supports", "cautions", "contacts"])
def test_the_api_is_watched_too(cast: Cast, covering: Client, what: str) -> None:
    """Lists of rows, which no page goes by."""
    Caution.objects.create(student=cast.student, text="Seizures", decides="The nurse")
    Contact.objects.create(student=cast.student, role="nurse", name="Runa Orre")
    answer = covering.get(f"/api/1/{what}/")
    assert answer.status_code == 200
    assert CareView.objects.get().student == cast.student


def test_who_reads_of_it(cast: Cast, covering: Client) -> None:
    """The teacher by name, the coordinator; another teacher nothing, a substitute and an office not at all."""
    covering.get(reverse("student_detail", args=[cast.student.pk]))
    address = reverse("care_views")
    for person in (cast.teacher, cast.coordinator):
        page = unescape(signed_in(person).get(address).content.decode())
        assert f"<strong>{cast.substitute}</strong>, the student’s page" in page  # noqa: RUF001 -- as the page has it
        assert cast.student.last_name in page
    assert "Nobody has looked yet" in signed_in(cast.mate).get(address).content.decode()
    for person in (cast.substitute, cast.office):
        assert signed_in(person).get(address).status_code == 403
    assert Api(cast.teacher).get("care-views/")["count"] == 1
    assert Api(cast.mate).get("care-views/")["count"] == 0


def test_other_days_and_others(cast: Cast, covering: Client) -> None:
    """The last two weeks without being asked; a day without views says so."""
    covering.get(reverse("student_detail", args=[cast.student.pk]))
    browser, today = signed_in(cast.teacher), date_there()
    long_ago = today - dt.timedelta(days=40)
    page = browser.get(reverse("care_views"), {"first": str(long_ago), "last": str(long_ago)}).content.decode()
    assert "Nobody looked on these days" in page
    days = {"first": str(today), "last": str(today), "who": str(cast.substitute.pk)}
    assert str(cast.substitute) in browser.get(reverse("care_views"), days).content.decode()

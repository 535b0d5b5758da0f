"""The coordinator's page and its API: what they show, count anew and hand out as a file."""

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import AuditEntry
from jobs.models import Job
from schedule.attention.selectors.rows import Kind
from schedule.overview.models import CountedCause
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.overview.test_counting import count, ground

__all__ = ["ground"]

pytestmark = pytest.mark.django_db


def signed_in(person: object) -> Client:
    client = Client()
    client.force_login(person)  # type: ignore[arg-type]
    return client


def test_before_the_first_count_the_page_says_so_and_counts_by_a_press(ground: Cast) -> None:
    client = signed_in(ground.coordinator)
    assert "Nothing was counted yet." in client.get(reverse("overview")).content.decode()
    answer = client.post(reverse("overview"), {"count": "1"}, follow=True).content.decode()
    assert "2 teachers are being counted." in answer
    assert Job.objects.filter(kind="count_teacher").count() == 2


def test_the_page_leads_from_the_district_to_the_sentence(ground: Cast) -> None:
    count(ground.teacher, ground.mate)
    client = signed_in(ground.coordinator)
    page = client.get(reverse("overview")).content.decode()
    assert "Behind now" in page
    assert f"by=building&amp;teacher={ground.teacher.pk}" in page
    row = CountedCause.objects.filter(kind=Kind.BEHIND).first()
    assert row is not None
    waits = client.get(reverse("overview_waits", args=[Kind.BEHIND]), {"row": row.pk}).content.decode()
    assert f"{reverse('attention')}?teacher={ground.mate.pk}" in waits
    assert "Quernmore" not in waits
    assert client.get(reverse("overview_waits", args=[99])).status_code == 404


def test_a_choice_that_is_not_there_is_said_at_its_field(ground: Cast) -> None:
    count(ground.teacher)
    page = signed_in(ground.coordinator).get(reverse("overview"), {"by": "moon", "teacher": "12345"})
    assert page.status_code == 200
    assert "Select a valid choice" in page.content.decode()


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_file_is_made_by_a_press_and_recorded(ground: Cast, form: str) -> None:
    count(ground.teacher, ground.mate)
    client = signed_in(ground.coordinator)
    made = client.post(f"{reverse('overview')}?by=building", {"form": form, "why": "Board meeting"})
    assert made.status_code == 200
    assert "attachment" in made["Content-Disposition"]
    entry = AuditEntry.objects.get(action="report_export")
    assert entry.changes["why"] == [None, "Board meeting"]
    if form == "csv":
        text = made.content.decode("utf-8-sig")
        assert ground.north.name in text
        assert "Quernmore" not in text


def test_the_api_says_the_same(ground: Cast) -> None:
    count(ground.teacher, ground.mate)
    api = Api(ground.coordinator)
    found = api.get("overview/", by="building")
    assert {one["name"]: one["sums"]["owed"] for one in found["counted"]["lines"]} == {
        ground.north.name: 90,
        ground.south.name: 30,
    }
    assert found["counted"]["sums"]["missed"] == 60
    assert found["month"]["teachers"] == 2
    waits = api.get(f"overview/waits/{int(Kind.BEHIND)}/")
    assert sorted(one["teacher"] for one in waits["results"]) == sorted([ground.teacher.pk, ground.mate.pk])
    assert api.post("overview/", 202) == {"asked": 2}
    api.get("overview/", 400, by="moon")

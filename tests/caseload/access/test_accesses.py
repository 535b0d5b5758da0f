"""Who saw what: nothing about students leaves without a record, and the record is whole.

34 CFR 99.32(a): who received personally identifiable information, when, and their legitimate interest in it.
"""

import csv
import datetime as dt
import io
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person, Substitution
from caseload.access.models import Access
from caseload.access.services import FEW, MOST_REFUSED, REFUSED_AGAIN, access_record, access_refused
from caseload.care.models import Support
from caseload.plans.models import Student
from schedule.feeds.models import Feed
from tests.api import API
from tests.config.permission_table import API as API_ROUTES
from tests.config.permission_table import TABLE
from tests.config.things import Things, make_things
from tests.conftest import PASSWORD, Cast, date_there, make_student
from travel.places.models import BuildingReview


def signed_in(person: Person) -> Client:
    """A browser of somebody; that they signed in is left out of what is looked at."""
    client = Client()
    client.force_login(person)
    Access.objects.all().delete()
    return client


def recorded() -> list[tuple[str, str, str]]:
    """Kind, person and page, in the order in which they came."""
    return list(Access.objects.order_by("pk").values_list("kind", "person__username", "page"))


@pytest.fixture
def things(db: None) -> Things:
    """One of everything."""
    return make_things()


@pytest.mark.parametrize("letter", ["C", "T", "R"])
def test_no_route_hands_out_students_without_a_record(
    things: Things, letter: str, no_record_of_templates: None
) -> None:
    """Every route of the permission table, read and pressed by the coordinator; files by the teacher, too.

    Where a student's name stands in the answer there is a record of that student, or of a list of so many.
    """
    cast = things.cast
    reviewer = BuildingReview.objects.get(pk=things.ids["review"]).reviewer
    person = {"C": cast.coordinator, "T": cast.teacher, "R": reviewer}[letter]
    client = signed_in(person)
    pages, missing = 0, []
    for name, row in TABLE.items():
        for method in sorted(set(row.methods) - {"patch", "delete"}):
            if name in {"sign_out", "feed_ics", "packet_open"}:
                continue
            # What the page before said that it did stands on the next one: that it was done is in the audit.
            client.cookies.pop("messages", None)
            with transaction.atomic():
                answer = _asked(client, method, name, things)
                gone = _unrecorded(answer, only_files=letter == "T")
                transaction.set_rollback(True)
            pages += gone is not None
            if gone:
                missing.append(f"{method} {name}: {sorted(gone)}")
    assert missing == []
    assert pages >= {"C": 40, "T": 3, "R": 6}[letter]


def _unrecorded(answer: Any, *, only_files: bool) -> set[str] | None:
    """Codes of students who are named in an answer and in no record; None where nobody is named."""
    if answer.status_code != 200 or (only_files and "attachment" not in answer.get("Content-Disposition", "")):
        return None
    named = {code for code in ("S01", "S02") if f"Tarn {code}".encode() in answer.content}
    known = set(Access.objects.exclude(students=None).values_list("students__code", flat=True))
    return named - known if named else None


def _asked(client: Client, method: str, name: str, things: Things) -> Any:
    """What a route answers, as the permission table asks it."""
    row = TABLE[name]
    path = reverse(name, kwargs={part: things.value(thing) for part, thing in row.at.items()})
    named = {key: things.value(value) for key, value in (row.query if method == "get" else row.body).items()}
    options = {"content_type": "application/json"} if name in API_ROUTES and method != "get" else {}
    return getattr(client, method)(path, named or None, **options)


def test_a_coordinators_look_is_recorded_and_a_teachers_own_is_not(cast: Cast) -> None:
    """The page, the API; not what led elsewhere or wasn't there, nor HEAD. Twice within minutes is once."""
    client = signed_in(cast.coordinator)
    page = reverse("student_detail", args=[cast.student.pk])
    client.get(page)
    client.get(page)
    client.get(f"{API}/students/{cast.student.pk}/")
    client.get(reverse("student_detail", args=[10**6]))
    client.head(reverse("student_detail", args=[cast.mates_student.pk]))
    signed = recorded()
    assert signed == [("view", "coordinator", "student_detail"), ("view", "coordinator", "api:student-detail")]
    row = Access.objects.order_by("pk")[0]
    assert [one.code for one in row.students.all()] == ["S01"]
    assert "answers for" in row.why
    signed_in(cast.teacher).get(page)
    assert recorded() == []


def test_tables_that_leave_are_recorded_for_everybody(cast: Cast) -> None:
    """Which one, in which form; a table without students isn't."""
    client = signed_in(cast.teacher)
    client.get(reverse("import_export", args=["students", "csv"]))
    client.get(reverse("import_export", args=["spaces", "csv"]))
    client.get(f"{API}/import-tables/students/rows/", {"form": "csv"})
    kinds = {(kind, page) for kind, _, page in recorded()}
    assert kinds == {("file", "import_export"), ("file", "api:import_table-rows")}
    assert Access.objects.filter(page="import_export").get().about == "students, csv"


def test_the_reason_that_is_given_is_kept(cast: Cast) -> None:
    """Everything about one student: for whom it was made."""
    client = signed_in(cast.coordinator)
    client.post(reverse("student_archive", args=[cast.student.pk]), {"why": "The parents asked for it."})
    row = Access.objects.get(kind="file")
    assert row.why == "The parents asked for it."
    assert cast.student in row.students.all()


def test_sign_ins_good_and_bad_and_no_password(cast: Cast) -> None:
    """A name that nobody has is nobody's; what was typed is kept nowhere."""
    for name, password in (("teacher", PASSWORD), ("teacher", "not-it"), ("nobody-here", "not-it")):
        Client().post(reverse("sign_in"), {"username": name, "password": password})
    assert recorded() == [("signed_in", "teacher", ""), ("refused", "teacher", "")]


def test_calendars_made_and_fetched(cast: Cast) -> None:
    """By whom, and by which program; once an hour however often it asks."""
    client = signed_in(cast.teacher)
    made = client.post(
        f"{API}/feeds/", {"kind": "teacher", "label": "phone", "students": "codes"}, content_type="application/json"
    ).json()
    path = made["address"].split("/", 3)[3]
    for _ in range(3):
        assert Client().get(f"/{path}", headers={"User-Agent": "CalReader/2"}).status_code == 200
    assert [(kind, who) for kind, who, _ in recorded()] == [("feed_made", "teacher"), ("feed_fetched", "teacher")]
    assert Access.objects.get(kind="feed_fetched").about.startswith("CalReader/2")
    assert Feed.objects.count() == 1


def test_who_asks_about_one_student_is_shown_lists_too(cast: Cast) -> None:
    """A long list names nobody one by one; it stands with everyone whom it may have held."""
    others = [make_student(cast.district, cast.north, cast.teacher, f"L{n}").pk for n in range(FEW + 1)]
    access_record(person=cast.coordinator, kind=Access.Kind.FILE, page="import_export", students=others)
    access_record(person=cast.coordinator, kind=Access.Kind.VIEW, students=[cast.mates_student.pk])
    page = signed_in_keeping(cast.coordinator).get(reverse("accesses"), _days(student=cast.student.pk))
    text = page.content.decode()
    assert f"{FEW + 1} students" in text
    assert "Tarn S02" not in text.split("<tbody>")[1]


def signed_in_keeping(person: Person) -> Client:
    """A browser of somebody, with what was recorded before."""
    client = Client()
    client.force_login(person)
    return client


def _days(**more: object) -> dict[str, str]:
    today = date_there().isoformat()
    return {"first": today, "last": today, **{name: str(value) for name, value in more.items()}}


def test_the_page_and_its_file_say_the_same(cast: Cast) -> None:
    """By student, by person, by kind; with what a substitute was shown of care."""
    today = date_there()
    Substitution.objects.create(substitute=cast.substitute, teacher=cast.teacher, first_date=today, last_date=today)
    Support.objects.create(student=cast.student, text="Picture cards")
    signed_in(cast.substitute).get(reverse("student_detail", args=[cast.student.pk]))
    coordinator = signed_in_keeping(cast.coordinator)
    coordinator.get(reverse("student_detail", args=[cast.mates_student.pk]))
    answer = coordinator.get(reverse("accesses"), _days(student=cast.student.pk, form="csv"))
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert {(row["Who"], row["Students"]) for row in rows} == {(str(cast.substitute), "Ola Tarn S01")}
    assert "supports, cautions or contacts" in rows[0]["What"]
    page = coordinator.get(reverse("accesses"), _days(student=cast.student.pk)).content.decode()
    assert str(cast.substitute) in page.split("<tbody>")[1]
    by_kind = coordinator.get(reverse("accesses"), _days(kind="signed_in", form="csv")).content.decode("utf-8-sig")
    assert {row["Did"] for row in csv.DictReader(io.StringIO(by_kind))} == {"Signed in"}


def test_the_role_in_which_somebody_looked_is_kept(cast: Cast) -> None:
    """Of two roles the one in which the person works; it is shown, in the file, and asked for by page and API.

    What was kept before roles were says so; a calendar that is fetched and a sign-in refused are in none.
    """
    both = cast.teacher
    both.roles.create(role="coordinator")
    table = reverse("import_export", args=["students", "csv"])
    client = signed_in(both)
    client.get(table)
    client.post(reverse("role_work_as"), {"role": "coordinator"})
    client.get(reverse("student_detail", args=[cast.student.pk]))
    client.get(table)
    Client().post(reverse("sign_in"), {"username": "teacher", "password": "not-it"})
    old = Access.objects.create(district=cast.district, person=both, kind="view", page="student_detail")
    kept = list(Access.objects.exclude(pk=old.pk).order_by("pk").values_list("kind", "role"))
    assert kept == [("file", "teacher"), ("view", "coordinator"), ("file", "coordinator"), ("refused", "")]
    client = signed_in_keeping(cast.coordinator)
    words = {
        "": [*["Coordinator"] * 3, "Itinerant teacher", "Nobody signed in", "Not recorded"],
        "teacher": ["Itinerant teacher"],
        "none": ["Nobody signed in", "Not recorded"],
    }
    for role, expected in words.items():
        file = client.get(reverse("accesses"), _days(role=role, form="csv")).content.decode("utf-8-sig")
        assert sorted(row["Role"] for row in csv.DictReader(io.StringIO(file))) == expected
        page = client.get(reverse("accesses"), _days(role=role)).content.decode().split("<tbody>")[1]
        # The file that was just taken out stands on the page by now, as the coordinator's.
        more = ["Coordinator"] if role == "" else []
        assert all(page.count(f">{one}<") == [*expected, *more].count(one) for one in expected)
    found = client.get(f"{API}/accesses/", {"role": "teacher"}).json()["results"]
    assert [(one["kind"], one["role"]) for one in found] == [("file", "teacher")]


def test_a_sign_in_is_in_the_role_in_which_it_begins(cast: Cast) -> None:
    """The role that was chosen last may have ended since."""
    yesterday = date_there() - dt.timedelta(days=1)
    cast.teacher.roles.update(last_day=yesterday)
    cast.teacher.roles.create(role="reviewer")
    Client().post(reverse("sign_in"), {"username": "teacher", "password": PASSWORD})
    assert list(Access.objects.values_list("kind", "role")) == [("signed_in", "reviewer")]


def test_nobody_else_reads_it_and_no_other_district_is_in_it(cast: Cast) -> None:
    """Teachers, offices and substitutes are refused; a stranger reads the own district's."""
    access_record(person=cast.coordinator, kind=Access.Kind.VIEW, students=[cast.student.pk])
    for person in (cast.teacher, cast.office, cast.substitute):
        client = signed_in_keeping(person)
        assert client.get(reverse("accesses")).status_code == 403
        assert client.get(f"{API}/accesses/").status_code == 403
    stranger = signed_in_keeping(cast.stranger)
    assert "Coordinator Vey" not in stranger.get(reverse("accesses")).content.decode()
    assert {one["person"] for one in stranger.get(f"{API}/accesses/").json()["results"]} == {cast.stranger.pk}


def test_a_teachers_page_costs_nothing_more(cast: Cast) -> None:
    """Nothing is written and nothing asked for the own caseload."""
    client = signed_in_keeping(cast.teacher)
    client.get(reverse("student_list"))
    with CaptureQueriesContext(
        connection,
    ) as asked:
        client.get(reverse("student_list"))
    assert not [one for one in asked if "caseload_access" in one["sql"]]
    assert Student.objects.count() == 2


def test_what_isnt_for_a_role_is_recorded_and_floods_nothing(cast: Cast) -> None:
    """OWASP ASVS 5.0, 16.3.2: failed attempts at authorization. Each page once an hour, so many pages at most."""
    client = signed_in(cast.office)
    denied = [reverse("accesses"), reverse("student_list"), f"{API}/accesses/"]
    for address in (*denied, *denied):
        assert client.get(address).status_code == 403
    pages = ["accesses", "student_list", "api:access-list"]
    assert recorded() == [("turned_away", cast.office.username, page) for page in pages]
    assert not Access.objects.filter(count__gt=0).exists()
    assert Access.objects.filter(role=Person.Role.OFFICE).count() == len(pages)
    now = timezone.now()
    for number in range(MOST_REFUSED + 10):
        access_refused(person=cast.office, page=f"page_{number}", now=now)
    assert Access.objects.count() == MOST_REFUSED
    access_refused(person=cast.office, page="accesses", now=now + REFUSED_AGAIN + dt.timedelta(minutes=1))
    assert Access.objects.count() == MOST_REFUSED + 1
    told = browser_words(cast)
    assert "Not for the role" in told


def browser_words(cast: Cast) -> str:
    """What the coordinator reads of it."""
    client = Client()
    client.force_login(cast.coordinator)
    return client.get(reverse("accesses"), {"kind": "turned_away"}).content.decode()

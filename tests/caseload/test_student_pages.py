"""Pages of students, plans, services and holds, as each of the cast meets them."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.dates import short_date_words
from accounts.models import Person, Substitution
from accounts.selectors import today_of
from caseload.plans.models import Plan, ServiceLine, Student, StudentHold
from caseload.plans.selectors import services_listed, students_listed
from caseload.plans.services import service_change
from tests.caseload.care.written import write_care
from tests.conftest import Cast, date_there

BACKEND = "accounts.sign_in.backends.PasswordBackend"
CAUTION = "the physician, school nurse, physical therapist or the plan&#x27;s team decides"


def signed_in(person: Person) -> Client:
    """A browser in which the person has signed in."""
    client = Client()
    client.force_login(person, backend=BACKEND)
    return client


def student_values(cast: Cast, **more: str) -> dict[str, str]:
    """A filled form."""
    return {
        "first_name": "Ida",
        "last_name": "Brook",
        "code": "S09",
        "grade": "4",
        "building": str(cast.north.pk),
        **more,
    }


def test_each_sees_the_own_caseload(cast: Cast) -> None:
    """The teacher's one, the coordinator's two, nobody of another district; the office doesn't see the page."""
    codes = {}
    for name in ("teacher", "coordinator", "stranger", "substitute"):
        page = signed_in(getattr(cast, name)).get(reverse("student_list")).content.decode()
        codes[name] = [code for code in ("S01", "S02") if code in page]
    assert codes == {"teacher": ["S01"], "coordinator": ["S01", "S02"], "stranger": [], "substitute": []}
    assert signed_in(cast.office).get(reverse("student_list")).status_code == 403


def test_the_list_can_be_cut_down_to_a_building(cast: Cast) -> None:
    """A building of nobody's choice is ignored, a wrong one too."""
    client = signed_in(cast.coordinator)
    south = client.get(reverse("student_list"), {"building": cast.south.pk}).content.decode()
    assert "S02" in south
    assert "S01" not in south
    assert client.get(reverse("student_list"), {"building": "x"}).status_code == 200


def test_a_long_list_comes_in_pages(cast: Cast) -> None:
    """Each student stands on one page, by last name; what isn't the number of a page shows the nearest."""
    told = {"district": cast.district, "building": cast.north, "caseload_teacher": cast.teacher, "grade": "3"}
    Student.objects.bulk_create(
        Student(code=f"L{number:03}", first_name="Ola", last_name=f"Tarn{number:03}", **told)
        for number in reversed(range(150))
    )
    client, address = signed_in(cast.coordinator), reverse("student_list")
    told_by = [client.get(address, {"page": page}).content.decode() for page in ("1", "2", "3", "x", "-1")]
    found = [re.findall(r"Tarn(\d{3})", page) for page in told_by]
    assert sorted({*found[0], *found[1]}) == [f"{number:03}" for number in range(150)]
    assert not set(found[0]) & set(found[1])
    assert max(found[0]) < min(found[1])
    assert (set(found[2]), set(found[3])) == (set(found[1]), set(found[0])), "past the end and no number"
    assert all("152 students" in page for page in told_by)
    south = client.get(address, {"building": str(cast.north.pk), "page": "2"}).content.decode()
    assert f"building={cast.north.pk}&amp;page=1" in south, "the choice of a building goes along"


def posted_as_read(client: Client, address: str, values: dict[str, str]) -> Any:
    """Sent twice: the first answer says what the statement is read as, and nothing is saved yet."""
    first = client.post(address, values)
    assert "Nothing is saved yet" in first.content.decode()
    return client.post(address, {**values, "effects_seen": first.context["effects_seen"]}, follow=True)


def test_a_student_without_a_plan_is_flagged_until_it_comes(cast: Cast) -> None:
    """Through the pages: one short form, the flag, then the plan, and the flag is gone."""
    client = signed_in(cast.teacher)
    today = date_there()
    values = student_values(cast, first_day=str(today), statement="2 x 30 min/week", setting="one_to_one")
    page = posted_as_read(client, reverse("student_without_plan"), values)
    student = Student.objects.get(code="S09")
    assert "No plan yet" in page.content.decode()
    assert "No plan yet" in client.get(reverse("student_list"), {"building": cast.north.pk}).content.decode()
    come = {"start": str(today + dt.timedelta(days=10)), "end": str(today + dt.timedelta(days=300))}
    page = client.post(reverse("plan_new", args=[student.pk]), come, follow=True)
    assert "No plan yet" not in page.content.decode()
    assert student.plans.get(status=Plan.Status.PROVISIONAL).end == today + dt.timedelta(days=9)


def test_a_statement_that_cannot_be_read_says_how_to_write_it(cast: Cast) -> None:
    """At the field, with examples; no student is saved without the service."""
    answer = signed_in(cast.teacher).post(
        reverse("student_without_plan"),
        student_values(cast, first_day="2026-11-09", statement="sometimes", setting="one_to_one"),
    )
    assert answer.status_code == 422
    assert '<a href="#id_statement">' in answer.content.decode()
    assert "2 x 30 min/week" in answer.content.decode()
    assert not Student.objects.filter(code="S09").exists()


@pytest.mark.parametrize(
    ("change", "target"),
    [
        ({"building": ""}, "id_building"),
        ({"code": "S01"}, "id_code"),
        ({"first_day": "2026-11-09", "last_day": "2026-11-01"}, "id_last_day"),
        ({"grade": "13"}, "id_grade"),
    ],
)
def test_what_is_wrong_with_a_student_stands_at_its_field(cast: Cast, change: dict[str, str], target: str) -> None:
    """A student in no building, a code twice, leaving before coming, no such grade."""
    answer = signed_in(cast.teacher).post(reverse("student_new"), student_values(cast, **change))
    assert answer.status_code == 422
    assert f'<a href="#{target}">' in answer.content.decode()


def test_a_building_of_another_district_is_no_choice(cast: Cast) -> None:
    """The stranger's form doesn't list it, and sending its id is refused."""
    answer = signed_in(cast.stranger).post(
        reverse("student_new"), student_values(cast, caseload_teacher=str(cast.teacher.pk))
    )
    assert answer.status_code == 422
    assert "North Hollow" not in answer.content.decode()
    assert not Student.objects.filter(code="S09").exists()


def test_cautions_come_with_who_decides(cast: Cast) -> None:
    """Never a verdict: the page says whom to ask."""
    write_care(cast.student, cautions="Neck: no rolling.")
    page = signed_in(cast.teacher).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "Neck: no rolling." in page
    assert CAUTION in page


def test_names_stand_in_no_address_and_no_title(cast: Cast) -> None:
    """Browser history holds initials at most, and an address no more than an id."""
    page = signed_in(cast.teacher).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    title = page.split("<title>")[1].split("</title>")[0]
    assert "O.T." in title
    assert "Tarn" not in title
    addresses = [part.split('"')[0] for part in page.split('href="')[1:]]
    assert addresses
    assert not any("Tarn" in address or "Ola" in address for address in addresses)


def test_services_and_holds_are_edited(cast: Cast) -> None:
    """A change, an addition, a deletion, each back at the student."""
    client = signed_in(cast.teacher)
    line = {
        "statement": "90 min/month",
        "service_type": "direct",
        "setting": "small_group",
        "largest_group": "4",
        "days_apart": "1",
    }
    answer = posted_as_read(client, reverse("service_line_change", args=[cast.line.pk]), line)
    assert answer.redirect_chain[0][0] == reverse("student_detail", args=[cast.student.pk])
    cast.line.refresh_from_db()
    assert (cast.line.minutes_total, cast.line.end) == (90, cast.plan.end)
    hold = {"reason": "lunch", "start": "11:00", "end": "10:30"}
    wrong = client.post(reverse("hold_new", args=[cast.student.pk]), hold)
    assert '<a href="#id_end">' in wrong.content.decode()
    client.post(reverse("hold_new", args=[cast.student.pk]), {**hold, "end": "11:30"})
    row = StudentHold.objects.get()
    client.post(reverse("hold_delete", args=[row.pk]))
    assert not StudentHold.objects.exists()


def routes(cast: Cast) -> list[str]:
    """Every page about the teacher's student."""
    hold = StudentHold.objects.create(student=cast.student, start=dt.time(11), end=dt.time(11, 30))
    rows = {
        "student_detail": cast.student.pk,
        "student_change": cast.student.pk,
        "student_delete": cast.student.pk,
        "plan_new": cast.student.pk,
        "plan_change": cast.plan.pk,
        "plan_delete": cast.plan.pk,
        "service_line_new": cast.plan.pk,
        "service_line_change": cast.line.pk,
        "service_line_delete": cast.line.pk,
        "hold_new": cast.student.pk,
        "hold_change": hold.pk,
        "hold_delete": hold.pk,
    }
    return [reverse(name, args=[pk]) for name, pk in rows.items()]


def test_every_page_about_a_student_opens_for_the_teacher_only(cast: Cast) -> None:
    """404 for the team mate and the stranger, 403 for the office, whatever the method."""
    for address in routes(cast):
        assert signed_in(cast.teacher).get(address).status_code == 200, address
        assert signed_in(cast.coordinator).get(address).status_code == 200, address
        others = (cast.mate, cast.stranger, cast.office)
        assert [signed_in(person).get(address).status_code for person in others] == [404, 404, 403], address
        if address != reverse("student_detail", args=[cast.student.pk]):
            assert [signed_in(person).post(address).status_code for person in others] == [404, 404, 403], address
    assert Student.objects.count() == 2


def test_a_substitute_reads_while_covering_and_changes_nothing(cast: Cast) -> None:
    """The page opens between the two dates, without a way to change anything."""
    today = date_there()
    Substitution.objects.create(
        substitute=cast.substitute,
        teacher=cast.teacher,
        first_date=today - dt.timedelta(days=1),
        last_date=today + dt.timedelta(days=1),
    )
    client = signed_in(cast.substitute)
    page = client.get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "2 x 30 min/week" in page
    assert "/change/" not in page
    assert client.get(reverse("student_change", args=[cast.student.pk])).status_code == 403


def test_versions_of_one_service_are_not_two_services_in_the_list(cast: Cast) -> None:
    """Each says its days, as does what begins later; a service that simply goes on says none."""
    today = today_of(cast.teacher)
    later = today + dt.timedelta(days=40)
    line = cast.line
    ServiceLine.objects.filter(pk=line.pk).update(
        start=today - dt.timedelta(days=40), end=today + dt.timedelta(days=200)
    )
    line.refresh_from_db()
    student = students_listed(viewer=cast.teacher, today=today).get(pk=cast.student.pk)
    assert [(one.line.pk, one.when) for one in services_listed(student, today)] == [(line.pk, "")]
    service_change(actor=cast.teacher, row=line, from_day=later, values={"statement": "1 x 45 min/week"}, seen=None)
    page = signed_in(cast.teacher).get(reverse("student_list")).content.decode()
    eve = later - dt.timedelta(days=1)
    until, since = (
        page.index(words) for words in (f"until {short_date_words(eve)}", f"from {short_date_words(later)}")
    )
    assert page.index(line.statement) < until < page.index("1 x 45 min/week") < since

"""The API of students, plans, service lines, times when a student can't be taken, and classes."""

import datetime as dt
from typing import Any

import pytest

from caseload.plans.models import Plan, ServiceLine, Student
from tests.api import Api
from tests.conftest import Cast
from travel.places.models import Building

pytestmark = pytest.mark.django_db


def test_a_student_is_added_and_changed(cast: Cast) -> None:
    """The caseload is the teacher's own where no teacher is named."""
    api = Api(cast.teacher)
    new: dict[str, Any] = {
        "code": "S03",
        "first_name": "Ida",
        "last_name": "Moss",
        "grade": "2",
        "building": cast.north.pk,
    }
    added = api.post("students/", **new)
    assert added["caseload_teacher"] == cast.teacher.pk
    assert api.patch(f"students/{added['id']}/", grade="3")["grade"] == "3"
    assert Plan.objects.filter(student=added["id"]).count() == 0
    api.delete(f"students/{added['id']}/")
    assert not Student.objects.filter(code="S03").exists()


def test_a_student_without_a_plan_gets_a_provisional_one(cast: Cast) -> None:
    """With a statement: student, provisional plan and line come together; then the plan arrives and ends it."""
    api = Api(cast.teacher)
    added = api.post(
        "students/",
        code="S04",
        first_name="Ida",
        last_name="Moss",
        grade="2",
        building=cast.north.pk,
        first_day="2026-10-05",
        statement="2 x 30 min/week",
    )
    assert "statement" not in added
    (plan,) = api.get("plans/", student=added["id"])["results"]
    assert (plan["status"], plan["start"]) == ("provisional", "2026-10-05")
    (line,) = api.get("service-lines/", student=added["id"])["results"]
    assert (line["times"], line["minutes"], line["provider"]) == (2, 30, cast.teacher.pk)
    api.post("plans/", student=added["id"], status="in_force", start="2026-11-02", end="2027-06-18")
    assert Plan.objects.get(pk=plan["id"]).end == dt.date(2026, 11, 1)


def test_a_statement_belongs_to_a_new_student(cast: Cast) -> None:
    """Later it would be left unread."""
    error = Api(cast.teacher).patch(f"students/{cast.student.pk}/", expect=400, statement="2 x 30 min/week")
    assert error["fields"] == {"statement": ["Change the student's service lines instead."]}


def test_students_of_others_are_not_there(cast: Cast) -> None:
    """Read, changed or deleted: 404 all the same, for a mate's student and for a stranger."""
    for person, student in ((cast.teacher, cast.mates_student), (cast.stranger, cast.student)):
        api, path = Api(person), f"students/{student.pk}/"
        api.get(path, expect=404)
        api.patch(path, expect=404, grade="5")
        api.delete(path, expect=404)
    assert Api(cast.stranger).get("students/")["count"] == 0
    assert Student.objects.count() == 2


def test_an_office_and_a_substitute_may_not(cast: Cast) -> None:
    """The office reads no students at all; a substitute reads what is covered and changes nothing."""
    assert Api(cast.office).get("students/", expect=403)["code"] == "not_for_your_role"
    assert Api(cast.substitute).get("students/")["count"] == 0
    Api(cast.substitute).post("students/", expect=403, code="S05")


def test_a_student_in_no_building_that_can_be_seen(cast: Cast) -> None:
    """A building of another district is no building here."""
    far = Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    error = Api(cast.teacher).patch(f"students/{cast.student.pk}/", expect=400, building=far.pk)
    assert list(error["fields"]) == ["building"]


def test_a_service_line_reads_its_statement(cast: Cast) -> None:
    """The parts of the frequency come from the words; they can't be written."""
    api = Api(cast.teacher)
    line = api.post(
        "service-lines/", plan=cast.plan.pk, statement="90 min/month", setting="small_group", largest_group=4
    )
    assert (line["times"], line["minutes_total"], line["unit"]) == (None, 90, "month")
    assert (line["start"], line["end"]) == ("2026-09-01", "2027-06-18")
    address = f"service-lines/{line['id']}/"
    changed = api.patch(address, statement="1 x 45 min/week", allowed_spaces=[cast.gym.pk], revision=1)
    assert (changed["times"], changed["minutes"], changed["minutes_total"]) == (1, 45, None)
    assert changed["allowed_spaces"] == [cast.gym.pk]
    error = api.patch(address, expect=400, statement="now and then", revision=2)
    assert list(error["fields"]) == ["statement"]
    api.delete(f"service-lines/{line['id']}/")
    assert ServiceLine.objects.count() == 1


def test_a_service_line_of_anothers_plan_is_refused(cast: Cast) -> None:
    """A plan that can't be seen can't be chosen."""
    error = Api(cast.mate).post("service-lines/", expect=400, plan=cast.plan.pk, statement="1 x 30 min/week")
    assert list(error["fields"]) == ["plan"]


def test_times_when_a_student_cannot_be_taken(cast: Cast) -> None:
    """Clock times or a period; an end before the start is refused at its field."""
    api = Api(cast.teacher)
    hold = api.post("holds/", student=cast.student.pk, reason="speech", days="Mon,Wed", start="09:00", end="09:30")
    assert hold["start"] == "09:00:00"
    error = api.patch(f"holds/{hold['id']}/", expect=400, end="08:00")
    assert error["fields"] == {"end": ["The end is before the start."]}
    assert api.get("holds/", student=cast.student.pk)["count"] == 1
    api.delete(f"holds/{hold['id']}/")


def test_classes(cast: Cast) -> None:
    """A self-contained class needs its ratio."""
    api = Api(cast.teacher)
    values: dict[str, Any] = {"building": cast.north.pk, "code": "RM9", "name": "Room 9", "kind": "self_contained"}
    error = api.post("classes/", expect=400, **values)
    assert error["fields"] == {"ratio": ["A self-contained class needs its ratio, such as 8:1:1."]}
    added = api.post("classes/", **values, ratio="8:1:1")
    assert api.get("classes/", building=cast.north.pk)["count"] == 2
    api.delete(f"classes/{added['id']}/")

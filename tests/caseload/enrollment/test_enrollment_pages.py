"""Moving, leaving and programs on pages and through the API: what it changes is shown before it is saved."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from caseload.plans.models import Enrollment, Student, stays_of
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_entry, make_ground
from tests.schedule.log_builders import publish_session

MOVE = MONDAY + dt.timedelta(days=7)


@pytest.fixture
def client(cast: Cast) -> Client:
    """Signed in as the teacher, in a planned district whose South is closed for a day after the move."""
    make_ground(cast)
    make_entry(cast, MOVE + dt.timedelta(days=1), "closed", cast.south)
    return signed_in(cast.teacher)


def moves_to(cast: Cast) -> dict[str, object]:
    """The form's fields."""
    return {"from_day": MOVE.isoformat(), "building": cast.south.pk, "grade": "3", "home_class": ""}


def test_a_move_is_saved_and_taken_back_on_the_students_page(cast: Cast, client: Client) -> None:
    """Effects, if there are any, are shown once; then it is saved, and taken back by one press."""
    address = reverse("student_move", args=[cast.student.pk])
    answer = client.post(address, moves_to(cast))
    if answer.status_code == 200:
        seen = re.search(r'name="effects_seen" value="(\w+)"', answer.content.decode())
        assert seen, "neither saved nor shown what it changes"
        answer = client.post(address, {**moves_to(cast), "effects_seen": seen[1]})
    assert answer.status_code == 302, answer.content.decode()
    assert answer["Location"] == reverse("student_detail", args=[cast.student.pk])
    page = client.get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "from Sep 21, 2026" in page
    assert "to Sep 20, 2026" in page
    row = Enrollment.objects.get(student=cast.student, building=cast.south)
    client.post(reverse("enrollment_take_back", args=[row.pk]))
    assert [stay.building_id for stay in stays_of(Student.objects.get(pk=cast.student.pk))] == [cast.north.pk]


def test_trying_a_move_out_leaves_no_trace(cast: Cast, client: Client) -> None:
    """The API tells what a move would change and saves nothing."""
    api = Api(cast.teacher)
    body = {"student": cast.student.pk, "from_day": MOVE.isoformat(), "building": cast.south.pk}
    assert "effects" in api.post("enrollments/move/effects/", expect=200, **body)
    assert not Enrollment.objects.filter(building=cast.south).exists()
    moved = api.post("enrollments/move/", expect=200, **body)
    assert (moved["building"], moved["first_day"]) == (cast.south.pk, MOVE.isoformat())
    api.delete(f"enrollments/{moved['id']}/")
    left = api.post("enrollments/leave/", expect=200, student=cast.student.pk, last_day=date(4).isoformat())
    assert (left["building"], left["last_day"]) == (cast.north.pk, date(4).isoformat())


def test_what_cannot_be_saved_says_why_at_its_field(cast: Cast, client: Client) -> None:
    """Without a day; and in the school and class where the student is already."""
    address = reverse("student_move", args=[cast.student.pk])
    assert "Fill this in." in client.post(address, {**moves_to(cast), "from_day": ""}).content.decode()
    answer = client.post(address, {**moves_to(cast), "building": cast.north.pk})
    assert answer.status_code == 422
    assert "The student is there already" in answer.content.decode()


@pytest.mark.parametrize("name", ["student_move", "student_leave", "program_new"])
def test_each_form_begins_with_what_holds(cast: Cast, client: Client, name: str) -> None:
    """It can be opened for a student without a history."""
    assert client.get(reverse(name, args=[cast.student.pk])).status_code == 200


def test_leaving_and_programs_tell_what_they_change_and_save_nothing(cast: Cast, client: Client) -> None:
    """With published weeks the minutes after the last day are owed no more; a correction tells the same way."""
    publish_session(MONDAY, [cast.line])
    api = Api(cast.teacher)
    leaving = {"student": cast.student.pk, "last_day": date(4).isoformat()}
    told = api.post("enrollments/leave/effects/", expect=200, **leaving)["effects"]
    assert any("owed 60 \N{RIGHTWARDS ARROW} 0" in one for one in told)
    program: dict[str, Any] = {
        "student": cast.student.pk,
        "building": cast.south.pk,
        "grade": "3",
        "is_program": True,
    }
    api.post("enrollments/effects/", expect=200, first_day=MOVE.isoformat(), **program)
    assert not Enrollment.objects.exclude(building=cast.north).exists()
    made = api.post("enrollments/", first_day=MOVE.isoformat(), **program)
    api.post(f"enrollments/{made['id']}/effects/", expect=200, last_day=MOVE.isoformat())
    assert Enrollment.objects.get(pk=made["id"]).last_day is None
    refused = api.post("enrollments/effects/", expect=400, **{**program, "is_program": False})
    assert "first_day" in refused["fields"]

"""Moving, leaving and programs on pages and through the API: what it changes is shown before it is saved."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.dates import date_words
from caseload.plans.models import Enrollment, Student, stays_of
from caseload.plans.services import caseload_hand_over, service_change, student_leave, student_move
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast, date_there
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


def test_a_student_who_moves_does_not_leave(cast: Cast, client: Client) -> None:
    """The page speaks of leaving only where no school follows; the form begins with that day, not the move's."""
    day = date_there() + dt.timedelta(days=30)
    student_move(actor=cast.teacher, student=cast.student, from_day=day, values={"building": cast.south})
    page = reverse("student_detail", args=[cast.student.pk])
    leave = reverse("student_leave", args=[cast.student.pk])
    assert "The student leaves" in client.get(page).content.decode()
    assert "Leaves after" not in client.get(page).content.decode()
    assert 'value="20' not in client.get(leave).content.decode()
    last = day + dt.timedelta(days=40)
    student_leave(actor=cast.teacher, student=cast.student, last_day=last)
    told = client.get(page).content.decode()
    assert f"Leaves after {date_words(last)}" in told
    assert "Change the last day" in told
    assert f'value="{last.isoformat()}"' in client.get(leave).content.decode()


def test_terms_of_a_later_day_are_changed_beside_them(cast: Cast, client: Client) -> None:
    """The form shows one version's terms: on a day of another it says which holds, and where to change that."""
    service_change(
        actor=cast.teacher,
        row=cast.line,
        from_day=MOVE,
        values={"statement": "4 x 30 min/week"},
        seen=None,
    )
    later = cast.line.service.versions.get(start=MOVE)
    page = client.get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert reverse("service_change", args=[later.pk]) in page
    fields = {"statement": "5 x 30 min/week", "setting": later.setting, "largest_group": 1, "days_apart": 1}
    day = (MOVE + dt.timedelta(days=14)).isoformat()
    answer = client.post(reverse("service_change", args=[cast.line.pk]), {**fields, "from_day": day})
    assert answer.status_code == 422
    assert "On that day “4 x 30 min/week” holds" in answer.content.decode()
    assert "ends before it begins" not in answer.content.decode()
    answer = client.post(reverse("service_change", args=[later.pk]), {**fields, "from_day": day})
    assert answer.status_code in {200, 302}, answer.content.decode()


def test_the_last_change_says_who_gives_the_service_now(cast: Cast, client: Client) -> None:
    """A hand-over changes nothing else: without the names both halves would read the same."""
    caseload_hand_over(
        actor=cast.coordinator, giver=cast.teacher, receiver=cast.mate, students=[cast.student], from_day=MOVE
    )
    page = signed_in(cast.coordinator).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    told = page[page.index("Last change") :]
    assert f"with {cast.mate}" in told
    assert f"with {cast.teacher}" in told


def test_students_are_checked_one_by_one_to_hand_over(cast: Cast) -> None:
    """No list in which a second click loses the first; only of the teacher who hands over."""
    client, address = signed_in(cast.coordinator), reverse("caseload_hand_over")

    def box(student: Student) -> str:
        return f'type="checkbox" name="students" value="{student.pk}"'

    page = client.get(address).content.decode()
    assert 'hx-get="' + address in page
    assert box(cast.student) not in page
    for asked in ({"giver": cast.teacher.pk}, {"teacher": cast.teacher.pk}):
        page = client.get(address, asked).content.decode()
        assert box(cast.student) in page
        assert box(cast.mates_student) not in page
    for nobody in ("x", cast.stranger.pk, 0):
        assert 'name="students"' not in client.get(address, {"giver": nobody}).content.decode()


def test_who_is_on_the_caseload_on_the_first_day_can_be_chosen(cast: Cast) -> None:
    """Today's caseload isn't that of every day."""
    caseload_hand_over(
        actor=cast.coordinator, giver=cast.teacher, receiver=cast.mate, students=[cast.student], from_day=MOVE
    )
    values = {
        "giver": cast.mate.pk, "teacher": cast.teacher.pk, "first_day": MOVE.isoformat(),
        "students": [cast.student.pk],
    }  # fmt: skip
    page = signed_in(cast.coordinator).post(reverse("caseload_hand_over"), values).content.decode()
    assert f"with {cast.teacher}" in page
    assert "not one of the available choices" not in page

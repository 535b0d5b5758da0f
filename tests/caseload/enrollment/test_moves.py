"""Moving, leaving, coming back, programs elsewhere, and the caseload from a day on. Dates and people are invented.

A student's past keeps what held then: no published source says how a program keeps records; common practice.
"""

import datetime as dt
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from caseload.delivery.models import DeliveryEntry
from caseload.plans.enrollment.selectors import (
    caseload_teachers_on,
    stays_by_student,
    students_at,
    students_on_caseload,
    students_shown_late,
)
from caseload.plans.models import Enrollment, SchoolClass, Student, enrollment_on, stays_of
from caseload.plans.services import enrollments as services
from caseload.plans.services import service_change, service_line_save, student_save, students
from jobs.registry import ask_for_regular_work
from tests.conftest import Cast

ONE_DAY = dt.timedelta(days=1)
MOVE = dt.date(2026, 12, 7)


@pytest.fixture(autouse=True)
def today(monkeypatch: pytest.MonkeyPatch) -> list[dt.date]:
    """What day it is: November 30, until a test turns it."""
    days = [dt.date(2026, 11, 30)]
    for module in (services, students):
        monkeypatch.setattr(module, "today_of", lambda person: days[0])
    monkeypatch.setattr(services, "today_in", lambda district: days[0])
    return days


def where(student: Student, day: dt.date) -> Any:
    """Building and class on a date, read anew."""
    row = enrollment_on(Student.objects.get(pk=student.pk), day)
    return (row.building, row.home_class) if row else None


def log_on(cast: Cast, day: dt.date) -> DeliveryEntry:
    """A logged session."""
    return DeliveryEntry.objects.create(
        client_id=uuid4(),
        service_line=cast.line,
        student=cast.student,
        date=day,
        planned_minutes=30,
        setting=cast.line.setting,
    )


def move(cast: Cast, **values: Any) -> Enrollment:
    """To South on December 7 unless the values say otherwise."""
    return services.student_move(
        actor=cast.teacher, student=cast.student, from_day=MOVE, values={"building": cast.south, **values}
    )


def test_a_move_holds_from_its_day_and_leaves_the_days_before(cast: Cast) -> None:
    """The class of the old school stays behind; today the record still shows North."""
    student_save(actor=cast.teacher, row=cast.student, values={"home_class": cast.room4})
    move(cast)
    assert where(cast.student, MOVE - ONE_DAY) == (cast.north, cast.room4)
    assert where(cast.student, MOVE) == (cast.south, None)
    cast.student.refresh_from_db()
    assert (cast.student.building, cast.student.last_day) == (cast.north, MOVE - ONE_DAY)


def test_the_record_shows_the_move_once_its_day_has_come(cast: Cast, today: list[dt.date]) -> None:
    """Nobody has to press anything; who sees the student in a list sees the school of the day."""
    move(cast)
    assert list(students_shown_late(cast.district, MOVE - ONE_DAY)) == []
    today[0] = MOVE
    ask_for_regular_work()
    assert list(students_shown_late(cast.district, MOVE)) == []
    cast.student.refresh_from_db()
    assert (cast.student.building, cast.student.first_day, cast.student.last_day) == (cast.south, MOVE, None)


def test_a_move_is_taken_back_in_one_press(cast: Cast) -> None:
    """As if it had never been entered."""
    before = stays_of(cast.student)
    services.enrollment_take_back(actor=cast.teacher, row=move(cast))
    assert stays_of(Student.objects.get(pk=cast.student.pk)) == before
    only = Enrollment.objects.get(student=cast.student)
    with pytest.raises(ApplicationError, match="only school"):
        services.enrollment_take_back(actor=cast.teacher, row=only)


def test_a_move_between_two_others_ends_where_the_next_begins(cast: Cast) -> None:
    """North, South from December 7, North again from February 1; then South ends on January 10."""
    back = dt.date(2027, 2, 1)
    move(cast)
    services.student_move(actor=cast.teacher, student=cast.student, from_day=back, values={"building": cast.north})
    services.student_move(
        actor=cast.teacher,
        student=cast.student,
        from_day=dt.date(2027, 1, 11),
        values={"building": cast.north, "home_class": cast.room4},
    )
    days = (MOVE, dt.date(2027, 1, 10), dt.date(2027, 1, 11), back - ONE_DAY, back)
    assert [where(cast.student, day) for day in days] == [
        (cast.south, None),
        (cast.south, None),
        (cast.north, cast.room4),
        (cast.north, cast.room4),
        (cast.north, None),
    ]


def test_nothing_to_move_is_said(cast: Cast) -> None:
    """The school that the student is at already."""
    with pytest.raises(ValidationError, match="already"):
        move(cast, building=cast.north)


def test_a_first_day_never_wipes_what_was_logged(cast: Cast) -> None:
    """Tried as a user would: the first day at this school set to December 7, with 60 minutes delivered before."""
    log_on(cast, dt.date(2026, 9, 15))
    with pytest.raises(ValidationError) as caught:
        student_save(actor=cast.teacher, row=cast.student, values={"first_day": MOVE})
    assert "1 day has logged sessions" in caught.value.message_dict["first_day"][0]
    assert stays_of(Student.objects.get(pk=cast.student.pk))[0].first is None
    student_save(actor=cast.teacher, row=cast.student, values={"building": cast.south, "first_day": MOVE})
    assert where(cast.student, dt.date(2026, 9, 15)) == (cast.north, None)
    assert where(cast.student, MOVE) == (cast.south, None)


def test_another_building_needs_a_day(cast: Cast) -> None:
    """A question, not a guess; class and grade alone change from today on."""
    with pytest.raises(ValidationError) as caught:
        student_save(actor=cast.teacher, row=cast.student, values={"building": cast.south})
    assert "From which day" in caught.value.message_dict["from_day"][0]
    student_save(actor=cast.teacher, row=cast.student, values={"grade": "4"})
    grades = [enrollment_on(cast.student, day) for day in (dt.date(2026, 11, 29), dt.date(2026, 11, 30))]
    assert [row.grade for row in grades if row] == ["3", "4"]


def test_who_leaves_is_nowhere_afterward_and_may_stay_after_all(cast: Cast) -> None:
    """A program elsewhere ends with it; a session logged after that day keeps it from being the last."""
    services.enrollment_save(
        actor=cast.teacher,
        row=Enrollment(student=cast.student, is_program=True),
        values={"building": cast.south, "grade": "3", "first_day": dt.date(2026, 10, 1)},
    )
    last = dt.date(2026, 12, 11)
    services.student_leave(actor=cast.teacher, student=cast.student, last_day=last)
    assert [where(cast.student, day) is None for day in (last, last + ONE_DAY)] == [False, True]
    services.student_leave(actor=cast.teacher, student=cast.student, last_day=None)
    assert where(cast.student, last + ONE_DAY) == (cast.north, None)
    log_on(cast, last + ONE_DAY)
    with pytest.raises(ValidationError, match="1 day has logged"):
        services.student_leave(actor=cast.teacher, student=cast.student, last_day=last)


@pytest.mark.parametrize("own_end", [None, dt.date(2027, 1, 29), dt.date(2026, 11, 6)])
def test_a_program_that_leaving_ended_goes_on_if_the_student_stays(cast: Cast, own_end: dt.date | None) -> None:
    """To its own end, whatever last days were entered in between; one that had ended by itself stays ended."""
    program = services.enrollment_save(
        actor=cast.teacher,
        row=Enrollment(student=cast.student, is_program=True),
        values={"building": cast.south, "grade": "3", "first_day": dt.date(2026, 10, 1), "last_day": own_end},
    )

    def leaves(last: dt.date | None) -> dt.date | None:
        services.student_leave(actor=cast.teacher, student=cast.student, last_day=last)
        program.refresh_from_db()
        return program.last_day

    early, late = dt.date(2026, 12, 11), dt.date(2027, 3, 5)
    for last in (early, late, early, None, early):
        assert leaves(last) == min((day for day in (last, own_end) if day is not None), default=None)
    corrected = dt.date(2026, 11, 4)
    services.enrollment_save(actor=cast.teacher, row=program, values={"last_day": corrected})
    assert leaves(None) == corrected


def test_two_schools_at_once_are_refused_and_a_program_is_not(cast: Cast) -> None:
    """What the plan names beside the school is entered as a program; a service can name it then."""
    values = {"building": cast.south, "grade": "3", "first_day": MOVE}
    with pytest.raises(ValidationError, match="entered as a program"):
        services.enrollment_save(actor=cast.teacher, row=Enrollment(student=cast.student), values=values)
    with pytest.raises(ValidationError, match="isn't enrolled in this building"):
        service_line_save(actor=cast.teacher, row=cast.line, values={"building": cast.south})
    services.enrollment_save(
        actor=cast.teacher, row=Enrollment(student=cast.student, is_program=True), values=values
    )
    service_line_save(actor=cast.teacher, row=cast.line, values={"building": cast.south})
    assert where(cast.student, MOVE) == (cast.north, None)


def test_a_program_counts_where_it_names(cast: Cast) -> None:
    """And only while it lasts."""
    program = {"building": cast.south, "grade": "3", "first_day": MOVE, "last_day": MOVE}
    services.enrollment_save(
        actor=cast.teacher, row=Enrollment(student=cast.student, is_program=True), values=program
    )
    student = Student.objects.get(pk=cast.student.pk)
    found = [enrollment_on(student, day, cast.south.pk) for day in (MOVE - ONE_DAY, MOVE, MOVE + ONE_DAY)]
    assert [row.building for row in found if row] == [cast.north, cast.south, cast.north]


def test_a_class_of_another_building_is_refused(cast: Cast) -> None:
    """Room 4 is in North."""
    with pytest.raises(ValidationError) as caught:
        move(cast, home_class=cast.room4)
    assert "another building" in caught.value.message_dict["home_class"][0]
    assert where(cast.student, MOVE) == (cast.north, None)


def test_a_caseload_changes_from_a_day_on(cast: Cast) -> None:
    """October stays the teacher's whose October it was; both see the student."""
    services.student_enroll(student=cast.student)
    with pytest.raises(ApplicationError) as caught:
        services.caseload_assign(actor=cast.teacher, student=cast.student, teacher=cast.mate, from_day=MOVE)
    assert caught.value.status == 404
    made = services.caseload_assign(actor=cast.coordinator, student=cast.student, teacher=cast.mate, from_day=MOVE)
    asked = (MOVE - ONE_DAY, MOVE)
    assert [caseload_teachers_on([cast.student.pk], day) for day in asked] == [
        {cast.student.pk: cast.teacher.pk},
        {cast.student.pk: cast.mate.pk},
    ]
    assert list(students_on_caseload(cast.mate, MOVE)) == [cast.student]
    assert list(students_on_caseload(cast.teacher, MOVE)) == []
    for person in (cast.teacher, cast.mate):
        assert Student.objects.visible_to(person).filter(pk=cast.student.pk).exists()
    services.assignment_take_back(actor=cast.coordinator, row=made)
    assert caseload_teachers_on([cast.student.pk], MOVE) == {cast.student.pk: cast.teacher.pk}


def test_a_caseload_belongs_to_a_teacher(cast: Cast) -> None:
    """Not to an office."""
    with pytest.raises(ValidationError, match="isn't a teacher"):
        services.caseload_assign(actor=cast.coordinator, student=cast.student, teacher=cast.office, from_day=MOVE)


def test_others_students_are_not_there(cast: Cast) -> None:
    """Neither to move nor to leave."""
    for actor in (cast.stranger, cast.mate):
        with pytest.raises(ApplicationError) as caught:
            services.student_leave(actor=actor, student=cast.student, last_day=MOVE)
        assert caught.value.status == 404
    with pytest.raises(ApplicationError) as refused:
        services.student_leave(actor=cast.office, student=cast.student, last_day=MOVE)
    assert refused.value.status == 403


def test_many_students_are_one_query(cast: Cast, django_assert_num_queries: Any) -> None:
    """However many they are; and a building's students on any day of a stretch."""
    move(cast)
    services.student_enroll(student=cast.mates_student)
    with django_assert_num_queries(1):
        stays = stays_by_student([cast.student.pk, cast.mates_student.pk])
    assert [stay.building_id for stay in stays[cast.student.pk]] == [cast.north.pk, cast.south.pk]

    def at_south(first: dt.date, last: dt.date) -> set[str]:
        rows = Student.objects.filter(students_at(cast.south.pk, first, last))
        return set(rows.values_list("code", flat=True))

    assert at_south(MOVE - ONE_DAY, MOVE - ONE_DAY) == {"S02"}
    assert at_south(MOVE - ONE_DAY, MOVE) == {"S01", "S02"}


def test_a_service_pushed_into_a_class_goes_on_in_the_new_one(cast: Cast) -> None:
    """From the day of the move, as the same service; without a class at the new school that is asked for."""
    room9 = SchoolClass.objects.create(building=cast.south, code="RM9", name="Room 9")
    pushed = {"setting": "push_in", "pushed_into": cast.room4, "largest_group": 3}
    service_line_save(actor=cast.teacher, row=cast.line, values=pushed)
    with pytest.raises(ValidationError, match="Choose the class at the new school"):
        move(cast)
    moved = move(cast, home_class=room9)
    versions = cast.line.service.versions.order_by("start").values_list("pushed_into__code", "start", "end")
    assert list(versions) == [
        ("RM4", dt.date(2026, 9, 1), MOVE - ONE_DAY),
        ("RM9", MOVE, dt.date(2027, 6, 18)),
    ]
    services.enrollment_take_back(actor=cast.teacher, row=moved)
    assert list(versions.all()) == [("RM4", dt.date(2026, 9, 1), dt.date(2027, 6, 18))]


def test_taking_a_move_back_leaves_other_changes_of_that_day(cast: Cast) -> None:
    """Three sessions from the day of the move are the plan's, not the move's; spaces of the old school are."""
    service_line_save(actor=cast.teacher, row=cast.line, values={"allowed_spaces": [cast.gym]})
    moved = move(cast)
    line = cast.line.service.versions.get(start=MOVE)
    assert list(line.allowed_spaces.all()) == []
    values = {"statement": "3 x 30 min/week"}
    service_change(actor=cast.teacher, row=line, from_day=MOVE, values=values, seen=None)
    services.enrollment_take_back(actor=cast.teacher, row=moved)
    said = cast.line.service.versions.order_by("start").values_list("statement", flat=True)
    assert list(said) == ["2 x 30 min/week", "3 x 30 min/week"]

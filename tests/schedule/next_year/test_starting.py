"""Starting the coming year: dated records from its first day on, nothing before; and back whole."""

import datetime as dt
import json
from typing import Any

import pytest
from django.core import serializers
from django.core.exceptions import ValidationError
from django.db import connection

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.models import DeliveryEntry
from caseload.plans.models import Enrollment, Plan, SchoolClass, ServiceLine, Student, enrollment_on
from caseload.plans.services import student_move
from schedule.calendar.models import BellSchedule, CalendarEntry, MarkingPeriod, SchoolYear
from schedule.next_year.models import NextYear, NextYearClass, NextYearDay, NextYearStudent
from schedule.next_year.selectors.standing import YearStanding
from schedule.next_year.services.drafting import next_day_save, next_year_save
from schedule.next_year.services.starting import (
    next_year_classes_write,
    next_year_foreseen,
    next_year_start,
    next_years_come,
)
from schedule.next_year.services.taking_back import next_year_take_back
from tests.conftest import Cast, date_there
from tests.schedule.log_builders import log_line
from tests.schedule.next_year.ground import EVE, FIRST, LAST, SPRING, begin, make_spring, say_all

RECORDS = (Enrollment, Student, Plan, ServiceLine, SchoolYear, MarkingPeriod, CalendarEntry, SchoolClass)


@pytest.fixture
def lines(cast: Cast) -> dict[str, ServiceLine]:
    """The district in spring."""
    return make_spring(cast)


@pytest.fixture
def row(cast: Cast, lines: dict[str, ServiceLine]) -> NextYear:
    """A draft in which everything that it needs is said."""
    draft = begin(cast)
    say_all(cast, draft, lines)
    draft.days.update(answer="kept")
    return draft


def start(cast: Cast, row: NextYear) -> NextYear:
    """Started in spring."""
    return next_year_start(actor=cast.coordinator, row=row, now=SPRING)


def placed(day: dt.date) -> dict[str, tuple[str, str] | None]:
    """Building and grade of each student on a day, by code."""
    found = {}
    for student in Student.objects.filter(district__name="Marrow Vale County"):
        held = enrollment_on(student, day)
        found[student.code] = (held.building.code, held.grade) if held is not None else None
    return found


def kept() -> str:
    """All records that starting could touch."""
    return str(serializers.serialize("json", [one for model in RECORDS for one in model.objects.order_by("pk")]))


BEFORE = {
    "S01": ("NORTH", "3"),
    "S02": ("SOUTH", "3"),
    "T3": ("NORTH", "3"),
    "T5": ("NORTH", "5"),
    "T8": ("SOUTH", "8"),
    "T12": ("HIGH", "12"),
}


def test_from_the_first_day_on_everybody_is_where_the_draft_says(cast: Cast, row: NextYear) -> None:
    start(cast, row)
    assert placed(EVE) == BEFORE
    assert placed(FIRST) == {
        "S01": ("NORTH", "4"),
        "S02": ("SOUTH", "4"),
        "T3": ("NORTH", "4"),
        "T5": ("SOUTH", "6"),
        "T8": ("SOUTH", "8"),
        "T12": None,
    }
    year = SchoolYear.objects.get(first_day=FIRST)
    assert (year.name, year.last_day, year.marking_periods.count()) == ("2027-28", LAST, 2)
    assert CalendarEntry.objects.get(first_date__gte=FIRST).title == "Thanksgiving"
    assert AuditEntry.objects.filter(action="next_year_start").count() == 1


def test_the_record_shows_this_year_until_the_first_day(cast: Cast, row: NextYear) -> None:
    """The tests' clock is before the first day: a student's own record shows what holds today."""
    start(cast, row)
    assert set(Student.objects.filter(code__startswith="T").values_list("code", "grade")) == {
        ("T3", "3"), ("T5", "5"), ("T8", "8"), ("T12", "12"),
    }  # fmt: skip


def test_a_class_that_goes_on_for_the_grade_keeps_its_student(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    start(cast, row)
    held = enrollment_on(Student.objects.get(code="T3"), FIRST)
    assert held is not None
    assert str(held.home_class) == "Room 5"


def test_it_is_taken_back_whole(cast: Cast, row: NextYear) -> None:
    """Every record is as it was, the draft is there again, and it can be started again."""
    for student in Student.objects.filter(district=cast.district):
        Enrollment.objects.create(
            student=student, building=student.building, grade=student.grade, home_class=student.home_class
        )
    before = kept()
    started = start(cast, row)
    next_year_take_back(actor=cast.coordinator, row=started)
    assert json.loads(kept()) == json.loads(before)
    draft = NextYear.objects.get(pk=row.pk)
    assert not draft.is_started
    assert draft.students.count() == 2
    assert start(cast, draft).is_started


def test_it_is_shown_first_and_nothing_is_saved_by_that(cast: Cast, row: NextYear) -> None:
    before = kept()
    told = next_year_foreseen(actor=cast.coordinator, row=row, now=SPRING)
    assert kept() == before
    going = {(one.of.code, one.to.code): one.students for one in told.going}
    assert going == {("NORTH", "NORTH"): 2, ("NORTH", "SOUTH"): 1, ("SOUTH", "SOUTH"): 2}
    assert (told.leaving, told.periods, told.days, told.refused) == (1, 2, 1, "")
    start(cast, row)
    changed = {code for code, place in placed(FIRST).items() if place != BEFORE[code]}
    assert changed == set(BEFORE) - {"T8"}, "T8 has the same grade again"


def test_it_is_not_started_while_somebody_has_nowhere_to_go(cast: Cast, lines: dict[str, ServiceLine]) -> None:
    draft = begin(cast)
    before = kept()
    with pytest.raises(ApplicationError, match="Of 3 students it isn't said") as caught:
        start(cast, draft)
    assert caught.value.code == "not_ready"
    assert kept() == before


def test_a_school_year_that_is_entered_already_is_used_or_in_the_way(cast: Cast, row: NextYear) -> None:
    other = SchoolYear.objects.create(
        district=cast.district, name="27", first_day=FIRST, last_day=LAST - dt.timedelta(days=1)
    )
    with pytest.raises(ApplicationError, match="has the year 27 from"):
        start(cast, row)
    SchoolYear.objects.filter(pk=other.pk).update(last_day=LAST)
    started = start(cast, row)
    assert SchoolYear.objects.filter(first_day=FIRST).count() == 1
    next_year_take_back(actor=cast.coordinator, row=started)
    assert SchoolYear.objects.filter(pk=other.pk).exists()


def test_who_moved_by_hand_already_is_left_alone(cast: Cast, row: NextYear, lines: dict[str, ServiceLine]) -> None:
    student = lines["third"].plan.student
    day = FIRST + dt.timedelta(days=7)
    student_move(
        actor=cast.coordinator, student=student, from_day=day, values={"building": cast.south, "grade": "4"}
    )
    assert next(one for one in YearStanding(cast.coordinator, row).students if one.student == student).entered
    start(cast, row)
    assert placed(day)["T3"] == ("SOUTH", "4")
    assert placed(FIRST)["T3"] == ("NORTH", "3")


def test_all_or_nothing_where_one_cannot_go_over(cast: Cast, row: NextYear, lines: dict[str, ServiceLine]) -> None:
    """A service that is pushed into a class needs one at the new school."""
    line = lines["fifth"]
    Plan.objects.filter(pk=line.plan_id).update(end=LAST)
    ServiceLine.objects.filter(pk=line.pk).update(setting="push_in", pushed_into=cast.room4, end=LAST)
    before = kept()
    with pytest.raises(ValidationError) as caught:
        start(cast, row)
    assert list(caught.value.message_dict) == [f"student.{line.plan.student_id}"]
    assert kept() == before
    room = SchoolClass.objects.create(building=cast.south, code="M1", name="Room M1")
    student = line.plan.student
    NextYearStudent.objects.create(next_year=row, student=student, home_class=room)
    start(cast, row)
    assert ServiceLine.objects.get(plan__student=student, start=FIRST).pushed_into == room


def test_once_a_session_of_it_is_logged_it_stays(cast: Cast, row: NextYear, lines: dict[str, ServiceLine]) -> None:
    started = start(cast, row)
    Plan.objects.filter(pk=cast.plan.pk).update(end=LAST)
    ServiceLine.objects.filter(pk=cast.line.pk).update(end=LAST)
    log_line(cast, FIRST)
    assert DeliveryEntry.objects.filter(date=FIRST).exists()
    with pytest.raises(ApplicationError) as caught:
        next_year_take_back(actor=cast.coordinator, row=started)
    assert caught.value.code == "logged"
    assert placed(FIRST)["T5"] == ("SOUTH", "6")


def test_what_was_changed_since_is_not_taken_back(cast: Cast, row: NextYear) -> None:
    started = start(cast, row)
    Enrollment.objects.filter(student__code="T5", first_day=FIRST).update(grade="7")
    before = kept()
    with pytest.raises(ApplicationError) as caught:
        next_year_take_back(actor=cast.coordinator, row=started)
    assert caught.value.code == "changed_since"
    assert kept() == before


@pytest.mark.parametrize("what", ["day", "period", "class"])
def test_what_was_changed_by_hand_in_calendar_and_classes_is_not_lost(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine], what: str
) -> None:
    room = SchoolClass.objects.get(code="RM5")
    NextYearClass.objects.create(next_year=row, school_class=room, grades="4,5", class_teacher="Mr. Lindqvist")
    started = start(cast, row)
    next_year_classes_write(district=cast.district, now=dt.datetime.combine(FIRST, dt.time(16, tzinfo=dt.UTC)))
    if what == "day":
        CalendarEntry.objects.filter(first_date__gte=FIRST).update(last_date=dt.date(2027, 11, 30))
    elif what == "period":
        MarkingPeriod.objects.filter(first_day=FIRST).update(name="Fall")
    else:
        SchoolClass.objects.filter(pk=room.pk).update(class_teacher="Ms. Thistlewood")
    before = kept()
    with pytest.raises(ApplicationError) as caught:
        next_year_take_back(actor=cast.coordinator, row=started)
    assert caught.value.code == "changed_since"
    assert kept() == before


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"first_day": FIRST + dt.timedelta(days=7)}, "The marking period 1 runs from"),
        ({"last_day": LAST - dt.timedelta(days=7)}, "The marking period 2 runs from"),
        ({"name": "2026-27"}, "another year 2026-27"),
    ],
)
def test_a_year_that_does_not_fit_its_calendar_is_not_started(
    cast: Cast, row: NextYear, values: dict[str, object], said: str
) -> None:
    next_year_save(actor=cast.coordinator, row=row, values=values)
    assert said in next_year_foreseen(actor=cast.coordinator, row=row, now=SPRING).refused
    with pytest.raises(ApplicationError, match=said) as caught:
        start(cast, row)
    assert caught.value.code == "not_ready"


def test_regular_work_writes_classes_of_a_year_whose_first_day_is_here(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    room = SchoolClass.objects.get(code="RM5")
    NextYearClass.objects.create(next_year=row, school_class=room, grades="4,5", class_teacher="Mr. Lindqvist")
    start(cast, row)
    next_years_come()
    room.refresh_from_db()
    assert room.class_teacher == "Ms. Oake", "the tests' clock is before the first day"
    today = date_there()
    NextYear.objects.filter(pk=row.pk).update(first_day=today)
    next_years_come()
    room.refresh_from_db()
    assert (room.grades, room.class_teacher) == ("4,5", "Mr. Lindqvist")


def test_a_class_gets_its_grades_and_teacher_on_the_first_day_and_not_before(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    room = lines["third"].plan.student.home_class
    assert room is not None
    NextYearClass.objects.create(next_year=row, school_class=room, grades="4,5", class_teacher="Mr. Lindqvist")
    started = start(cast, row)
    noon = dt.time(12, tzinfo=dt.UTC)
    next_year_classes_write(district=cast.district, now=dt.datetime.combine(EVE, noon))
    room.refresh_from_db()
    assert (room.grades, room.class_teacher) == ("3,4", "Ms. Oake")
    next_year_classes_write(district=cast.district, now=dt.datetime.combine(FIRST, noon))
    room.refresh_from_db()
    assert (room.grades, room.class_teacher) == ("4,5", "Mr. Lindqvist")
    next_year_take_back(actor=cast.coordinator, row=started)
    room.refresh_from_db()
    assert (room.grades, room.class_teacher) == ("3,4", "Ms. Oake")


def test_a_year_that_is_taken_back_meanwhile_writes_no_class(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    """Regular work has found the year when a coordinator takes it back: it looks again before it writes."""
    room = SchoolClass.objects.get(code="RM5")
    NextYearClass.objects.create(next_year=row, school_class=room, grades="4,5", class_teacher="Mr. Lindqvist")
    start(cast, row)
    done: list[str] = []

    def taken_back(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        found = execute(sql, params, many, context)
        if "schedule_nextyear" in sql and not done:
            done.append(sql)
            NextYear.objects.filter(pk=row.pk).update(started_at=None, written={})
        return found

    with connection.execute_wrapper(taken_back):
        next_year_classes_write(district=cast.district, now=dt.datetime.combine(FIRST, dt.time(16, tzinfo=dt.UTC)))
    assert done
    room.refresh_from_db()
    assert room.class_teacher == "Ms. Oake"


def test_students_who_were_erased_since_do_not_keep_a_year_from_being_taken_back(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    """One who moves and one who leaves: what the rules for keeping records erase is gone with its enrollments."""
    started = start(cast, row)
    for name in ("fifth", "twelfth"):
        student = lines[name].plan.student
        student.plans.all().delete()
        student.delete()
    next_year_take_back(actor=cast.coordinator, row=started)
    assert placed(FIRST)["T3"] == ("NORTH", "3")
    assert not NextYear.objects.get(pk=row.pk).is_started


def test_an_early_dismissal_keeps_its_bells_and_its_time(cast: Cast, lines: dict[str, ServiceLine]) -> None:
    """Common practice, no source: the last day before a break has its own short bells, or ends at noon."""
    short = BellSchedule.objects.create(building=cast.north, name="Short", kind=BellSchedule.Kind.EARLY_DISMISSAL)
    day = dt.date(2026, 12, 18)
    same = {"district": cast.district, "kind": "early_dismissal", "first_date": day, "last_date": day}
    CalendarEntry.objects.create(building=cast.north, bell_schedule=short, **same)
    CalendarEntry.objects.create(building=cast.south, closes_at=dt.time(12), **same)
    draft = begin(cast)
    say_all(cast, draft, lines)
    draft.days.update(answer="kept")
    started = start(cast, draft)
    later = CalendarEntry.objects.filter(kind="early_dismissal", first_date__gte=FIRST).order_by("building__code")
    assert [(one.building, one.bell_schedule, one.closes_at) for one in later] == [
        (cast.north, short, None),
        (cast.south, None, dt.time(12)),
    ]
    later.filter(building=cast.south).update(closes_at=dt.time(13))
    with pytest.raises(ApplicationError, match=r"The special day .* was changed since"):
        next_year_take_back(actor=cast.coordinator, row=started)
    later.filter(building=cast.south).update(closes_at=dt.time(12))
    next_year_take_back(actor=cast.coordinator, row=started)


def test_a_day_whose_bells_are_gone_is_said_before_starting(cast: Cast, row: NextYear) -> None:
    bells = BellSchedule.objects.create(building=cast.north, name="Testing", kind=BellSchedule.Kind.OTHER)
    day = NextYearDay(next_year=row, kind="other_bell", building=cast.north, first_date=FIRST, last_date=FIRST)
    with pytest.raises(ValidationError, match="Choose the bell schedule"):
        next_day_save(actor=cast.coordinator, row=day, values={})
    next_day_save(actor=cast.coordinator, row=day, values={"bell_schedule": bells})
    assert next_year_foreseen(actor=cast.coordinator, row=row, now=SPRING).refused == ""
    bells.delete()
    assert (
        "has another bell schedule, and none is chosen"
        in next_year_foreseen(actor=cast.coordinator, row=row, now=SPRING).refused
    )


def test_only_a_coordinator_starts_it(cast: Cast, row: NextYear) -> None:
    for act in (next_year_start, next_year_take_back, next_year_foreseen):
        with pytest.raises(ApplicationError) as caught:
            act(actor=cast.teacher, row=row)
        assert caught.value.status == 403

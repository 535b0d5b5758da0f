"""A week is planned where each student is on each of its dates. Common practice, no source."""

import datetime as dt
from typing import Any

import pytest

from caseload.plans.models import Enrollment
from caseload.plans.services import service_line_save
from caseload.plans.services.enrollments import enrollment_save, student_leave, student_move
from schedule.planner.problem import Problem
from schedule.weeks.planning.load import load_week
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_entry, make_ground, make_line
from travel.drives.models import OwnDriveTime
from travel.drives.services import own_drive_time_save

WEEK = dt.timedelta(days=7)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two schools, ten minutes apart; S01 owes 2 x 30 a week."""
    make_ground(cast)
    own_drive_time_save(
        actor=cast.teacher,
        row=OwnDriveTime(district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south),
        values={"minutes": 10},
    )
    return cast


def move(cast: Cast, day: dt.date, **values: Any) -> None:
    """S01 to South."""
    student_move(actor=cast.teacher, student=cast.student, from_day=day, values={"building": cast.south, **values})


def places(problem: Problem, unit: str) -> dict[str, set[str]]:
    """Where a unit may be held, by date."""
    found: dict[str, set[str]] = {}
    for start in problem.unit(unit).starts:
        found.setdefault(start.day, set()).add(start.place)
    return found


def test_each_day_of_a_week_is_planned_at_the_school_of_the_day(ground: Cast) -> None:
    """North until Tuesday, South from Wednesday; the week before and the week after know one school each."""
    move(ground, date(2))
    unit = f"line-{ground.line.pk}"
    found = places(load_week(ground.teacher, MONDAY).problem, unit)
    assert found == {date(offset).isoformat(): {"NORTH" if offset < 2 else "SOUTH"} for offset in range(5)}
    for monday, place in ((MONDAY - WEEK, "NORTH"), (MONDAY + WEEK, "SOUTH")):
        week = load_week(ground.teacher, monday)
        assert set.union(*places(week.problem, unit).values()) == {place}
        assert [one.id for one in week.problem.places] == [place]


def test_what_a_week_owes_counts_the_days_of_both_schools(ground: Cast) -> None:
    """North closes after the move, South before it: the student misses no day, so nothing of 2 x 30 is lost."""
    move(ground, date(2))
    make_entry(ground, date(3), "closed", ground.north)
    make_entry(ground, date(0), "closed", ground.south)
    week = load_week(ground.teacher, MONDAY)
    assert week.lines[ground.line.pk].owed.sessions == 2
    assert len(places(week.problem, f"line-{ground.line.pk}")) == 5


def test_a_group_is_joined_where_its_students_are(ground: Cast) -> None:
    """Two small-group services of North; one student moves: they are no group any more."""
    other = make_line(ground, "S11")
    service_line_save(
        actor=ground.teacher, row=ground.line, values={"setting": "small_group", "statement": "1 x 30 min/week"}
    )
    service_line_save(actor=ground.teacher, row=ground.line, values={"largest_group": 4})
    assert len(load_week(ground.teacher, MONDAY).problem.groups) == 1
    move(ground, MONDAY)
    week = load_week(ground.teacher, MONDAY)
    assert week.problem.groups == ()
    assert set.union(*places(week.problem, f"line-{other.pk}").values()) == {"NORTH"}


def test_a_service_pushed_into_a_class_of_the_old_school_says_so(ground: Cast) -> None:
    """It has no start there; the remark names the remedy."""
    enrollment_save(
        actor=ground.teacher,
        row=Enrollment(student=ground.student, is_program=True),
        values={"building": ground.south, "grade": "3", "first_day": MONDAY},
    )
    pushed = {"setting": "push_in", "pushed_into": ground.room4, "largest_group": 3, "building": ground.south}
    service_line_save(actor=ground.teacher, row=ground.line, values=pushed)
    week = load_week(ground.teacher, MONDAY)
    info = week.units.infos[f"line-{ground.line.pk}"]
    (remark,) = info.remarks
    assert remark.startswith("Room 4 isn't in South Hollow School, where the student is in this week.")


def test_who_has_left_is_not_planned(ground: Cast) -> None:
    """No start on a day after the last one."""
    student_leave(actor=ground.teacher, student=ground.student, last_day=date(1))
    found = places(load_week(ground.teacher, MONDAY).problem, f"line-{ground.line.pk}")
    assert sorted(found) == [date(0).isoformat(), date(1).isoformat()]

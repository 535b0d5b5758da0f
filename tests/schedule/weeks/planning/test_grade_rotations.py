"""A week of a school in which middle grades count their days by themselves, held against calendars made by hand.

A six-day rotation of specials and A/B weeks are common practice, no source.
"""

import datetime as dt
from itertools import combinations

import pytest

from caseload.plans.models import SchoolClass, ServiceLine
from schedule.calendar.models import ClassMeeting, DayRotation, SpaceFreeTime
from schedule.planner.solve import solve
from schedule.weeks.models import PlannedSession
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.weeks import week_detail
from tests.conftest import Cast
from tests.schedule.builders import (
    MONDAY,
    date,
    make_cycle,
    make_entry,
    make_ground,
    make_line,
    make_week,
    minute,
    minutes_on,
)

PUSH_IN = ServiceLine.Setting.PUSH_IN
NEXT = MONDAY + dt.timedelta(days=7)
DAYS = {0: "Day 6", 1: "Day 1", 2: "Day 2", 3: "Day 3", 4: "Day 4"}
"""The second week from MONDAY on, which is a B week, by the weekday."""


@pytest.fixture
def school(cast: Cast) -> Cast:
    """Six days from MONDAY on in the north; grades 6 to 8 have A and B weeks."""
    make_ground(cast)
    make_cycle(cast.north)
    DayRotation.objects.create(
        building=cast.north, name="Middle grades", grades="6-8", kind="ab_weeks", anchor_date=MONDAY
    )
    return cast


def key(line: ServiceLine) -> str:
    return f"line-{line.pk}"


def class_that_meets(cast: Cast, code: str, grades: str, days: str) -> SchoolClass:
    """A general class with the second period for physical education on these days."""
    found = SchoolClass.objects.create(
        building=cast.north, code=code, name=f"Class {code}", kind="general", grades=grades
    )
    ClassMeeting.objects.create(school_class=found, days=days, period="2")
    return found


def pushed_into(cast: Cast, code: str, grade: str, found: SchoolClass) -> ServiceLine:
    return make_line(
        cast, code, grade=grade, times=2, statement="2 x 30 min/week", setting=PUSH_IN, pushed_into=found
    )


def test_each_student_has_the_days_of_the_own_grade(school: Cast) -> None:
    lower, upper = make_line(school, "L1", grade="4"), make_line(school, "U1", grade="7")
    week = load_week(school.teacher, NEXT)
    kinds = {one.day: one.pattern_key for one in week.problem.unit(key(lower)).starts}
    assert kinds == {date(7 + n).isoformat(): label for n, label in DAYS.items()}
    names = ("monday", "tuesday", "wednesday", "thursday", "friday")
    kinds = {one.day: one.pattern_key for one in week.problem.unit(key(upper)).starts}
    assert kinds == {date(7 + n).isoformat(): f"B {name}" for n, name in enumerate(names)}


def test_a_snow_day_pushes_the_six_days_on_and_leaves_the_letters(school: Cast) -> None:
    """Monday is closed: the Tuesday is Day 6 then, and still a Tuesday of a B week."""
    lower, upper = make_line(school, "L1", grade="4"), make_line(school, "U1", grade="7")
    make_entry(school, NEXT, "closed")
    week = load_week(school.teacher, NEXT)
    tuesday = date(8).isoformat()
    assert {one.pattern_key for one in week.problem.unit(key(lower)).starts if one.day == tuesday} == {"Day 6"}
    assert {one.pattern_key for one in week.problem.unit(key(upper)).starts if one.day == tuesday} == {"B tuesday"}


def test_classes_and_spaces_go_by_the_labels_that_they_name(school: Cast) -> None:
    """A class of the middle grades on Mondays of B weeks, one of the lower on Day 2, the gym on both of these."""
    upper = pushed_into(school, "U1", "7", class_that_meets(school, "7A", "7", "B Mon, A Tue"))
    lower = pushed_into(school, "L1", "4", class_that_meets(school, "4A", "4", "Day 2, Day 5"))
    SpaceFreeTime.objects.create(space=school.gym, days="Day 1, B Fri", period="3")
    week = load_week(school.teacher, NEXT)
    there = {n for n in range(5) if minutes_on(week, key(upper), date(7 + n))}
    assert there == {0}
    assert {n for n in range(5) if minutes_on(week, key(lower), date(7 + n))} == {2}
    in_gym = {one.day for one in week.problem.unit(key(school.line)).starts if one.space == school.gym.name}
    assert in_gym == {date(8).isoformat(), date(11).isoformat()}


def test_the_planner_places_as_much_as_every_choice_of_days(school: Cast) -> None:
    """Class 4A meets on Day 6, 2 and 4, class 7A on Mondays and Wednesdays of B weeks, all in one period.

    By hand these are Monday, Wednesday and Friday against Monday and Wednesday; one period holds one session of
    half an hour. All choices of two days each are counted.
    """
    class_4, class_7 = {0, 2, 4}, {0, 2}
    most = max(len({*one, *two}) for one in combinations(class_4, 2) for two in combinations(class_7, 2))
    lower = pushed_into(school, "L1", "4", class_that_meets(school, "4A", "4", "Day 6, Day 2, Day 4"))
    upper = pushed_into(school, "U1", "7", class_that_meets(school, "7A", "7", "B Mon, B Wed"))
    school.line.delete()
    week = load_week(school.teacher, NEXT)
    plan = solve(week.problem, workers=1).plan
    assert plan is not None
    held = {
        (one.unit, dt.date.fromisoformat(day.day).weekday())
        for day in plan.days
        for one in day.items
        if one.unit is not None
    }
    assert len(held) == most == 3
    assert {day for unit, day in held if unit == key(lower)} <= class_4
    assert {day for unit, day in held if unit == key(upper)} <= class_7


def test_a_session_bears_the_day_of_its_students(school: Cast) -> None:
    lower, upper = make_line(school, "L1", grade="4"), make_line(school, "U1", grade="7")
    week = make_week(school, [(key(lower), date(7), "8:30"), (key(upper), date(8), "8:30")], monday=NEXT)
    rows = PlannedSession.objects.filter(week=week).order_by("date")
    assert [one.cycle_day for one in rows] == ["Day 6", "B"]
    [monday, *_] = week_detail(school.teacher, week).days
    assert [one.cycle_day for one in monday.buildings if one.building_code == school.north.code] == ["Day 6, B"]


def test_a_group_of_both_goes_by_the_first_of_them_everywhere(school: Cast) -> None:
    """One of grade 5 and one of grade 6 are taken together; the label stored is the kind of day planned."""
    one, two = make_line(school, "G5", grade="5"), make_line(school, "G6", grade="6")
    school.line.delete()
    week = load_week(school.teacher, NEXT)
    group = next(each for each in week.problem.groups if set(each.members) == {key(one), key(two)})
    start = next(each for each in group.starts if each.day == date(7).isoformat())
    stored = make_week(school, [(group.id, date(7), f"{start.at // 60}:{start.at % 60:02d}")], monday=NEXT)
    held = PlannedSession.objects.get(week=stored)
    assert week.facts(school.north.pk, held.date).kind_of(held.date, held.cycle_day) == start.pattern_key


def test_an_hour_is_kept_by_the_day_of_the_own_grade(school: Cast) -> None:
    """In force: Day 6 at 9:20 for grade 4, the B Monday at 10:10 for grade 7. What the next week of each brings is
    the same hour on Day 6, a Wednesday then, and on the next Monday of a B week, two weeks on."""
    lower, upper = make_line(school, "L1", grade="4"), make_line(school, "U1", grade="7")
    week = make_week(school, [(key(lower), date(7), "9:20"), (key(upper), date(7), "10:10")], monday=NEXT)
    week.status = week.Status.PUBLISHED
    week.save()
    # Six school days after Monday the 21st of September comes Tuesday the 29th, fourteen days after it October 5.
    after = load_week(school.teacher, NEXT + dt.timedelta(days=7))
    kept = {(one.unit, one.day, one.at) for one in after.problem.current or ()}
    assert (key(lower), date(15).isoformat(), minute("9:20")) in kept
    later = load_week(school.teacher, NEXT + dt.timedelta(days=14))
    kept = {(one.unit, one.day, one.at) for one in later.problem.current or ()}
    assert (key(upper), date(21).isoformat(), minute("10:10")) in kept

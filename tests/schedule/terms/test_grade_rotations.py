"""A timetable for a term in a school whose middle grades count A and B weeks beside the six days of the others."""

import datetime as dt

from jobs.runner import run_job
from schedule.calendar.models import DayRotation
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services.plans import term_plan_start
from schedule.weeks.models import TimetableSession
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_cycle, make_entry, make_ground, make_line


def test_each_session_stands_on_the_days_of_its_grade(cast: Cast) -> None:
    """Four weeks, one Monday closed: an exception for the letters, which are lost, and none for the six days."""
    make_ground(cast)
    make_cycle(cast.north)
    DayRotation.objects.create(
        building=cast.north, name="Middle grades", grades="6-8", kind="ab_weeks", anchor_date=MONDAY
    )
    cast.line.delete()
    lower, upper = make_line(cast, "L1", grade="4"), make_line(cast, "U1", grade="7")
    make_entry(cast, date(7), "closed")
    term = term_plan_start(
        actor=cast.teacher,
        teacher=cast.teacher,
        first_date=MONDAY,
        last_date=MONDAY + dt.timedelta(days=25),
        worth=60,
        time_limit=20,
    )
    run_job(term.run.job_id)
    term = term_get(cast.teacher, term.pk)
    rows = TimetableSession.objects.filter(timetable=term.standing)
    by_line = {
        line.pk: {(one.cycle_day[:3], one.weekday is None) for one in rows if one.planner_key == f"line-{line.pk}"}
        for line in (lower, upper)
    }
    assert by_line[lower.pk] == {("Day", True)}
    assert by_line[upper.pk] == {("A", False), ("B", False)}
    view = term_detail(cast.teacher, term)
    assert {one.kind for one in view.kinds} == {"A weeks", "B weeks"}
    # By hand: Day 1 to 5; from Tuesday on 6, 1, 2, 3; then 4, 5, 6, 1, 2; and the fourth week begins with Day 3.
    assert {one.turn for one in view.kinds} == {f"begins on Day {n}" for n in (1, 6, 4, 3)}

"""A timetable on cycle days that changes from a date: planned, said, put in force, taken back."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from caseload.plans.models import ServiceLine, StudentHold
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail
from schedule.terms.services.publishing import term_publish, term_take_back
from schedule.weeks.models import TimetableSession, TimetableVersion, WeekPlan
from schedule.weeks.versions.standing import standing_in_force
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, make_cycle, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, drafts, planned

pytestmark = pytest.mark.long
SINCE = MONDAY + 2 * WEEK
EARLY, LATE = dt.time(8, 30), dt.time(10, 10)
ALONE: dict[str, Any] = {"setting": ServiceLine.Setting.ONE_TO_ONE, "largest_group": 1}
DAILY: dict[str, Any] = {"statement": "5 x 30 min/week", "times": 5}


def only_at(line: ServiceLine, *clocks: str) -> ServiceLine:
    """Its student can be taken at these times alone, each of half an hour."""
    free = at("7:00")
    for clock in (*clocks, "16:00"):
        StudentHold.objects.create(student=line.plan.student, start=free, end=at(clock))
        free = (dt.datetime.combine(MONDAY, at(clock)) + dt.timedelta(minutes=30)).time()
    return line


@pytest.fixture
def changing(cast: Cast) -> tuple[TermPlan, ServiceLine]:
    """Four weeks in a school of six days. G1 can come at 8:30 or 10:10. The late one is taken every day by E1 for
    two weeks, the early one every day by N1 after these: G1 has to change for good, and nobody else does."""
    make_ground(cast)
    make_cycle(cast.north)
    line = only_at(make_line(cast, "G1", **ALONE), "8:30", "10:10")
    only_at(make_line(cast, "E1", end=SINCE - dt.timedelta(days=3), **ALONE, **DAILY), "10:10")
    only_at(make_line(cast, "N1", start=SINCE, **ALONE, **DAILY), "8:30")
    return planned(cast, weeks=4), line


def stands(timetable: TimetableVersion | None, line: ServiceLine) -> set[tuple[str, int | None, dt.time]]:
    rows = TimetableSession.objects.filter(timetable=timetable, planner_key=f"line-{line.pk}")
    return {(one.cycle_day, one.weekday, one.start) for one in rows}


def test_it_changes_for_good_on_cycle_days_and_is_taken_back_whole(
    cast: Cast, changing: tuple[TermPlan, ServiceLine]
) -> None:
    term, line = changing
    view = term_detail(cast.teacher, term)
    [later] = term.later.all()
    assert later.first_day == SINCE
    for timetable, start in ((term.standing, EARLY), (later, LATE)):
        found = stands(timetable, line)
        assert found
        assert {(weekday, at) for _, weekday, at in found} == {(None, start)}
        assert all(day.startswith("Day ") for day, _, _ in found)
    assert view.minutes_placed == view.minutes_owed == 4 * (60 + 30 + 150)
    held = [row.sessions.get(planner_key=f"line-{line.pk}").start for row in weeks(term)]
    assert held == [EARLY, EARLY, LATE, LATE]

    [said] = view.later
    assert said.since == SINCE
    moved = [one for one in said.moves if "Quernmore-G1" in one.who]
    assert moved
    assert all(", 8:30" in one.before for one in moved if one.before)
    assert all(", 10:10" in one.after for one in moved if one.after)
    assert [one.building_code for one in said.tell] == [cast.north.code]
    client = Client()
    client.force_login(cast.teacher)
    text = client.get(reverse("term", args=[term.pk])).content.decode()
    assert "From September 28" in text

    assert term_publish(actor=cast.teacher, term=term).refused == ()
    in_force = [standing_in_force(cast.teacher, MONDAY + number * WEEK) for number in range(4)]
    assert in_force == [term.standing, term.standing, later, later]
    done = term_take_back(actor=cast.teacher, term=term, today=SINCE - dt.timedelta(days=4))
    assert (done.restored, done.emptied, len(done.stayed)) == (0, 2, 2), "two weeks have begun by then"
    assert [standing_in_force(cast.teacher, MONDAY + number * WEEK) for number in range(4)] == [None] * 4
    published = WeekPlan.objects.filter(teacher=cast.teacher, status=WeekPlan.Status.PUBLISHED)
    assert sorted(published.values_list("monday", flat=True)) == [MONDAY, MONDAY + WEEK]
    assert [week.monday for week in drafts(term)] == [SINCE, SINCE + WEEK], "and the other two are drafts again"


def weeks(term: TermPlan) -> list[WeekPlan]:
    return list(WeekPlan.objects.filter(plan_run=term.run).order_by("monday"))

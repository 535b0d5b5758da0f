"""A term planned: the timetable, the weeks, what is said of departures."""

import itertools
from dataclasses import replace

import pytest

from schedule.planner.problem import Pin
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Ended
from schedule.planner.term.plan import NoWeekError, plan_curve, plan_term
from schedule.planner.term.term import DepartureReason, StandingSession, StandingTimetable, Term, UnusualDay
from tests.planner.term.builders import ann, at, week

NO_SCHOOL = UnusualDay("a", "monday", "no school")


def test_weeks_alike_hold_the_same_and_bound_their_driving() -> None:
    """Nothing is in the way: each session stands, and the term drives what its weeks do for themselves."""
    services = ann(at(540), at(600)), ann(at(540, "b"), at(600, "b", "tue"), name="ben")
    found = plan_term(Term(tuple(week(number, *services) for number in (1, 2, 3))))
    assert (found.sessions, found.open, found.kept, found.unplaced) == (6, 6, 6, 0)
    assert found.drive_minutes == found.bound
    assert not any(one.departures for one in found.weeks)
    assert {(one.at, one.pattern_key) for one in found.standing.sessions} <= {
        (540, "monday"),
        (600, "monday"),
        (600, "tuesday"),
    }


def test_a_closed_day_is_a_departure_with_its_reason() -> None:
    """It is held on the other day, and the sentence says why and when."""
    usual = ann(at(540), at(600, day="tue"))
    term = Term(
        (week(1, usual), week(2, ann(at(600, day="tue")), unusual=(NO_SCHOOL,))),
        standing=StandingTimetable((StandingSession("ann", "monday", 540, "a"),)),
    )
    found = plan_term(term)
    (departure,) = found.week("2026-09-14").departures
    assert departure.why is DepartureReason.CLOSED
    assert departure.words == "Ann, monday 9:00 at North School: no school; held Tuesday 10:00 at North School."
    assert (found.sessions, found.open, found.kept) == (2, 1, 1)


def test_a_session_that_gives_way_is_said_to() -> None:
    """Cal begins in the second week and can be held only when Ann stands; Ann goes to another time."""
    usual = ann(at(540), at(600))
    standing = StandingTimetable((StandingSession("ann", "monday", 540, "a"),))
    found = plan_term(Term((week(1, usual), week(2, usual, ann(at(540), name="cal"))), standing))
    first, second = found.weeks
    assert (first.kept, second.open, second.kept, second.figures.unplaced) == (1, 1, 0, 0)
    moved, beside = second.departures
    assert (moved.why, moved.session and moved.session.at) == (DepartureReason.MADE_ROOM, 600)
    assert (beside.unit, beside.why, beside.standing) == ("cal", DepartureReason.NOT_STANDING, None)


def test_what_begins_later_stands_too() -> None:
    """Three weeks without Cal, two with: one timetable holds both, and nothing departs."""
    usual = ann(at(540), at(600))
    weeks = [week(number, usual) for number in (1, 2, 3)]
    weeks += [week(number, usual, ann(at(660), name="cal")) for number in (4, 5)]
    found = plan_term(Term(tuple(weeks)))
    assert {one.unit for one in found.standing.sessions} == {"ann", "cal"}
    assert (found.sessions, found.kept) == (7, 7)


def test_without_time_every_week_still_has_a_plan() -> None:
    """The first plans, judged; the result says that it was stopped."""
    found = plan_term(Term((week(1, ann(at(540))), week(2, ann(at(600))))), time_limit=0.0)
    assert found.stopped
    assert [one.figures.unplaced for one in found.weeks] == [0, 0]


def test_without_time_the_timetable_in_force_is_kept_all_the_same() -> None:
    """By insertion alone: what stands goes in first. Ten weeks that differ take no ten searches."""
    weeks = tuple(week(number, ann(at(540), at(600), at(480 + number))) for number in range(1, 11))
    standing = StandingTimetable((StandingSession("ann", "monday", 600, "a"),))
    found = plan_term(Term(weeks, standing), time_limit=0.0)
    assert found.stopped
    assert (found.sessions, found.kept, found.unplaced) == (10, 10, 0)
    assert found.first_term_seconds is not None
    assert not any(one.proved or one.least_driving for one in found.weeks)


def test_a_week_whose_rules_contradict_each_other_is_named() -> None:
    """Two pins at one time in the second week."""
    both = ann(at(540)), ann(at(540), name="ben")
    second = week(2, *both)
    pins = (Pin("ann", "mon 2", 540, "a"), Pin("ben", "mon 2", 540, "a"))
    with pytest.raises(NoWeekError) as raised:
        plan_term(Term((week(1, *both), replace(second, problem=replace(second.problem, pins=pins)))))
    assert raised.value.week == "2026-09-14"


@pytest.mark.parametrize(("worth", "driving"), [(0, 0), (9, 0), (10, 0), (11, 10), (60, 10)])
def test_a_usual_time_is_left_where_that_saves_at_least_so_many_minutes(worth: int, driving: int) -> None:
    """By hand: Ann's usual school is 10 minutes from Ben's class; at her other time she is at his school."""
    services = ann(at(540), name="ben"), ann(at(600, "b"), at(600))
    standing = StandingTimetable(
        (StandingSession("ben", "monday", 540, "a"), StandingSession("ann", "monday", 600, "b"))
    )
    (found,) = plan_term(Term((week(1, *services),), standing, worth)).weeks
    assert (found.figures.driving, found.figures.unplaced, found.kept) == (driving, 0, 2 if driving else 1)
    assert [one.why for one in found.departures] == ([] if driving else [DepartureReason.SAVES_DRIVING])


def test_a_curve_gives_the_weeks_of_each_worth() -> None:
    """The week of the test above, by several worths at once."""
    services = ann(at(540), name="ben"), ann(at(600, "b"), at(600))
    standing = StandingTimetable(
        (StandingSession("ben", "monday", 540, "a"), StandingSession("ann", "monday", 600, "b"))
    )
    term = Term((week(1, *services),), standing)
    found = plan_curve(term, (60, 11, 10, 0))
    assert [one.drive_minutes for one in found] == [10, 10, 0, 0]
    assert [one.weeks for one in found] == [
        plan_term(replace(term, worth=worth)).weeks for worth in (60, 11, 10, 0)
    ]
    with pytest.raises(ProblemError):
        plan_curve(replace(term, standing=None), (60,))


def test_a_curve_has_work_and_a_clock_each_by_itself() -> None:
    """A clock that runs a minute whenever it is looked at changes nothing while enough is left; either ends it."""
    services = ann(at(540), name="ben"), ann(at(600, "b"), at(600))
    standing = StandingTimetable(
        (StandingSession("ben", "monday", 540, "a"), StandingSession("ann", "monday", 600, "b"))
    )
    term, worths = Term((week(1, *services),), standing), (60, 11, 10, 0)
    usual = plan_curve(term, worths, effort=30, time_limit=90, workers=1)
    ticks = map(float, itertools.count(step=60))
    busy = plan_curve(term, worths, effort=30, time_limit=10**6, workers=1, monotonic=ticks.__next__)
    assert [one.weeks for one in busy] == [one.weeks for one in usual]
    assert [one.ended for one in busy] == [Ended.PROOF] * len(worths)

    ticks = map(float, itertools.count(step=60))
    (cut,) = plan_curve(term, worths, effort=30, time_limit=60, workers=1, monotonic=ticks.__next__)
    assert cut.ended is Ended.CLOCK
    (worked,) = plan_curve(term, worths, effort=0, time_limit=90, workers=1)
    assert worked.ended is Ended.EFFORT

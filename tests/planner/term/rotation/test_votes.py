"""A timetable fitted to weeks that are planned: each session where most of them hold it."""

from schedule.planner.result import Itinerary
from schedule.planner.solve import solve
from schedule.planner.term.rotation.votes import Vote
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession
from tests.planner.term.builders import ann, at, week

EARLY, LATE = (StandingSession("ann", "monday", minute, "a") for minute in (540, 600))


def fitted(minutes: list[int], standing: list[StandingSession]) -> tuple[StandingSession, ...]:
    """The timetable after weeks that hold Ann at these minutes, and could have at both."""
    weeks = [week(number, ann(at(540), at(600))) for number in range(1, len(minutes) + 1)]
    plans = [held(number, minute) for number, minute in enumerate(minutes, 1)]
    return Vote([AlikeWeeks.of(one, 1) for one in weeks], plans).fitted(standing)


def held(number: int, minute: int) -> Itinerary:
    """The week with Ann at a minute: here it has no other start."""
    plan = solve(week(number, ann(at(minute))).problem).plan
    assert plan is not None
    return plan


def test_a_session_stands_where_more_weeks_hold_it() -> None:
    assert fitted([600, 540, 600], [EARLY]) == (LATE,)
    assert fitted([540, 540, 600], [EARLY]) == (EARLY,)


def test_nothing_changes_where_no_change_is_kept_more_often() -> None:
    """The first time has one week, and so has the other: what stands is left alone."""
    assert fitted([540, 600], [EARLY]) == (EARLY,)
    assert fitted([540, 600], [LATE]) == (LATE,)


def test_what_stands_nowhere_is_given_a_time_that_is_held() -> None:
    assert fitted([600, 600], []) == (LATE,)

"""A timetable bettered by what all of its weeks cost: never worse, and the same for the same seed."""

import pytest

from benchmarks.terms import TermShape, generate_term
from schedule.planner.result import GoalFigures, Itinerary
from schedule.planner.term.choice.exchange import Exchange, ListedDay, Standing
from schedule.planner.term.choice.whole import WholeTerm, better
from schedule.planner.term.kinds import Found
from schedule.planner.term.plain import plain_week
from schedule.planner.term.search import complete
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.term import LaterTimetable, StandingSession, StandingTimetable, TermWeek, UnusualDay
from schedule.planner.week.work import Work
from tests.planner.term.builders import ann, at, week

SMALL = TermShape(sessions=10, buildings=4, weeks=8, closed_days=2, closings=1, shortened=1, beginning=1, ending=1)
AMPLE = 60.0


def exchange(weeks: list[TermWeek], worth: int = 60, seed: int = 0, listed: tuple[ListedDay, ...] = ()) -> Exchange:
    """The search over these weeks."""
    kinds = [AlikeWeeks.of(one, 1) for one in weeks]
    return Exchange(kinds, AlikeWeeks.of(plain_week(weeks), 0), worth, seed, Work(), listed)


def by_insertion(weeks: list[TermWeek]) -> Standing:
    """A timetable to begin with."""
    state = TermState([AlikeWeeks.of(one, 1) for one in weeks], 60)
    complete(state)
    return tuple(state.sessions)


def test_weeks_that_the_calendar_disturbs_decide_between_equals() -> None:
    """Ben may stand on Tuesdays at 9 or at 10. Where Ann's Monday falls out she drives, unless 9 is free."""
    monday, tuesday, elsewhere = at(540), at(540, day="tue"), at(600, "b", day="tue")
    ben = ann(at(540, day="tue"), at(600, day="tue"), name="ben")
    closed = UnusualDay("a", "monday", "no school")
    weeks = [week(1, ann(monday, tuesday, elsewhere), ben)]
    weeks += [week(number, ann(tuesday, elsewhere), ben, unusual=(closed,)) for number in (2, 3)]
    search = exchange(weeks)
    start = (StandingSession("ann", "monday", 540, "a"), StandingSession("ben", "tuesday", 540, "a"))
    assert search.cost(start) == 2 * 10
    assert search.cost(search.bettered(start, 0.05, lambda: AMPLE)) == 0


@pytest.mark.parametrize("seed", range(3))
def test_the_end_is_no_worse_than_the_start_and_the_same_for_the_same_seed(seed: int) -> None:
    """Whatever chance takes out on the way; the clock only ends it."""
    weeks = list(generate_term(SMALL, seed).weeks)
    start = by_insertion(weeks)
    one, other = exchange(weeks, seed=seed), exchange(weeks, seed=seed)
    found = one.bettered(start, 0.1, lambda: AMPLE)
    assert one.cost(found) <= one.cost(start)
    assert found == other.bettered(start, 0.1, lambda: AMPLE)
    assert one.bettered(start, 0.1, lambda: 0.0) == tuple(sorted(start))


def test_two_days_are_chosen_anew_from_the_list() -> None:
    """With nothing to put back by chance, only the listed days lead to the better week."""
    weeks = [week(1, ann(at(540), at(600, "b", day="tue")), ann(at(570), at(630, "b", day="tue"), name="ben"))]
    monday = (StandingSession("ann", "monday", 540, "a"), StandingSession("ben", "monday", 570, "a"))
    apart = (monday[0], StandingSession("ben", "tuesday", 630, "b"))
    listed = (ListedDay(0, monday, 0), ListedDay(1, (), 0), ListedDay(0, apart[:1], 0), ListedDay(1, apart[1:], 0))
    search = exchange(weeks, listed=listed)
    assert set(search._two_days(apart, 5.0) or ()) in ({*monday}, {*apart})
    assert search._two_days((StandingSession("ann", "monday", 540, "a"),), 5.0) is None


def whole(timetables: int, *figures: GoalFigures) -> WholeTerm:
    """A term of weeks with these figures."""
    standing = StandingTimetable()
    found = tuple(Found(Itinerary(()), one, proved=True) for one in figures)
    return WholeTerm((LaterTimetable("2026-09-07", standing),) * timetables, (standing,) * len(figures), found)


def figures(unplaced: int, driving: int, change: int) -> GoalFigures:
    """A week's figures; no wish is missed."""
    return GoalFigures(unplaced, 0, driving, change, 0)


def test_of_two_terms_the_one_that_places_more_then_what_leaving_is_worth() -> None:
    """A usual time that is left weighs as much driving as the teacher says; alike, one timetable stays."""
    places, drives = whole(1, figures(0, 100, 0)), whole(1, figures(30, 10, 0))
    assert better([drives, places], 60) is places
    stays, leaves = whole(1, figures(0, 100, 0)), whole(1, figures(0, 70, 1))
    assert better([stays, leaves], 60) is stays
    assert better([stays, leaves], 20) is leaves
    assert better([whole(2, figures(0, 100, 0)), stays], 60) is stays

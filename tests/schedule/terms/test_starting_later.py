"""A timetable that changes in a later week than the first: fewer moves, or none before it has to be. Pure.

What each week holds is worked out by hand; weeks before the change are held against every plan of theirs.
"""

import random
from dataclasses import replace

import pytest

from schedule.planner.term.expected import against
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek
from schedule.terms.changing import MOVES_FIRST, Changed, TimetableChange, Way
from schedule.terms.ways import later_beginnings, ways_of
from tests.planner.brute import best_figures
from tests.planner.term.builders import ann, at, week

ANN = StandingSession("ann", "monday", 540, "a")
BEN = StandingSession("ben", "monday", 600, "a")


def change_of(*weeks: TermWeek, standing: tuple[StandingSession, ...] = (ANN, BEN)) -> TimetableChange:
    return TimetableChange(weeks, ("",) * len(weeks), StandingTimetable(standing))


def ways(change: TimetableChange, first: Way = Way.FEWEST_MOVES) -> dict[Way, Changed]:
    return {one.way: one for one in ways_of(change, first, effort=12.0, time_limit=10_000.0)}


def test_once_somebody_has_left_nobody_has_to_move() -> None:
    """Cal comes, and Ann's nine o'clock is free from the third week on: until then Ben gives way, week by week."""
    ben, cal = ann(at(600), at(630), name="ben"), ann(at(540), at(600), name="cal")
    two = [week(number, ann(at(540)), ben, cal) for number in (1, 2)]
    found = ways(change_of(*two, week(3, ben, cal), week(4, ben, cal)))
    at_once, later = found[Way.FEWEST_MOVES], found[Way.STARTS_LATER]
    assert (at_once.moved, at_once.once, at_once.since) == (1, 0, "")
    assert (later.moved, later.fewest, later.once, later.since) == (0, 0, 2, "2026-09-21")
    assert set(later.standing.sessions) == {BEN, StandingSession("cal", "monday", 540, "a")}
    assert later.until_then == StandingTimetable((ANN, BEN))
    assert (later.unplaced, later.proved) == (0, True)
    assert [(one.unit, one.before) for one in later.moves] == [("cal", None)]


def test_nobody_moves_before_somebody_new_comes() -> None:
    """Cal comes in the third week and can only be taken where Ben stands: he moves then, not two weeks before."""
    ben, cal = ann(at(600), at(630), name="ben"), ann(at(600), name="cal")
    two = [week(number, ann(at(540)), ben) for number in (1, 2)]
    rest = [week(number, ann(at(540)), ben, cal) for number in (3, 4)]
    found = ways(change_of(*two, *rest))
    later = found[Way.STARTS_LATER]
    assert (found[Way.FEWEST_MOVES].moved, later.moved, later.once) == (1, 1, 0)
    assert later.since == "2026-09-21"
    # In the first week that is left, nothing is to be waited for.
    assert Way.STARTS_LATER not in ways(change_of(*rest))


def test_a_time_that_is_gone_later_changes_for_good_from_then_on() -> None:
    """Ann's nine o'clock is there for two weeks more. Kept as it stands, she is elsewhere in all weeks after."""
    ben = ann(at(600), name="ben")
    two = [week(number, ann(at(540), at(630)), ben) for number in (1, 2)]
    found = ways(change_of(*two, week(3, ann(at(630)), ben), week(4, ann(at(630)), ben)))
    assert (found[Way.FEWEST_MOVES].moved, found[Way.FEWEST_MOVES].once) == (0, 2)
    later = found[Way.STARTS_LATER]
    assert (later.moved, later.once, later.since) == (1, 0, "2026-09-21")


def test_a_school_without_a_room_later_is_a_change_from_then_on() -> None:
    """From the third week on South has no room on Mondays at all, so that no start of it bears that day anymore."""
    south = StandingSession("ben", "monday", 600, "b")
    now, then = ann(at(600, "b"), name="ben"), ann(at(600, "b", "tue"), name="ben")
    weeks = [week(number, ann(at(540)), now if number < 3 else then) for number in (1, 2, 3, 4)]
    found = ways(change_of(*weeks, standing=(ANN, south)))
    assert (found[Way.FEWEST_MOVES].moved, found[Way.FEWEST_MOVES].once) == (0, 2)
    later = found[Way.STARTS_LATER]
    assert (later.moved, later.once, later.since) == (1, 0, "2026-09-21")


def test_waiting_that_saves_nothing_is_not_offered() -> None:
    """Ann leaves, but Cal can only be taken where Ben stands: to wait would only move Ben twice more."""
    ben, cal = ann(at(600), at(630), name="ben"), ann(at(600), name="cal")
    change = change_of(
        *(week(number, ann(at(540)), ben, cal) for number in (1, 2)), week(3, ben, cal), week(4, ben, cal)
    )
    assert later_beginnings(change) == [2]
    assert Way.STARTS_LATER not in ways(change)
    # Asked for all the same, it is what the fewest moves are.
    asked = ways(change, Way.STARTS_LATER)
    assert (asked[Way.STARTS_LATER].moved, asked[Way.STARTS_LATER].since) == (1, "")


def test_what_lasts_for_one_week_begins_nothing() -> None:
    """Cal is owed once, in the last of three weeks. Ann, who stands, leaves after the first."""
    ben, cal = ann(at(600), at(630), name="ben"), ann(at(600), name="cal")
    assert later_beginnings(change_of(week(1, ann(at(540)), ben), week(2, ben), week(3, ben))) == [1]
    assert later_beginnings(change_of(*(week(n, ann(at(540)), ben) for n in (1, 2)), week(3, ben, cal))) == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10))
def test_weeks_until_then_against_every_plan(seed: int) -> None:
    """Three services in two weeks, two after: no plan of a week until then has fewer elsewhere than is said."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    every = [(minute, place, day) for minute in (540, 570, 600) for place in "ab" for day in ("mon", "tue")]

    stand = {"ann": (540, "a", "mon"), "ben": (600, "a", "mon")}
    more = {name: [one for one in every if rng.random() < some] for name, some in (("ann", 0.1), ("ben", 0.3))}
    old = {
        name: ann(*(at(*one) for one in dict.fromkeys([spot, *more[name]])), name=name)
        for name, spot in stand.items()
    }
    cal = ann(*(at(*one) for one in [*stand.values(), rng.choice(every)][: rng.choice((2, 2, 3))]), name="cal")
    weeks = [week(number, *old.values(), cal) for number in (1, 2)]
    change = change_of(*weeks, *(week(number, old["ben"], cal) for number in (3, 4)))
    later = ways(change, Way.STARTS_LATER)[Way.STARTS_LATER]
    if not later.since:  # Where nothing has to move at once, there is nothing to wait for.
        assert later.moved == 0
        return
    least = [best_figures(replace(against(one, change.standing), goals=MOVES_FIRST)) for one in weeks]
    assert all(one is not None for one in least)
    assert later.proved
    assert later.once == sum(one[2] for one in least if one is not None)

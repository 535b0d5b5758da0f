"""A timetable changed in the middle of a term: fewest moves, least driving, by work and not by the clock. Pure."""

import random
import time
from dataclasses import replace
from itertools import combinations, product

import pytest

from benchmarks.terms import TermShape, generate_term
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import Ended
from schedule.planner.solve import solve
from schedule.planner.term.expected import standing_session
from schedule.planner.term.kinds import OPTIMUM
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek, UnusualDay
from schedule.planner.warm import warm_up
from schedule.terms.changing import Changed, TimetableChange, Way, changed_by
from schedule.terms.ways import ways_of
from tests.planner.brute import best_figures
from tests.planner.term.builders import KEYS, ann, at, week

ANN = StandingSession("ann", "monday", 540, "a")
BEN = StandingSession("ben", "monday", 600, "a")


def changed(change: TimetableChange, effort: float = 10.0) -> Changed:
    return changed_by(change, Way.FEWEST_MOVES, effort=effort, time_limit=10_000.0)


def test_a_time_that_is_gone_has_to_move_and_nothing_else_does() -> None:
    """Ann's nine o'clock is gone; Ben stands where she could go, and ten thirty is free as well."""
    weeks = (week(1, ann(at(600), at(630)), ann(at(600), name="ben")),)
    found = changed(TimetableChange(weeks, ("",), StandingTimetable((ANN, BEN))))
    assert found.standing == StandingTimetable((BEN, replace(ANN, at=630)))
    assert (found.moved, found.fewest, found.proved, found.ended) == (1, 1, True, Ended.PROOF)


def test_a_school_without_a_room_on_a_day_keeps_nobody_there() -> None:
    """From now on South has no room on Mondays at all, so that no start of it bears that day anymore."""
    south = StandingSession("ben", "monday", 600, "b")
    weeks = (week(1, ann(at(540), name="ann"), ann(at(600, "b", "tue"), name="ben")),)
    found = changed(TimetableChange(weeks, ("",), StandingTimetable((ANN, south))))
    assert set(found.standing.sessions) == {ANN, StandingSession("ben", "tuesday", 600, "b")}
    assert (found.moved, found.fewest) == (1, 1)
    [move] = found.moves
    assert (move.before, move.after and move.after.pattern_key) == (south, "tuesday")


def test_a_new_service_moves_whom_it_has_to() -> None:
    """Cal can come only when Ann stands; she has another time."""
    weeks = (week(1, ann(at(540), at(630)), ann(at(540), name="cal")),)
    found = changed(TimetableChange(weeks, ("",), StandingTimetable((ANN,))))
    assert (found.moved, found.fewest, found.proved) == (1, 1, True)
    assert {(one.unit, one.at) for one in found.standing.sessions} == {("ann", 630), ("cal", 540)}
    told = {(one.unit, one.before and one.before.at, one.after and one.after.at) for one in found.moves}
    assert told == {("ann", 540, 630), ("cal", None, 540)}, "who comes in her place doesn't hide that she moved"


def test_a_day_that_is_closed_once_changes_nothing_for_good() -> None:
    """Cal is owed only in the week whose Monday is closed for Ann: Ann stands on, and is that week's exception."""
    closed = UnusualDay("a", "monday", "no school")
    weeks = (
        week(1, ann(at(540), at(600, day="tue"))),
        week(2, ann(at(600, day="tue")), ann(at(540, day="tue"), name="cal"), unusual=(closed,)),
    )
    found = changed(TimetableChange(weeks, ("", ""), StandingTimetable((ANN,))))
    assert set(found.standing.sessions) == {ANN, StandingSession("cal", "tuesday", 540, "a")}
    assert (found.moved, found.fewest) == (0, 0)


def test_a_third_way_has_most_of_the_driving_saved_for_few_moves() -> None:
    """By hand, North and South ten minutes apart. Monday: one session of South between two of North, 20 minutes to
    save for one move. Tuesday: two of South between two of North, 20 minutes to save for two."""
    there = {"ann": (540, "a", "mon"), "ben": (600, "b", "mon"), "cal": (660, "a", "mon")}
    there |= {
        "dan": (540, "a", "tue"),
        "eve": (600, "b", "tue"),
        "fay": (630, "b", "tue"),
        "gus": (690, "a", "tue"),
    }
    also = {"ben": (570, "a", "mon"), "eve": (570, "a", "tue"), "fay": (630, "a", "tue")}
    services = [ann(*(at(*spot) for spot in (there[name], also.get(name)) if spot), name=name) for name in there]
    standing = StandingTimetable(
        tuple(StandingSession(name, KEYS[day], minute, place) for name, (minute, place, day) in there.items())
    )
    change = TimetableChange((week(1, *services),), ("",), standing)

    def found(first: Way) -> list[tuple[Way, int, int]]:
        ways = ways_of(change, first, effort=10.0, time_limit=10_000.0)
        return [(one.way, one.moved, one.drive_minutes) for one in ways]

    fewest, between, least = (Way.FEWEST_MOVES, 0, 40), (Way.IN_BETWEEN, 1, 20), (Way.LEAST_DRIVING, 3, 0)
    assert found(Way.FEWEST_MOVES) == [fewest, between, least]
    assert found(Way.IN_BETWEEN) == [between, fewest, least]
    # Without the second day nothing lies between the two ends.
    monday = TimetableChange((week(1, *services[:3]),), ("",), StandingTimetable(standing.sessions[:3]))
    ways = ways_of(monday, Way.LEAST_DRIVING, effort=10.0, time_limit=10_000.0)
    assert [(one.way, one.moved) for one in ways] == [(Way.LEAST_DRIVING, 1), (Way.FEWEST_MOVES, 0)]


def _starts(rng: random.Random, *, some: float) -> list[tuple[int, str, str]]:
    every = [(minute, place, day) for minute in (540, 570, 600) for place in "ab" for day in ("mon", "tue")]
    return [one for one in every if rng.random() < some] or every[:1]


@pytest.mark.long
@pytest.mark.parametrize("seed", range(12))
def test_fewest_moves_against_every_timetable(seed: int) -> None:
    """One kind of week, three services: no timetable that the week can hold whole keeps more than is said."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    names = ("ann", "ben", "cal")
    first = week(1, *(ann(*(at(m, p, d) for m, p, d in _starts(rng, some=0.5)), name=name) for name in names[:2]))
    plan = solve(replace(first.problem, goals=OPTIMUM), effort=5.0, workers=1).plan
    assert plan is not None
    standing = StandingTimetable(tuple(standing_session(first.problem, one) for one in plan.sessions))
    then = week(2, *(ann(*(at(m, p, d) for m, p, d in _starts(rng, some=0.4)), name=name) for name in names))
    found = changed(TimetableChange((then,), ("",), standing))
    best = _least_lost(then, standing)
    assert found.fewest <= best <= found.moved
    assert not found.proved or (found.fewest, found.moved) == (best, best)


def _least_lost(then: TermWeek, standing: StandingTimetable) -> int:
    """Of all ways to hold one session of each service that place as many as can be: the fewest that leave."""
    problem = replace(then.problem, goals=(Goal.UNPLACED,))
    least = best_figures(problem)
    assert least is not None
    lost: list[int] = []
    for count in range(len(problem.services) + 1):
        for services in combinations(problem.services, count):
            for starts in product(*(one.starts for one in services)):
                fixed = replace(
                    problem,
                    services=tuple(
                        replace(one, starts=tuple(s for who, s in zip(services, starts, strict=True) if who == one))
                        for one in problem.services
                    ),
                )
                held = {
                    (one.id, start.pattern_key, start.at, start.place)
                    for one, start in zip(services, starts, strict=True)
                }
                if best_figures(fixed) == least and len(held) == _placed(problem, least):
                    stand = {(one.unit, one.pattern_key, one.at, one.place) for one in standing.sessions}
                    lost.append(len(stand - held))
    return min(lost)


def _placed(problem: Problem, least: tuple[int, ...]) -> int:
    return len(problem.services) - least[0] // problem.services[0].minutes


@pytest.mark.long
def test_a_slow_machine_changes_it_alike_and_a_clock_that_ends_it_says_so() -> None:
    """Work decides how far the search goes, also where it ends before a proof."""
    warm_up()
    term = generate_term(TermShape(sessions=40), 1)
    plain = [one for one in term.weeks if not one.unusual]
    before = solve(replace(plain[0].problem, current=None, goals=OPTIMUM), effort=1.0, workers=2).plan
    assert before is not None
    standing = StandingTimetable(tuple(standing_session(plain[0].problem, one) for one in before.sessions))
    change = TimetableChange((plain[-1],), ("",), standing)

    def slow() -> float:
        return 50 * time.monotonic()

    one = changed(change, 0.2)
    assert one == changed_by(change, Way.FEWEST_MOVES, effort=0.2, time_limit=10_000.0, monotonic=slow)
    assert one.ended is not Ended.CLOCK
    cut = changed_by(change, Way.FEWEST_MOVES, effort=10.0, time_limit=20.0, monotonic=slow)
    assert (cut.ended, cut.proved) == (Ended.CLOCK, False)

    # Ended early, the way that drives least may drive more than another: then it isn't shown beside it.
    for effort in (0.2, 1.0):
        first, *others = ways_of(change, Way.FEWEST_MOVES, effort=effort, time_limit=10_000.0)
        assert first.way is Way.FEWEST_MOVES
        for one, other in product(others, (first, *others)):
            same = one is other or one.moved == other.moved
            assert same or one.drive_minutes < other.drive_minutes or one.moved < other.moved

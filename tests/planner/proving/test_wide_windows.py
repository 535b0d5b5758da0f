"""Windows of hours: what can begin at thousands of minutes is laid out in little memory and ends when it must."""

import tracemalloc
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from itertools import count

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.check import check
from schedule.planner.possible import why_impossible
from schedule.planner.problem import Day, Goal, Pin, Place, Problem, Service, Window
from schedule.planner.proving.arcs import NODES_AT_ONCE, Steps, usable_nodes
from schedule.planner.result import Ended, Status
from schedule.planner.run import Run
from schedule.planner.solve import solve
from schedule.planner.week.construct import LOOK_EVERY, fill
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import DayModel
from schedule.planner.week.state import WeekState
from schedule.planner.week.work import OPTION, HaltedError
from tests.planner.builders import at, random_tiny_week, service, tiny

PROMISED = 2.0
"""Seconds past its limit that a run may take: docs/planner.md."""


def after(looks: int) -> Callable[[], bool]:
    """Says that the time is up from that look on."""
    looked = count(1)
    return lambda: next(looked) > looks


def ticking(step: float) -> Callable[[], float]:
    """A clock that goes on by so many seconds whenever it is read."""
    ticks = count()
    return lambda: next(ticks) * step


def in_windows(shape: WeekShape, minutes: int) -> Problem:
    """A generated week whose services may begin at any minute of some hours of each day."""
    week = generate_week(shape, 1)
    services = tuple(
        replace(
            one,
            starts=(),
            windows=tuple(Window(day.id, 480, 480 + minutes, one.starts[0].place) for day in week.days),
        )
        for one in week.services
    )
    return replace(week, services=services, goals=(Goal.UNPLACED, Goal.DRIVING))


def apart(width: int) -> Problem:
    """Two pins that only a visit between them can join, and services that may begin at any minute of a window."""
    roads = {"a": {"b": 90, "c": 5}, "b": {"a": 90, "c": 5}, "c": {"a": 5, "b": 5}}
    wide = [Service(f"w{n}", 30, 1, windows=(Window("mon", 480, 480 + width, "c"),)) for n in range(8)]
    return tiny(
        service("x", at(500)),
        service("y", at(580, "b")),
        *wide,
        days=(Day("mon", 480, 1080, "Monday"),),
        pins=(Pin("x", "mon", 500), Pin("y", "mon", 580, "b")),
        places=(Place("a"), Place("b"), Place("c")),
        drive_minutes=roads,
    )


def run_of(problem: Problem, stop: Callable[[], bool]) -> Run:
    """A run that nothing but ``stop`` ends."""
    return Run(build_model(problem), 1e9, lambda: 0.0, None, stop)


# ---- few steps -------------------------------------------------------------------------------------------


def soonest(day: DayModel, nodes: list[int], rows: list[list[int]]) -> set[tuple[int, ...]]:
    """Of all steps those to a visit that no sooner one of the same unit at the same place is over before.

    That is what waiting is worth where nothing is wished for: nothing. What every route holds stands for itself.
    """
    kept, over = set[tuple[int, ...]](), defaultdict[tuple[object, ...], int](lambda: 10**9)
    for origin, to, lunch, *rest in sorted(rows, key=lambda row: (row[0], row[2], row[1])):
        node = day.nodes[nodes[to]]
        same = (origin, lunch, node.unit or to, node.place, node.fixed)
        if node.end < over[same]:
            over[same] = node.end
            kept.add((origin, to, lunch, *rest))
    return kept


@pytest.mark.parametrize("seed", range(60))
def test_steps_are_those_to_the_soonest_starts(seed: int) -> None:
    week = replace(random_tiny_week(seed, triangle=seed % 2 == 0), preparation=None, longest_stretch=None)
    days = tuple(replace(day, preparation_minutes=0) for day in week.days)
    for day in build_model(replace(week, days=days)).days:
        nodes = usable_nodes(day)
        few, every = (Steps(day, nodes).rows(every_start=every) for every in (False, True))
        assert few is not None
        assert every is not None
        assert {tuple(row) for row in few.tolist()} == soonest(day, nodes, every.tolist())


# ---- ended on the way ------------------------------------------------------------------------------------


def test_a_day_is_left_midway_once_the_time_is_up() -> None:
    day = build_model(in_windows(WeekShape(10, buildings=4, days=1), 240)).days[0]
    nodes = usable_nodes(day)
    assert len(nodes) > 4 * NODES_AT_ONCE
    with pytest.raises(HaltedError):
        Steps(day, nodes).rows(every_start=False, halted=after(2))
    some = Steps(day, nodes).pieces(every_start=True, halted=after(2))
    begun = [next(some) for _ in range(2 * NODES_AT_ONCE)]
    assert len(begun) == 2 * NODES_AT_ONCE
    with pytest.raises(HaltedError):
        next(some)


def test_no_more_sessions_go_into_a_week_once_the_time_is_up() -> None:
    """A look comes after so much work; between two of them a service may be looked at on every day."""
    held, worked = [], []
    for looks in (0, 5, 40, 10**6):
        model = build_model(in_windows(WeekShape(25), 300))
        state = WeekState(model)
        fill(state, regret=True, halted=after(looks))
        held.append(sum(map(len, state.held)))
        worked.append(model.work.done)
    a_service = OPTION * 5 * 301
    assert worked[0] <= LOOK_EVERY + a_service
    assert worked[1] <= 6 * (LOOK_EVERY + a_service)
    assert held[0] == 0
    assert held == sorted(held)
    assert held[-1] == 25


def test_a_first_week_is_cut_short_once_it_takes_too_long() -> None:
    """On a machine so slow that hardly a session is put in between two looks at the clock."""
    problem = in_windows(WeekShape(45), 300)
    result = solve(problem, time_limit=0.5, workers=1, monotonic=ticking(0.03))
    assert result.seconds <= 0.5 + PROMISED
    assert (result.ended, result.stopped) == (Ended.CLOCK, True)
    assert result.plan is not None
    verdict = check(problem, result.plan)
    assert verdict.holds
    assert verdict.figures is not None
    assert 0 < verdict.figures.unplaced == sum(one.minutes for one in result.unplaced)


def test_what_pins_leave_open_is_not_known_when_the_time_is_up_first() -> None:
    result = solve(apart(120), workers=1, stop=lambda: True)
    assert (result.status, result.ended, result.stopped) == (Status.UNKNOWN, Ended.PERSON, True)
    assert result.plan is None
    assert "Monday" in result.message
    assert solve(apart(120), workers=1).status is Status.OPTIMAL


# ---- memory ----------------------------------------------------------------------------------------------


def test_looking_for_a_way_between_pins_keeps_no_steps() -> None:
    """All steps of such a day take some megabytes, and of wider ones gigabytes."""
    run = run_of(apart(240), lambda: False)
    day = run.model.days[0]
    every = Steps(day, usable_nodes(day)).rows(every_start=True)
    assert every is not None
    assert every.nbytes > 5_000_000
    tracemalloc.start()
    try:
        assert why_impossible(run.model, WeekState(run.model), run) is None
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < every.nbytes / 5


def test_steps_beyond_what_may_be_kept_are_not_made_first() -> None:
    """Memory while laying out follows what may be kept, not what the windows would give."""
    day = build_model(in_windows(WeekShape(12, buildings=4, days=1), 300)).days[0]
    nodes = usable_nodes(day)
    most = 20_000
    tracemalloc.start()
    try:
        assert Steps(day, nodes).rows(every_start=True, most=most) is None
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    a_row = 6 * 8
    everything = len(nodes) ** 2 // 2 * a_row
    assert peak < 3 * most * a_row + 64 * 8 * len(nodes) < everything / 4


# ---- words -----------------------------------------------------------------------------------------------


def test_of_thousands_of_starts_all_are_counted_and_few_looked_at() -> None:
    """Two of three services fill the day; the third has a window of 100 minutes on each of five places."""
    places = tuple(Place(name) for name in "abcde")
    roads = {one.id: {other.id: 0 for other in places} for one in places}
    full = [service("x", at(480), minutes=120), service("y", at(600), minutes=120)]
    windows = tuple(Window("mon", 500, 599, one.id) for one in places)
    problem = tiny(*full, Service("z", 30, 1, windows=windows), places=places, drive_minutes=roads)
    [unplaced] = solve(problem, workers=1).unplaced
    assert "none of its 500 other starts is free" in unplaced.sentence

"""The curve of driving against sessions moved: monotone, checked, and complete by brute force on tiny weeks."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest

from schedule.planner.asking.disturbance import curve_of
from schedule.planner.check import check
from schedule.planner.problem import Day, Goal, Problem, Session
from schedule.planner.solve import solve
from tests.planner.brute import best_figures, every_figures
from tests.planner.builders import NO_SAMENESS, at, random_tiny_week, service, tiny

GOALS = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING, Goal.CHANGE)
CHANGE_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)


def back_and_forth() -> Problem:
    """In force: North, South, North, South; gathering the sessions of one school saves two drives of 10 minutes."""
    day = Day("mon", 480, 720, "Monday", "a", "b")
    current = (Session("p", "mon", 480, "a"), Session("q", "mon", 530, "b"), Session("r", "mon", 580, "a"))
    return tiny(
        service("p", at(480), at(500)),
        service("q", at(530, "b"), at(640, "b")),
        service("r", at(580), at(540)),
        days=(day,),
        current=current,
    )


def test_the_teacher_sees_what_staying_costs() -> None:
    curve = curve_of(back_and_forth(), workers=1)
    assert [(one.moved, one.driving) for one in curve.points] == [(0, 30), (1, 10)]
    assert curve.price_of_staying == 20
    assert curve.complete


def test_without_a_plan_the_curve_says_why() -> None:
    day = Day("mon", 480, 720, "Monday", "a", "b")
    far = {"a": {"b": 300}, "b": {"a": 300}}
    curve = curve_of(tiny(service("p", at(480)), days=(day,), drive_minutes=far), workers=1)
    assert curve.points == ()
    assert curve.message


@pytest.mark.long
def test_curves_are_monotone_and_judged() -> None:
    """Each point drives less than the one before, moves more, and holds every rule; nothing owed is given up."""
    longer = 0
    for seed in range(80):
        problem = replace(random_tiny_week(seed), goals=NO_SAMENESS)
        best = solve(problem, workers=1)
        if best.figures is None:
            continue
        points = curve_of(problem, workers=1).points
        longer += len(points) > 1
        assert all(a.moved < b.moved and a.driving > b.driving for a, b in pairwise(points))
        for point in points:
            verdict = check(problem, point.plan)
            assert verdict.holds, seed
            assert verdict.figures == point.figures
            assert (point.figures.unplaced, point.figures.wishes) == (best.figures.unplaced, best.figures.wishes)
    assert longer > 0


@pytest.mark.long
def test_the_ends_are_the_best_by_brute_force() -> None:
    for seed in range(40):
        problem = replace(random_tiny_week(seed), goals=GOALS)
        points = curve_of(problem, workers=1).points
        by_driving, by_change = best_figures(problem), best_figures(replace(problem, goals=CHANGE_FIRST))
        if by_driving is None or by_change is None:
            assert points == ()
            continue
        assert (points[-1].driving, points[-1].moved) == by_driving[2:], seed
        assert (points[0].moved, points[0].driving) == by_change[2:], seed


def test_points_between_are_found() -> None:
    """Four schools in a row visited to and fro: every session moved saves some driving."""
    days = tuple(Day(f"d{n}", 480, 720, f"Day {n}", "a", "a") for n in range(4))
    services, current = [], []
    for n in range(4):
        stay, go = at(500, "b", f"d{n}"), at(500 + 10 * n, "a", f"d{n}")
        services.append(service(f"s{n}", stay, go))
        current.append(Session(f"s{n}", f"d{n}", 500, "b"))
    curve = curve_of(tiny(*services, days=days, current=tuple(current)), workers=1)
    assert [(one.moved, one.driving) for one in curve.points] == [(0, 80), (1, 60), (2, 40), (3, 20), (4, 0)]
    assert curve.complete


def test_few_points_say_that_some_are_skipped() -> None:
    days = tuple(Day(f"d{n}", 480, 720, f"Day {n}", "a", "a") for n in range(4))
    services = [service(f"s{n}", at(500, "b", f"d{n}"), at(500, "a", f"d{n}")) for n in range(4)]
    current = tuple(Session(f"s{n}", f"d{n}", 500, "b") for n in range(4))
    curve = curve_of(tiny(*services, days=days, current=current), workers=1, most_points=3)
    assert len(curve.points) == 3
    assert not curve.complete


@pytest.mark.long
def test_a_curve_cut_short_is_true_by_brute_force() -> None:
    """No point drives less than the best of all weeks with as few moved; a proved one drives as little."""
    proved = 0
    for seed in range(30):
        problem = replace(random_tiny_week(seed), goals=GOALS)
        capped = least_driving(problem)
        for limit in (8, 30, 300, 3000):
            curve = curve_of(problem, workers=1, time_limit=limit, monotonic=ticking())
            for point in curve.points:
                given = (point.figures.unplaced, point.figures.wishes)
                best = capped[given, point.moved]
                assert point.driving >= best, seed
                assert not point.proved or point.driving == best, seed
                proved += point.proved
    assert proved > 20


@pytest.mark.long
@pytest.mark.parametrize("effort", [0.02, 0.2, 5.0])
def test_a_slow_machine_gives_the_same_curve(effort: float) -> None:
    """There every look at the clock takes a minute. How far each part goes is counted in work."""
    worked = 0.0
    for seed in range(6):
        problem = replace(random_tiny_week(seed), goals=GOALS)
        quick = curve_of(problem, workers=1, effort=effort, time_limit=10.0**9, monotonic=lambda: 0.0)
        slow = curve_of(problem, workers=1, effort=effort, time_limit=10.0**9, monotonic=ticking(60))
        assert slow == quick
        worked += quick.work
    assert worked > 0


def ticking(seconds: int = 1) -> Callable[[], float]:
    """A clock on which every look takes so many seconds."""
    ticks = iter(range(10**6))
    return lambda: float(seconds * next(ticks))


def least_driving(problem: Problem) -> dict[tuple[tuple[int, int], int], int]:
    """The least driving by (unplaced, wishes) and the most sessions that may move, over every plan there is."""
    best: dict[tuple[tuple[int, int], int], int] = {}
    for unplaced, wishes, driving, change in every_figures(problem):
        for moved in range(change, 9):
            key = (unplaced, wishes), moved
            best[key] = min(driving, best.get(key, driving))
    return best

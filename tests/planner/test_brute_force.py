"""Proven optima of tiny weeks against every plan there is, each rule switched on and off at random."""

import random
from dataclasses import replace

import pytest

from schedule.planner.check import check
from schedule.planner.problem import Day, Problem
from schedule.planner.result import Status
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import random_tiny_week

pytestmark = pytest.mark.long


@pytest.mark.parametrize("batch", range(8))
def test_proven_optimum_equals_the_best_of_all_plans(batch: int) -> None:
    for seed in range(batch * 40, batch * 40 + 40):
        problem = random_tiny_week(seed)
        expected = best_figures(problem)
        result = solve(problem, workers=1, time_limit=60.0)
        if expected is None:
            assert result.status is Status.INFEASIBLE, seed
            continue
        assert result.status is Status.OPTIMAL, seed
        assert result.plan is not None
        verdict = check(problem, result.plan)
        assert verdict.holds, seed
        assert verdict.figures.in_order(problem.goals) == expected, seed


@pytest.mark.parametrize("batch", range(4))
def test_a_lunch_at_a_place_is_had_there_in_the_best_of_all_plans(batch: int) -> None:
    """Every second lunch has its minute fixed as well, every third is in the place where the day begins.

    A day without visits may not come to the place, so that no first week is known for a few.
    """
    found = unknown = 0
    for seed in range(batch * 40, batch * 40 + 40):
        problem = _with_places_of_lunch(random_tiny_week(seed), random.Random(seed))  # noqa: S311 - test data
        expected = best_figures(problem)
        result = solve(problem, workers=1, time_limit=60.0)
        if expected is None:
            assert result.status is Status.INFEASIBLE, seed
            continue
        if result.status is Status.UNKNOWN:
            unknown += 1
            continue
        assert result.status is Status.OPTIMAL, seed
        assert result.plan is not None
        assert check(problem, result.plan).figures.in_order(problem.goals) == expected, seed
        found += any(day.lunch for day in problem.days)
    assert found >= 10
    assert unknown <= 5


def _with_places_of_lunch(problem: Problem, rng: random.Random) -> Problem:
    return replace(problem, days=tuple(_with_place_of_lunch(problem, day, rng) for day in problem.days))


def _with_place_of_lunch(problem: Problem, day: Day, rng: random.Random) -> Day:
    if day.lunch is None:
        return day
    lunch = replace(day.lunch, place=rng.choice([one.id for one in problem.places]))
    if rng.random() < 0.3 and day.start_place is not None:
        lunch = replace(lunch, place=day.start_place)
    if rng.random() < 0.5:
        at = lunch.earliest + 5 * rng.randint(0, (lunch.latest_end - lunch.minutes - lunch.earliest) // 5)
        lunch = replace(lunch, earliest=at, latest_end=at + lunch.minutes)
    return replace(day, lunch=lunch)


def test_bounds_are_true_where_driving_by_way_of_a_third_place_is_quicker() -> None:
    for seed in range(80):
        problem = random_tiny_week(seed, triangle=False)
        expected = best_figures(problem)
        result = solve(problem, workers=1, time_limit=60.0)
        if result.plan is None:
            assert result.status is Status.UNKNOWN or expected is None, seed
            continue
        assert expected is not None
        assert result.figures is not None
        assert result.figures.in_order(problem.goals) >= expected, seed
        if result.status is Status.OPTIMAL:
            assert result.figures.in_order(problem.goals) == expected, seed

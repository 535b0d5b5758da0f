"""Proven optima of tiny weeks against every plan there is, each rule switched on and off at random."""

import pytest

from schedule.planner.check import check
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

"""What is proved of a week with some goals holds for the same week with other goals after the first ones."""

from dataclasses import replace

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.problem import Goal
from schedule.planner.result import Stage, Status
from schedule.planner.run import Run
from schedule.planner.solve import solve
from schedule.planner.week.layout import build_model
from tests.planner.builders import random_tiny_week, tiny

PLACING = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)
KEEPING = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)
FULL = WeekShape(35, buildings=4, starts_a_day=1)
"""With seed 0 some minutes have no place."""


@pytest.mark.parametrize("seed", range(12))
def test_a_week_is_the_same_whether_its_first_goals_are_known_or_not(seed: int) -> None:
    """Each goal in its order, against the search that knows nothing; both are proved on weeks so small."""
    problem = random_tiny_week(seed)
    before = solve(replace(problem, goals=PLACING))
    alone, knowing = (solve(replace(problem, goals=KEEPING), known=known) for known in ((), before.stages))
    assert knowing.status is alone.status
    assert [(one.goal, one.value, one.bound) for one in knowing.stages] == [
        (one.goal, one.value, one.bound) for one in alone.stages
    ]


def test_what_is_known_to_have_no_place_is_not_proved_again() -> None:
    """From a week that is known to place most, with no work to prove anything."""
    week = replace(generate_week(FULL, 0), goals=PLACING)
    best = solve(week)
    assert best.plan is not None
    first = best.stages[0]
    assert (first.status, first.value > 0) == (Status.OPTIMAL, True)
    asked = replace(week, goals=KEEPING)
    alone, knowing = (solve(asked, effort=0.01, begun=best.plan, known=one) for one in ((), best.stages))
    assert (alone.stages[0].value, alone.stages[0].status) == (first.value, Status.FEASIBLE)
    assert (knowing.stages[0].value, knowing.stages[0].status) == (first.value, Status.OPTIMAL)


def test_a_bound_holds_only_where_the_goals_before_it_are_as_they_were() -> None:
    """With half an hour unplaced a wish was missed; where all is placed, nothing is said of it."""
    stages = (
        Stage(Goal.UNPLACED, 30, 30, Status.OPTIMAL),
        Stage(Goal.WISHES, 20, 15, Status.FEASIBLE),
    )
    run = Run(build_model(tiny()), 1.0, lambda: 0.0, None, None, known=stages)
    assert run.known_bound(Goal.UNPLACED, {}) == 30
    assert run.known_bound(Goal.WISHES, {Goal.UNPLACED: 30}) == 15
    assert run.known_bound(Goal.WISHES, {Goal.UNPLACED: 0}) == 0
    assert run.known_bound(Goal.DRIVING, {Goal.UNPLACED: 30, Goal.WISHES: 20}) == 0

"""The same seed and effort give the same plan: work is counted in steps, and the clock only ends it early."""

import time
from collections.abc import Callable

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.result import Ended, Result
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up

pytestmark = pytest.mark.long


@pytest.fixture(scope="module", autouse=True)
def _warm() -> None:
    """Compiling is no part of a time limit."""
    warm_up()


HARD = WeekShape(45, preparation_a_day=45, meetings=True)
EFFORT = 1.0
"""Too little to prove it: the run is cut, by work alone."""


def planned(clock: Callable[[], float], *, workers: int = 2, time_limit: float = 10_000.0) -> Result:
    """The hard week with that effort, on that clock."""
    return solve(generate_week(HARD, 0), effort=EFFORT, workers=workers, time_limit=time_limit, monotonic=clock)


def slow() -> float:
    """The clock of a machine that is 50 times as slow."""
    return 50 * time.monotonic()


def test_a_slow_machine_and_other_workers_give_the_same_week() -> None:
    """Everything but the clock's own words is the same, also where the work ends before the proof."""
    one, other, alone = planned(time.monotonic), planned(slow), planned(time.monotonic, workers=1)
    assert one.ended is Ended.EFFORT
    for same in (other, alone):
        assert (same.plan, same.figures, same.stages) == (one.plan, one.figures, one.stages)
        assert (same.labels, same.ended, same.message) == (one.labels, one.ended, one.message)


def test_a_clock_that_ends_it_early_says_so() -> None:
    result = planned(slow, time_limit=20.0)
    assert result.ended is Ended.CLOCK
    assert result.stopped


def test_more_effort_is_no_worse() -> None:
    """The goals in order, each effort's week against that of a quarter of it."""
    week = generate_week(HARD, 1)
    little, more = (solve(week, effort=effort, time_limit=10_000.0) for effort in (0.25, 1.0))
    assert little.figures is not None
    assert more.figures is not None
    assert more.figures.in_order(week.goals) <= little.figures.in_order(week.goals)

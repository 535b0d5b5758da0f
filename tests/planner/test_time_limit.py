"""A search ends when its time is up, whatever it is at. How soon is measured in benchmarks/time_limit.py."""

from time import sleep

import numpy as np
import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.proving.columns import DayGraph, PricedRoutes, Weights
from schedule.planner.proving.generation import HaltedError, Walkers
from schedule.planner.week.model import build_model

HARD = WeekShape(60, buildings=10, starts_a_day=12)


def everything(graph: DayGraph) -> PricedRoutes:
    """Every day of a week in which all is worth having: far more labels than fit in a second."""
    prizes = np.full(len(graph.model.owed), 200.0)
    bounded = graph.bounded(Weights(1.0, 0.0, 0.0, 0.0, prizes, 0.0), 0.0, 0.0, no_miss=False)
    return graph.enumerate_below(bounded, 5000.0, no_miss=False, max_labels=200_000)


@pytest.mark.parametrize("workers", [1, 2])
def test_walks_under_way_end_when_the_time_is_up(workers: int) -> None:
    """A walk looks up label by label; so it makes hardly any, where it would make as many as it may."""
    time_is_up = False
    walkers = Walkers(build_model(generate_week(HARD, 1)), workers, False, lambda: time_is_up)
    assert walkers.usable
    [graph, *_] = walkers.graphs
    whole = everything(graph)
    made = graph.labels
    assert made >= 200_000
    assert not whole.complete

    def until_told_then_everything(one: DayGraph) -> PricedRoutes:
        """How soon word comes is the machine's affair; what is walked after it is ours."""
        nonlocal time_is_up
        time_is_up = True
        while not one.halt[0]:
            sleep(0.001)
        return everything(one)

    with pytest.raises(HaltedError):
        walkers.each(until_told_then_everything)
    assert graph.labels - made < 100
    time_is_up = False
    assert len(walkers.each(lambda one: one.lunch)) == len(walkers.graphs)
    assert [int(one.halt[0]) for one in walkers.graphs] == [0] * len(walkers.graphs)


def test_days_are_not_laid_out_once_the_time_is_up() -> None:
    """What is laid out by then serves nothing, and nothing is claimed from it."""
    looks = iter([False, False, True])
    walkers = Walkers(build_model(generate_week(HARD, 1)), 1, True, lambda: next(looks))
    assert len(walkers.graphs) == 2
    assert not walkers.usable

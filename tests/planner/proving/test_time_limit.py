"""A search ends when its time is up, whatever it is at. How soon is measured in benchmarks/time_limit.py."""

from dataclasses import dataclass
from math import inf
from time import sleep

import numpy as np
import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.check import check
from schedule.planner.problem import Goal
from schedule.planner.proving.columns import DayGraph, PricedRoutes, Weights
from schedule.planner.proving.walkers import Walkers
from schedule.planner.result import GoalFigures, Status
from schedule.planner.solve import solve
from schedule.planner.week.layout import build_model
from schedule.planner.week.work import LABEL, UNITS_A_SECOND, HaltedError

HARD = WeekShape(60, buildings=10, starts_a_day=12)
CROWDED = WeekShape(35, buildings=4, starts_a_day=1)
"""With seed 1 a first plan leaves out what a longer search places; with seed 0 some minutes have no place."""
SHORT = 0.5
MORE_AT_ONCE = 100
"""Labels that follow one: a walk looks whether it may go on before it follows the next."""


@dataclass
class Ticking:
    """A clock that goes on by the same whenever it is read: what a run does by it is the same on any machine."""

    now: float = 0.0

    def __call__(self) -> float:
        self.now += 0.01
        return self.now


def everything(graph: DayGraph) -> PricedRoutes:
    """Every day of a week in which all is worth having: far more labels than fit in a second."""
    prizes = np.full(len(graph.model.owed), 200.0)
    bounded = graph.bounded(Weights(1.0, 0.0, 0.0, 0.0, prizes, 0.0), 0.0, 0.0, no_miss=False)
    return graph.enumerate_below(bounded, 5000.0, no_miss=False, max_labels=200_000)


@pytest.mark.parametrize("workers", [1, 2])
def test_walks_under_way_end_when_the_time_is_up(workers: int) -> None:
    """A walk looks up label by label; so it makes hardly any, where it would make as many as it may."""
    time_is_up = False
    walkers = Walkers(build_model(generate_week(HARD, 1)), workers, False, lambda: 0.0 if time_is_up else 1.0)
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


def test_a_walk_makes_no_more_labels_than_the_work_left_allows() -> None:
    """Of a tenth of a second for all days each takes up to twice its share; what is cut counts for nothing."""
    walkers = Walkers(build_model(generate_week(HARD, 1)), 1, False, lambda: 0.1, by_work=True)
    days = len(walkers.graphs)
    most = 2 * 0.1 / days * UNITS_A_SECOND / LABEL
    with pytest.raises(HaltedError):
        walkers.each(everything)
    made = [graph.labels for graph in walkers.graphs]
    assert 0 < max(made) <= most + MORE_AT_ONCE


def test_days_are_not_laid_out_once_the_time_is_up() -> None:
    """What is laid out by then serves nothing, and nothing is claimed from it."""
    model, looked = build_model(generate_week(HARD, 1)), 0

    def walkers_after(looks: float) -> Walkers:
        """Laid out until somebody has looked so often: once a day, and while a day is laid out."""
        nonlocal looked
        looked = 0

        def left() -> float:
            nonlocal looked
            looked += 1
            return 0.0 if looked > looks else 1.0

        return Walkers(model, 1, True, left)

    assert walkers_after(inf).usable
    cut = [walkers_after(looks) for looks in range(0, looked, 3)]
    assert not any(one.usable for one in cut)
    laid_out = [len(one.graphs) for one in cut]
    assert laid_out == sorted(laid_out)
    assert set(laid_out) == set(range(len(model.days)))


def test_what_the_time_leaves_unplaced_is_placed_where_placing_may_take_longer() -> None:
    """The judge of both plans is `check`, which counts what is unplaced by itself."""
    problem, told = generate_week(CROWDED, 1), []

    def note(seconds: float, stage: str, message: str, figures: GoalFigures | None) -> None:
        told.append((seconds, figures.unplaced if figures else None))

    short = solve(problem, seed=1, workers=1, time_limit=SHORT, monotonic=Ticking())
    patient = solve(
        problem, seed=1, workers=1, time_limit=SHORT, placing_limit=2000, monotonic=Ticking(), progress=note
    )
    assert short.plan is not None
    assert patient.plan is not None
    left = [check(problem, plan).figures for plan in (short.plan, patient.plan)]
    assert [one.unplaced > 0 for one in left if one] == [True, False]
    placed_after = next(seconds for seconds, unplaced in told if unplaced == 0)
    assert placed_after > SHORT
    # The goals after placing have the usual time from then on: some, and little more.
    assert placed_after + SHORT <= patient.seconds < placed_after + 10 * SHORT


def test_placing_ends_when_it_is_proved_that_no_week_places_more() -> None:
    result = solve(
        generate_week(CROWDED, 0), seed=1, workers=1, time_limit=SHORT, placing_limit=2000, monotonic=Ticking()
    )
    assert (result.stages[0].goal, result.stages[0].status) == (Goal.UNPLACED, Status.OPTIMAL)
    assert result.stages[0].bound == result.stages[0].value > 0
    assert result.seconds < 200


def test_placing_ends_at_its_own_limit() -> None:
    """So early that nothing is proved yet; the goals after it still have their usual time."""
    result = solve(
        generate_week(CROWDED, 0), seed=1, workers=1, time_limit=SHORT, placing_limit=4, monotonic=Ticking()
    )
    assert result.stages[0].status is Status.FEASIBLE
    assert 4 <= result.seconds < 4 + 10 * SHORT
    assert result.stopped

"""One day on which everything is to be placed: the circuit with times beside the sets of visits."""

import math
from dataclasses import replace

import pytest

from benchmarks.plan_hard import generate_tour
from schedule.planner.problem import Problem
from schedule.planner.proving.tours.best import MOST_STATES, is_one_tour
from schedule.planner.proving.tours.circuit import CircuitFound, tour_by_circuit
from schedule.planner.proving.tours.states import StatesRanOutError, tour_by_states
from schedule.planner.result import Ended, Status
from schedule.planner.solve import solve
from schedule.planner.week.layout import build_model
from tests.planner.builders import random_tiny_week


def forever() -> float:
    return math.inf


def one_day(seed: int, *, lunch: bool) -> Problem:
    """The first day of a random week with each service owed once and nothing that couples days."""
    week = random_tiny_week(seed)
    first = week.days[0]
    blocks = tuple(one for one in first.blocks if one.place is not None)
    day = replace(first, preparation_minutes=0, blocks=blocks, lunch=first.lunch if lunch else None)
    services = tuple(
        replace(one, sessions=1, starts=tuple(replace(start, day=day.id) for start in one.starts))
        for one in week.services
    )
    return replace(
        week,
        days=(day,),
        services=services,
        groups=(),
        pins=(),
        current=None,
        preparation=None,
        longest_stretch=None,
    )


def both(problem: Problem) -> tuple[int | None, CircuitFound]:
    """The least driving by sets of visits, and what the circuit knows."""
    model = build_model(problem)
    assert is_one_tour(model)
    route = tour_by_states(model, MOST_STATES, lambda: False)
    return None if route is None else route.drive, tour_by_circuit(model, forever, forever)


@pytest.mark.parametrize("lunch", [False, True])
def test_a_circuit_never_claims_more_than_the_best_day_drives(lunch: bool) -> None:
    compared = 0
    for seed in range(60):
        least, found = both(one_day(seed, lunch=lunch))
        if least is None:
            assert found.route is None, seed
            continue
        compared += 1
        assert found.bound <= least, seed
        if found.route is not None:
            assert found.route.drive >= least, seed
        if not lunch:
            assert found.route is not None, seed
            assert found.route.drive == found.bound == least, seed
    assert compared > 8


@pytest.mark.parametrize("seed", [0, 1])
def test_a_day_of_wide_windows_is_proved(seed: int) -> None:
    """20 stops in windows of 240 minutes: far more sets of visits than can be kept."""
    problem = generate_tour(20, 240, seed)
    with pytest.raises(StatesRanOutError):
        tour_by_states(build_model(problem), 20_000, lambda: False)
    result = solve(problem, workers=1, effort=20.0, time_limit=120.0)
    assert (result.status, result.ended) == (Status.OPTIMAL, Ended.PROOF)
    assert result.work > 0


def test_it_ends_when_the_time_is_up() -> None:
    model = build_model(generate_tour(40, 240, 0))
    found = tour_by_circuit(model, lambda: 0.0, forever)
    assert found.bound >= 0
    before = model.work.seconds
    tour_by_circuit(model, forever, lambda: 0.2)
    assert 0 < model.work.seconds - before < 2

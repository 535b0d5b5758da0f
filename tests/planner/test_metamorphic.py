"""What must follow from one answer for another: doubled weeks, rules added, bounds and known plans."""

from collections.abc import Callable
from dataclasses import replace
from itertools import count

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.problem import Block, LongestStretch, Pin, Preparation, Problem
from schedule.planner.result import Status
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import NO_SAMENESS, random_tiny_week


def week(seed: int) -> Problem:
    """A generated week of 8 sessions that is proved in a moment."""
    return replace(generate_week(WeekShape(8, 3, 2, 4), seed), goals=NO_SAMENESS)


def value(problem: Problem) -> tuple[int, ...]:
    """The proved values of all goals."""
    result = solve(problem, workers=1, time_limit=60.0)
    assert result.status is Status.OPTIMAL
    assert result.figures is not None
    return result.figures.in_order(problem.goals)


def doubled(problem: Problem) -> Problem:
    """The week followed by a copy of it, with services of its own."""
    days = tuple(replace(day, id=f"again-{day.id}") for day in problem.days)
    services = tuple(
        replace(
            one,
            id=f"again-{one.id}",
            starts=tuple(replace(start, day=f"again-{start.day}") for start in one.starts),
            barred=(),
        )
        for one in problem.services
    )
    return replace(problem, days=(*problem.days, *days), services=(*problem.services, *services))


@pytest.mark.parametrize("seed", range(4))
def test_a_week_and_its_copy_cost_twice_as_much(seed: int) -> None:
    problem = week(seed)
    assert value(doubled(problem)) == tuple(2 * one for one in value(problem))


def shorter_days(problem: Problem) -> Problem:
    return replace(problem, days=tuple(replace(day, end=day.end - 45) for day in problem.days))


def with_a_meeting(problem: Problem) -> Problem:
    block = (Block(480, 525, problem.places[0].id, "meeting"),)
    return replace(problem, days=(replace(problem.days[0], blocks=block), *problem.days[1:]))


def from_a_base(problem: Problem) -> Problem:
    base = problem.places[0].id
    return replace(problem, days=tuple(replace(day, start_place=base, end_place=base) for day in problem.days))


def fewer_starts(problem: Problem) -> Problem:
    return replace(problem, services=tuple(replace(one, starts=one.starts[::2]) for one in problem.services))


def further_apart(problem: Problem) -> Problem:
    return replace(problem, services=tuple(replace(one, days_apart=2) for one in problem.services))


def with_a_pin(problem: Problem) -> Problem:
    one = problem.services[0]
    return replace(problem, pins=(Pin(one.id, one.starts[0].day, one.starts[0].at, one.starts[0].place),))


def with_wishes(problem: Problem) -> Problem:
    return replace(problem, preparation=Preparation(600, 30), longest_stretch=LongestStretch(90, 15))


def time_to_set_up(problem: Problem) -> Problem:
    return replace(problem, setup_minutes=10)


RULES = (
    shorter_days,
    with_a_meeting,
    from_a_base,
    fewer_starts,
    further_apart,
    with_a_pin,
    with_wishes,
    time_to_set_up,
)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("seed", range(3))
def test_a_rule_more_never_makes_a_week_better(rule: Callable[[Problem], Problem], seed: int) -> None:
    problem = week(seed)
    assert value(rule(problem)) >= value(problem)


@pytest.mark.parametrize("ticks", [2, 5, 9])
def test_bounds_of_a_run_cut_short_are_never_above_the_best_plan(ticks: int) -> None:
    cut = 0
    for seed in range(60):
        problem = random_tiny_week(seed)
        best = best_figures(problem)
        result = solve(problem, workers=1, time_limit=float(ticks), monotonic=count(0.0, 1.0).__next__)
        if best is None or result.plan is None:
            assert result.plan is None or best is not None, seed
            continue
        cut += result.stopped
        for number, stage in enumerate(result.stages):
            assert stage.bound <= best[number], seed
            if stage.value != best[number]:
                break
    assert cut > 10

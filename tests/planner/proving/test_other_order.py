"""Fewest moves before driving, driving before fewest moves: both held against every plan there is."""

from dataclasses import replace

import pytest

from schedule.planner.problem import DEFAULT_GOALS, DRIVING_FIRST, USUAL_TIMES_FIRST, Goal, Problem
from schedule.planner.proving.generation import Root
from schedule.planner.proving.proof import Settled
from schedule.planner.result import Status
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import at, random_tiny_week, service, tiny

type Order = tuple[Goal, ...]

BOTH = pytest.mark.parametrize(
    ("asked", "other"),
    [(USUAL_TIMES_FIRST, DRIVING_FIRST), (DRIVING_FIRST, USUAL_TIMES_FIRST)],
    ids=["usual times first", "driving first"],
)


def best_in(problem: Problem, order: Order) -> tuple[int, ...] | None:
    """The best of all plans in an order, sameness left aside."""
    return best_figures(replace(problem, goals=tuple(goal for goal in order if goal is not Goal.SAMENESS)))


def test_fewest_moves_come_before_driving_unless_asked_otherwise() -> None:
    """Two sessions now held in both schools; together in one of them they would need no drive."""
    sides = (at(480, "a"), at(520, "b")), (at(560, "b"), at(600, "a"))
    problem = tiny(service("x", *sides[0]), service("y", *sides[1]))
    apart = solve(replace(problem, goals=(Goal.UNPLACED, Goal.DRIVING)), workers=1)
    assert apart.figures is not None
    assert apart.figures.driving == 0
    held = tuple(replace(one, starts=one.starts[:1]) for one in problem.services)
    now = solve(replace(problem, services=held), workers=1)
    assert now.plan is not None
    following = replace(problem, current=now.plan.sessions)
    by_default = solve(replace(following, goals=DEFAULT_GOALS), workers=1)
    by_driving = solve(replace(following, goals=DRIVING_FIRST), workers=1)
    figures = [(one.figures.change, one.figures.driving) for one in (by_default, by_driving) if one.figures]
    assert figures == [(0, 10), (1, 0)]


@BOTH
@pytest.mark.long
@pytest.mark.parametrize("batch", range(4))
def test_both_orders_are_the_best_of_all_plans(batch: int, asked: Order, other: Order) -> None:
    compared = 0
    for seed in range(batch * 40, batch * 40 + 40):
        problem = replace(random_tiny_week(seed), goals=asked)
        mine, theirs = best_in(problem, asked), best_in(problem, other)
        result = solve(problem, workers=1, other=other)
        if mine is None or theirs is None:
            assert result.status is Status.INFEASIBLE, seed
            continue
        assert result.figures is not None, seed
        assert result.figures.in_order(asked)[:-1] == mine, seed
        assert [stage.status for stage in result.stages[:-1]] == [Status.OPTIMAL] * 4, seed
        if not problem.current:
            assert result.other is None, seed
            continue
        assert result.other is not None, seed
        assert result.other.proved, seed
        assert result.other.figures.in_order(other)[:-1] == theirs, seed
        compared += mine != tuple(result.other.figures.of(goal) for goal in asked[:-1])
    # The two orders differ in some of these weeks, or nothing was compared.
    assert compared > 0


@BOTH
def test_nothing_is_said_of_the_other_order_once_the_clock_has_run_out(asked: Order, other: Order) -> None:
    problem = replace(_week_with_both(), goals=asked)
    whole = solve(problem, workers=1, other=other)
    assert whole.other is not None
    cut = solve(problem, workers=1, other=other, stop=lambda: True)
    assert cut.plan is not None
    assert cut.other is None
    seen: list[str] = []
    late = solve(
        problem,
        workers=1,
        other=other,
        progress=lambda _seconds, stage, _message, _figures: seen.append(stage),
        stop=lambda: "other order" in seen,
    )
    # What was asked for is as good and as proved as ever; the rest was begun and isn't known.
    assert "other order" in seen
    assert (late.figures, late.stages, late.stopped) == (whole.figures, whole.stages, False)
    assert late.other is None


def _week_with_both() -> Problem:
    """A tiny week in which the two orders give different weeks."""
    for seed in range(400):
        problem = random_tiny_week(seed)
        if not problem.current or best_in(problem, USUAL_TIMES_FIRST) is None:
            continue
        usual, driving = best_in(problem, USUAL_TIMES_FIRST), best_in(problem, DRIVING_FIRST)
        assert usual is not None
        assert driving is not None
        if (usual[2], usual[3]) != (driving[3], driving[2]):
            return problem
    raise AssertionError("No tiny week tells the two orders apart.")


def test_a_first_week_takes_no_more_work_for_the_order() -> None:
    """Nothing can change in it, so that the search is the same whichever goal comes first."""
    for seed in (3, 8, 21):
        problem = replace(random_tiny_week(seed), current=None)
        usual, driving = (
            solve(replace(problem, goals=order), workers=1) for order in (USUAL_TIMES_FIRST, DRIVING_FIRST)
        )
        assert (usual.figures, usual.labels) == (driving.figures, driving.labels)


def test_what_a_proof_leaves_serves_only_while_all_that_it_held_is_held() -> None:
    held = {Goal.UNPLACED: 0, Goal.WISHES: 5, Goal.DRIVING: 30}
    settled = Settled(Goal.DRIVING, held, Root(0.0, [], [], [], 0.0), 0.0)
    assert settled.holds_in({**held, Goal.CHANGE: 2})
    assert settled.holds_in({**held, Goal.WISHES: 0})
    assert not settled.holds_in({**held, Goal.DRIVING: 31})
    assert not settled.holds_in({Goal.UNPLACED: 0, Goal.DRIVING: 30})

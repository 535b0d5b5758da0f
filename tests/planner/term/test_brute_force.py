"""Tiny terms against every plan of every week: nearest weeks, bounds, each rule switched on and off at random."""

import random
from dataclasses import replace

import pytest

from schedule.planner.problem import Problem, Service
from schedule.planner.result import Status
from schedule.planner.solve import solve
from schedule.planner.term.expected import against, standing_session
from schedule.planner.term.judge import check_term
from schedule.planner.term.kinds import KEEPING, OPTIMUM
from schedule.planner.term.plan import NoWeekError, plan_term
from schedule.planner.term.term import StandingTimetable, Term, TermResult, TermWeek
from tests.planner.brute import best_figures
from tests.planner.builders import random_tiny_week

pytestmark = pytest.mark.long


def random_term(seed: int) -> Term:
    """A tiny week three times, its starts bearing their day; then without some starts, or without a service."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    plain = replace(random_tiny_week(seed), current=None)
    plain = replace(
        plain,
        services=tuple(
            replace(one, starts=tuple(replace(start, pattern_key=start.day) for start in one.starts))
            for one in plain.services
        ),
        groups=tuple(
            replace(one, starts=tuple(replace(start, pattern_key=start.day) for start in one.starts))
            for one in plain.groups
        ),
    )
    weeks = [plain, plain, _without_some(plain, rng)]
    return Term(tuple(TermWeek(f"2026-09-{7 * n:02}", one) for n, one in enumerate(weeks, 1)))


def _without_some(problem: Problem, rng: random.Random) -> Problem:
    pinned = {(pin.unit, pin.day, pin.at) for pin in problem.pins}

    def left(one: Service) -> Service:
        starts = tuple(s for s in one.starts if rng.random() < 0.7 or (one.id, s.day, s.at) in pinned)
        return replace(one, starts=starts)

    return replace(problem, services=tuple(map(left, problem.services)))


def planned(term: Term) -> TermResult | None:
    """The answer, or ``None`` where a week has no plan, which brute force has to confirm."""
    try:
        return plan_term(term, workers=1, time_limit=60.0)
    except NoWeekError as error:
        week = next(one for one in term.weeks if one.id == error.week)
        assert best_figures(replace(week.problem, goals=OPTIMUM)) is None
        return None


@pytest.mark.parametrize("batch", range(4))
def test_weeks_and_bounds_equal_the_best_of_all_plans(batch: int) -> None:
    for seed in range(batch * 10, batch * 10 + 10):
        term = random_term(seed)
        found = planned(term)
        if found is None:
            continue
        for week, one in zip(term.weeks, found.weeks, strict=True):
            own = best_figures(replace(week.problem, goals=OPTIMUM))
            near = best_figures(replace(against(week, found.standing), goals=KEEPING))
            assert own is not None
            assert one.least_driving <= own[2] or one.figures.unplaced > own[0], seed
            if one.proved:
                assert one.figures.in_order(KEEPING) == near, seed
            else:
                assert near is not None
                assert one.figures.in_order(KEEPING) >= near, seed


@pytest.mark.parametrize("seed", range(100, 115))
def test_a_timetable_in_force_is_kept_as_far_as_any_plan_keeps_it(seed: int) -> None:
    """The timetable is some plan of the plain week, not one that suits the term."""
    term = random_term(seed)
    first = solve(replace(term.weeks[0].problem, goals=OPTIMUM), time_limit=10.0, workers=1)
    if first.plan is None:
        assert first.status is not Status.OPTIMAL
        return
    problem = term.weeks[0].problem
    standing = StandingTimetable(tuple(standing_session(problem, one) for one in first.plan.sessions))
    held = replace(term, standing=standing)
    found = planned(held)
    if found is None:
        return
    assert check_term(held, found) == ()
    for week, one in zip(term.weeks, found.weeks, strict=True):
        near = best_figures(replace(against(week, standing), goals=KEEPING))
        assert near is not None
        assert not one.proved or one.figures.in_order(KEEPING) == near, seed

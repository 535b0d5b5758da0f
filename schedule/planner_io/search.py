"""The search, as a run of the planner calls it."""

import random
import time
from collections.abc import Callable
from dataclasses import dataclass

from schedule.planner.check import check
from schedule.planner.construct import first_plan
from schedule.planner.improve import improve
from schedule.planner.model import build_model
from schedule.planner.problem import Problem
from schedule.planner.result import Figures, Result, Status, Unplaced, sessions_of_services
from schedule.planner.routes import plan_of


@dataclass(frozen=True, slots=True)
class News:
    """Something to tell the person who waits; no names."""

    stage: str
    message: str
    figures: Figures | None
    bound: int | None
    seconds: float


def search(
    problem: Problem, *, seed: int, seconds: int, news: Callable[[News], None], stopped: Callable[[], bool]
) -> Result:
    """Plan a week: a first plan, then better ones until the time is up or somebody asks to stop."""
    begun = time.monotonic()
    model = build_model(problem)
    state = first_plan(model)
    if state.broken_days:
        return Result(Status.INFEASIBLE, None, None, (), message="The fixed blocks and pins leave no room.")
    news(News("first plan", "first plan found", state.figures, None, time.monotonic() - begun))
    limit = begun + seconds / 2
    best = improve(
        state,
        random.Random(seed),  # noqa: S311 -- a search that can be repeated, no secret
        200,
        lambda: stopped() or time.monotonic() > limit,
        lambda _: None,
    )
    plan = plan_of(model, best.routes)
    figures = check(problem, plan).figures
    held = sessions_of_services(problem, plan.sessions)
    unplaced = tuple(
        Unplaced(s.id, s.sessions - len(held[s.id]), s.minutes, "No start was found.")
        for s in problem.services
        if s.sessions > len(held[s.id])
    )
    return Result(Status.FEASIBLE, plan, figures, (), unplaced, seed=seed)

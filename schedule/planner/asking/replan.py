"""Planning again from a good week: what is known of it (its days, and days tried before) starts the exact search.

``solve`` finds a week from nothing and proves it. Here a week is at hand, so the search for one is left out.
"""

import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from schedule.planner.problem import Goal, Problem
from schedule.planner.proving.exact import Exact
from schedule.planner.result import GoalFigures, Itinerary
from schedule.planner.week.floors import floor_of
from schedule.planner.week.improve import improve
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import DayModel, Model
from schedule.planner.week.objective import figures_of
from schedule.planner.week.routes import Route, best_route, plan_of
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import closest_state
from schedule.planner.week.work import Work

ROUNDS = 60
"""Rounds of large neighborhood search that only feed the exact search with days."""

MOST_KNOWN_DAYS = 6000

NEAR = 0.02
"""A week that drives at most this share more than any week must is near enough to hold others against."""

type VisitKey = tuple[str, int, int, str]
type KnownDay = tuple[str, tuple[VisitKey, ...]]
"""A day's id with its sessions (unit, start, end, place id): it means the same in another problem."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """A week with its figures, not yet judged. ``proved``: there is none better in the order of the goals asked.

    ``near``: proved before driving, and its driving lies within ``NEAR`` of the bound. ``known_days`` are days
    worth trying in a problem that differs little.
    """

    plan: Itinerary
    figures: GoalFigures
    proved: bool
    near: bool
    known_days: tuple[KnownDay, ...]


def is_near(known: Iterable[tuple[Goal, int, int]]) -> bool:
    """Whether goals with their values and bounds are proved, driving at least to within ``NEAR`` of its bound."""
    return all(value <= (bound * (1 + NEAR) if goal is Goal.DRIVING else bound) for goal, value, bound in known)


def replan(
    problem: Problem,
    start: Itinerary,
    goals: Iterable[Goal],
    *,
    remaining: Callable[[], float],
    held: Mapping[Goal, int] | None = None,
    known_days: Iterable[KnownDay] = (),
    seed: int = 0,
    workers: int = 2,
    work: Work | None = None,
    clock_left: Callable[[], float] | None = None,
) -> Replanned | None:
    """The goals brought to their best one after the other, those of ``held`` never above the values given there.

    ``remaining()`` says how many seconds are left: of work where it is to be counted in ``work``, beside it
    ``clock_left()``. ``None`` where no week keeps what is held: the start is taken over as far as the problem
    allows.
    """
    model = build_model(problem)
    model.work = work or model.work
    state = closest_state(WeekState(model), start)
    values = dict(held or {})
    if state is None or any(state.figures.of(goal) > value for goal, value in values.items()):
        return None
    by_work = work is not None
    exact = Exact(model, workers, remaining, lambda _: None, lambda _: None, clock_left=clock_left, by_work=by_work)
    exact.learn(_tried(state, seed, remaining))
    exact.learn(_ported(model, known_days))
    routes, known = list(state.routes), list[tuple[Goal, int, int]]()
    for goal in goals:
        before = values.pop(goal, None)
        proof = exact.prove(goal, values, routes, floor_of(model, goal))
        routes = list(proof.routes)
        known.append((goal, proof.value, proof.bound))
        values[goal] = proof.value if before is None else min(before, proof.value)
    days = tuple(_known(model, route) for route in list(exact.pool.values())[:MOST_KNOWN_DAYS])
    proved = all(value <= bound for _, value, bound in known)
    return Replanned(plan_of(model, routes), figures_of(model, routes), proved, is_near(known), days)


def _tried(state: WeekState, seed: int, remaining: Callable[[], float]) -> dict[Route, None]:
    """The days of the week, and of weeks near it."""
    tried = dict.fromkeys(state.routes)

    def see(trial: WeekState) -> None:
        tried.update(dict.fromkeys(trial.routes))

    rng = random.Random(seed)  # noqa: S311 - a search needs no secret
    improve(state, rng, ROUNDS, lambda: remaining() <= 0, lambda _: None, see, patience=ROUNDS)
    return tried


def _known(model: Model, route: Route) -> KnownDay:
    day = model.days[route.day]
    sessions = (day.nodes[n] for n in route.visits if day.nodes[n].unit is not None)
    return day.day.id, tuple((n.unit or "", n.start, n.end, model.place_ids[n.place]) for n in sessions)


def _sessions_of(day: DayModel) -> dict[tuple[str, int, int, str], int]:
    """The numbers of a day's nodes by what is known of a session: unit, start, end and place."""
    return {
        (node.unit, node.start, node.end, day.model.place_ids[node.place]): number
        for number, node in enumerate(day.nodes)
        if node.unit is not None
    }


def _ported(model: Model, known_days: Iterable[KnownDay]) -> list[Route]:
    """Known days as routes of this model, those that it allows, each timed again."""
    days = {day.day.id: day for day in model.days}
    numbers = {day.day.id: _sessions_of(day) for day in model.days}
    found: list[Route] = []
    for day_id, keys in known_days:
        if day_id not in days or any(key not in numbers[day_id] for key in keys):
            continue
        route = _timed(days[day_id], [numbers[day_id][key] for key in keys])
        if route is not None:
            found.append(route)
    return found


def _timed(day: DayModel, visits: list[int]) -> Route | None:
    return best_route(day, sorted({*visits, *day.required}))

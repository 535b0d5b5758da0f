"""Figures of a week of routes, for the search. The judge works them out again from the itinerary."""

from collections.abc import Sequence
from itertools import pairwise

from schedule.planner.problem import Goal
from schedule.planner.result import GoalFigures
from schedule.planner.week.model import BUNCHED_DAY_MINUTES, OFF_PATTERN_MINUTES, Model
from schedule.planner.week.routes import Route

STEP = 10**6
"""Larger than any one figure: goals in order become one integer without ever trading one for another."""


def held_times(model: Model, routes: Sequence[Route]) -> list[list[tuple[int, int]]]:
    """(day index, minute) of the sessions of each service, in order."""
    held: list[list[tuple[int, int]]] = [[] for _ in model.owed]
    for route in routes:
        nodes = model.days[route.day].nodes
        for visit in route.visits:
            for service in nodes[visit].services:
                held[service].append((route.day, nodes[visit].start))
    for sessions in held:
        sessions.sort()
    return held


def figures_of(model: Model, routes: Sequence[Route]) -> GoalFigures:
    """The value of every goal."""
    held = held_times(model, routes)
    missing = [max(0, owed - len(sessions)) for owed, sessions in zip(model.owed, held, strict=True)]
    prepared = sum(route.preparation for route in routes)
    return GoalFigures(
        unplaced=sum(count * value for count, value in zip(missing, model.value, strict=True)),
        wishes=sum(route.missed for route in routes) + max(0, model.preparation_wish - prepared),
        driving=sum(route.drive for route in routes),
        change=model.current_sessions - sum(route.kept for route in routes),
        sameness=sum(route.off for route in routes)
        + sum(service_sameness(model, number, sessions) for number, sessions in enumerate(held)),
    )


def service_sameness(model: Model, service: int, sessions: Sequence[tuple[int, int]]) -> int:
    """Bunching of the days and, for a service without a usual time, minutes off its own median."""
    if len(sessions) < 2:
        return 0
    ideal = model.ideal_distance(service)
    bunched = sum(max(0, ideal - (b[0] - a[0])) for a, b in pairwise(sessions)) * BUNCHED_DAY_MINUTES
    if not model.anchored[service]:
        return bunched
    minutes = sorted(at for _, at in sessions)
    median = minutes[(len(minutes) - 1) // 2]
    return bunched + sum(min(OFF_PATTERN_MINUTES, abs(at - median)) for at in minutes)


def median_times(model: Model, routes: Sequence[Route]) -> dict[int, int]:
    """For each service without a usual time that is held more than once: the median of its times of day."""
    held = held_times(model, routes)
    return {
        service: sorted(at for _, at in sessions)[(len(sessions) - 1) // 2]
        for service, sessions in enumerate(held)
        if model.anchored[service] and len(sessions) > 1
    }


def rank(figures: GoalFigures, goals: tuple[Goal, ...]) -> int:
    """The goals in order as one integer that sorts as the tuple of values would."""
    total = 0
    for value in figures.in_order(goals):
        total = total * STEP + value
    return total

"""A fast first plan: cheapest insertion, the session that would regret waiting most going first.

Regret insertion after J.-Y. Potvin and J.-M. Rousseau (1993), "A parallel route building algorithm for the
vehicle routing and scheduling problem with time windows", European Journal of Operational Research 66.
"""

import random

from schedule.planner.week.objective import STEP
from schedule.planner.week.state import Option, WeekState

NO_SECOND_DAY = STEP**6
"""Regret where only one day is left for a session: more than any difference in rank."""


def fill(state: WeekState, *, regret: bool, rng: random.Random | None = None, noise: float = 0.0) -> None:
    """Put in all missing sessions that fit. With ``rng`` the choice is blurred by up to ``noise``."""
    services = [service for service in range(len(state.model.owed)) if state.missing(service) > 0]
    days = range(len(state.model.days))
    table: dict[tuple[int, int], Option | None] = {
        (service, day): _find(state, service, day) for service in services for day in days
    }
    while True:
        choice = _choose(state, services, table, regret, rng, noise)
        if choice is None:
            return
        state.put(choice)
        touched = set(state.model.days[choice.day].nodes[choice.node].services)
        services = [service for service in services if state.missing(service) > 0]
        for service in services:
            for day in days:
                stale = table[service, day] is not None and not state.fits_counts(day, _node(table[service, day]))
                if day == choice.day or service in touched or stale:
                    table[service, day] = _find(state, service, day)


def _node(option: Option | None) -> int:
    return 0 if option is None else option.node


def _find(state: WeekState, service: int, day: int) -> Option | None:
    return state.best_option(service, day) if state.allowed(service, day) else None


def _choose(
    state: WeekState,
    services: list[int],
    table: dict[tuple[int, int], Option | None],
    regret: bool,
    rng: random.Random | None,
    noise: float,
) -> Option | None:
    """The option to take next: the greatest regret, or simply the cheapest."""
    best: tuple[float, int, Option] | None = None
    for service in services:
        found = [table[service, day] for day in range(len(state.model.days))]
        options = sorted((one for one in found if one is not None), key=lambda one: one.cost)
        if not options:
            continue
        if rng is not None and len(options) > 1 and rng.random() < noise:
            options = [options[1], options[0], *options[2:]]
        key: float = options[0].cost
        if regret:
            key = -_regret(state, service, options)
        if best is None or (key, options[0].cost) < best[:2]:
            best = (key, options[0].cost, options[0])
    return None if best is None else best[2]


def _regret(state: WeekState, service: int, options: list[Option]) -> int:
    """What waiting could cost: the step from the best day to the best day that would be one too few."""
    needed = state.missing(service)
    if len(options) <= needed:
        return NO_SECOND_DAY - len(options) + needed
    return options[needed].cost - options[0].cost

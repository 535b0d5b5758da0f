"""A fast first plan: cheapest insertion, the session that would regret waiting most going first.

Regret insertion after J.-Y. Potvin and J.-M. Rousseau (1993), "A parallel route building algorithm for the
vehicle routing and scheduling problem with time windows", European Journal of Operational Research 66.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from itertools import product

from schedule.planner.week.objective import STEP
from schedule.planner.week.state import Option, WeekState
from schedule.planner.week.work import OPTION

LOOK_EVERY = 20_000_000
"""Units of work between two looks whether the time is up: 20 milliseconds."""

NO_SECOND_DAY = STEP**6
"""Regret where only one day is left for a session: more than any difference in rank."""


def never() -> bool:
    """Nothing ends it on the way."""
    return False


def fill(
    state: WeekState,
    *,
    regret: bool,
    rng: random.Random | None = None,
    noise: float = 0.0,
    halted: Callable[[], bool] = never,
) -> None:
    """Put in all missing sessions that fit. With ``rng`` the choice is blurred by up to ``noise``.

    Once ``halted`` says that the time is up, what is in by then stays in.
    """
    for _ in insertions(state, regret=regret, rng=rng, noise=noise, halted=halted):
        pass


def insertions(
    state: WeekState,
    *,
    regret: bool,
    rng: random.Random | None = None,
    noise: float = 0.0,
    halted: Callable[[], bool] = never,
) -> Iterator[Option]:
    """Put in all missing sessions that fit, one by one, and tell each as it is put in.

    For each service and day the best option is remembered. A session that is put in changes what others cost on its
    day, and where else its own services may still go; everything else stays and isn't looked for again.
    """
    halted = _seldom(state, halted)
    table = _first_options(state, halted)
    services = list(dict.fromkeys(service for service, _ in table))
    while not halted() and (choice := _choose(state, services, table, regret, rng, noise)) is not None:
        state.put(choice)
        yield choice
        services = [service for service in services if state.missing(service) > 0]
        _look_again(state, table, services, choice)


def _first_options(state: WeekState, halted: Callable[[], bool]) -> dict[tuple[int, int], Option | None]:
    """The best option of each missing service on each day, as far as there is time."""
    table: dict[tuple[int, int], Option | None] = {}
    for service in _missing(state):
        if halted():
            break
        table.update({(service, day): _find(state, service, day) for day in _days(state)})
    return table


def _look_again(
    state: WeekState, table: dict[tuple[int, int], Option | None], services: Sequence[int], choice: Option
) -> None:
    """Find the options anew that putting in a session has changed."""
    touched = state.model.days[choice.day].nodes[choice.node].services
    for service, day in product(services, _days(state)):
        if day == choice.day or service in touched or _is_stale(state, table[service, day]):
            table[service, day] = _find(state, service, day)


def _seldom(state: WeekState, halted: Callable[[], bool]) -> Callable[[], bool]:
    """The same, asked after so much work only: most weeks are full before, and looking takes its time too."""
    work = state.model.work
    looked, said = work.done, False

    def after_some_work() -> bool:
        nonlocal looked, said
        if work.done - looked >= LOOK_EVERY:
            looked, said = work.done, halted()
        return said

    return after_some_work


def _days(state: WeekState) -> range:
    return range(len(state.model.days))


def _missing(state: WeekState) -> list[int]:
    """The services of which a session is owed and not held."""
    return [service for service in range(len(state.model.owed)) if state.missing(service) > 0]


def _is_stale(state: WeekState, option: Option | None) -> bool:
    """Whether an option covers a service that can't be held there any more (another member of its group)."""
    return option is not None and not state.fits_counts(option.day, option.node)


def _find(state: WeekState, service: int, day: int) -> Option | None:
    state.model.work.add(OPTION)
    if not state.allowed(service, day):
        return None
    state.model.work.add(OPTION * len(state.by_service[day][service]))
    return state.best_option(service, day)


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
        options = _options(state, table, service)
        if not options:
            continue
        if rng is not None and len(options) > 1 and rng.random() < noise:
            options = [options[1], options[0], *options[2:]]
        key: float = -_regret(state, service, options) if regret else options[0].cost
        if best is None or (key, options[0].cost) < best[:2]:
            best = (key, options[0].cost, options[0])
    return None if best is None else best[2]


def _options(state: WeekState, table: dict[tuple[int, int], Option | None], service: int) -> list[Option]:
    """The best option of each day for a service, cheapest first."""
    found = [table[service, day] for day in _days(state)]
    return sorted((one for one in found if one is not None), key=lambda one: one.cost)


def _regret(state: WeekState, service: int, options: list[Option]) -> int:
    """What waiting could cost: the step from the best day to the best day that would be one too few."""
    needed = state.missing(service)
    if len(options) <= needed:
        return NO_SECOND_DAY - len(options) + needed
    return options[needed].cost - options[0].cost

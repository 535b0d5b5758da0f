"""Weeks that hold one given visit, made from a week that doesn't: what is in its way is put elsewhere."""

from collections.abc import Iterable
from itertools import islice, product

from schedule.planner.week.construct import fill
from schedule.planner.week.state import WeekState

MOST_EJECTED = 4
"""Sessions taken out of a day to make room for one."""

MOST_SWAPS = 6


def weeks_with(state: WeekState, day: int, node: int) -> Iterable[WeekState]:
    """Weeks that hold the node: sessions of its services that are one too many make way, then what overlaps."""
    services = state.model.days[day].nodes[node].services
    surplus = [_holders(state, service, day) for service in services if not state.allowed(service, day)]
    for chosen in islice(product(*surplus), MOST_SWAPS):
        trial = state.copy()
        if not all(trial.take_out(d, {n}) for d, n in dict.fromkeys(chosen) if n in trial.visits[d]):
            continue
        if _forced(trial, day, node):
            fill(trial, regret=True)
            yield trial


def _holders(state: WeekState, service: int, day: int) -> list[tuple[int, int]]:
    """Movable visits that cover a service, those of the day itself first."""
    found = [
        (d, n)
        for d in range(len(state.visits))
        for n in state.movable(d)
        if service in state.model.days[d].nodes[n].services
    ]
    return sorted(found, key=lambda one: (one[0] != day, one))


def _forced(state: WeekState, day: int, node: int) -> bool:
    """Put the node in, taking out the movable visits nearest to it until it fits; whether it did."""
    nodes = state.model.days[day].nodes
    middle = nodes[node].start + nodes[node].end
    for _ in range(MOST_EJECTED + 1):
        option = state.option(day, node)
        if option is not None:
            state.put(option)
            return True
        near = sorted(state.movable(day), key=lambda n: abs(nodes[n].start + nodes[n].end - middle))
        if not near or not state.take_out(day, {near[0]}):
            return False
    return False

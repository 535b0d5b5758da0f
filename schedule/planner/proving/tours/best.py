"""The least driving of one day on which everything is placed.

Sets of visits are few where windows are narrow; where they are wide, the circuit with times is proved much sooner.
The circuit knows nothing of lunch, so its bound is one for the day with lunch as well, and its order of visits may
leave no room for it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from schedule.planner.proving.columns import MOST_BITS
from schedule.planner.proving.tours.circuit import tour_by_circuit
from schedule.planner.proving.tours.states import StatesRanOutError, tour_by_states
from schedule.planner.week.model import Model
from schedule.planner.week.routes import Route

FEW_STATES, MOST_STATES = 200_000, 2_000_000
"""States before the circuit is tried, and where it leaves a gap; some hundreds of megabytes."""


MANY_STARTS = 2_000
"""Starts of a day beyond which sets of visits are seldom few enough, and the circuit comes first."""


@dataclass(frozen=True, slots=True)
class Tour:
    """The best day known with everything placed, ``None`` where none is, and what none can go below in driving."""

    route: Route | None
    bound: int

    @property
    def is_proved(self) -> bool:
        """Whether the day is the best."""
        return self.route is not None and self.route.drive <= self.bound


def is_one_tour(model: Model) -> bool:
    """Whether the problem is one day with each service owed once, without groups, wishes or loose blocks."""
    day = model.days[0]
    plain = len(model.days) == 1 and not model.uses_wishes and not day.one_of
    once = all(owed == 1 for owed in model.owed) and 0 < len(model.owed) <= MOST_BITS
    return plain and once and all(len(node.services) <= 1 for node in day.nodes)


def best_tour(model: Model, clock_left: Callable[[], float], effort_left: Callable[[], float]) -> Tour:
    """What is known of a model that is one tour, within seconds of the clock and of work."""

    def halted() -> bool:
        return clock_left() <= 0 or effort_left() <= 0

    found = None
    if len(model.days[0].nodes) <= MANY_STARTS and not halted():
        found = _by_states(model, FEW_STATES, halted)
    if found is not None or halted():
        return found or Tour(None, 0)
    by_circuit = tour_by_circuit(model, clock_left, effort_left)
    relaxed = Tour(by_circuit.route, by_circuit.bound)
    done = relaxed.is_proved or halted()
    return relaxed if done else (_by_states(model, MOST_STATES, halted) or relaxed)


def _by_states(model: Model, most: int, halted: Callable[[], bool]) -> Tour | None:
    try:
        route = tour_by_states(model, most, halted)
    except StatesRanOutError:
        return None
    return Tour(route, route.drive if route is not None else 0)

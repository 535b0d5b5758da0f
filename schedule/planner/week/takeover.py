"""A plan taken over into the search: as a state that sessions can be tried in and moved about."""

from collections.abc import Callable

from schedule.planner.problem import Session
from schedule.planner.result import Itinerary
from schedule.planner.week.construct import fill, never
from schedule.planner.week.model import Model
from schedule.planner.week.state import WeekState


def state_of(model: Model, plan: Itinerary) -> WeekState | None:
    """The plan as a state that sessions can be tried in; ``None`` if a session of it has no node."""
    state = WeekState(model)
    if state.broken_days:
        return None
    for session in plan.sessions:
        day = model.problem.day_index(session.day)
        node = node_of(model, session)
        if node is None:
            return None
        if model.days[day].nodes[node].fixed:
            continue
        option = state.option(day, node)
        if option is None:
            return None
        state.put(option)
    return state


def node_of(model: Model, session: Session) -> int | None:
    """The number of a session's node on its day; ``None`` where it could not begin then and there."""
    for number, node in enumerate(model.days[model.problem.day_index(session.day)].nodes):
        if (node.unit, node.start) == (session.unit, session.at) and model.place_ids[node.place] == session.place:
            return number
    return None


def closest_state(state: WeekState, plan: Itinerary, halted: Callable[[], bool] = never) -> WeekState | None:
    """As much of a plan as an empty state allows, the rest put in where cheapest; ``None`` for broken days.

    Once ``halted`` says so, nothing more is put in.
    """
    if state.broken_days:
        return None
    for session in plan.sessions:
        node = node_of(state.model, session)
        day = state.model.problem.day_index(session.day)
        option = state.option(day, node) if node is not None and node not in state.visits[day] else None
        if option is not None:
            state.put(option)
    fill(state, regret=True, halted=halted)
    return state

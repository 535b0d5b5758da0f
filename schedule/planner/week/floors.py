"""Lower bounds of goals that are known without any search."""

from schedule.planner.problem import Goal
from schedule.planner.week.model import Model


def floor_of(model: Model, goal: Goal) -> int:
    """A lower bound that is known without any search."""
    if goal is not Goal.UNPLACED:
        return 0
    return sum(
        max(0, owed - _most_sessions(model, service)) * model.value[service]
        for service, owed in enumerate(model.owed)
    )


def _most_sessions(model: Model, service: int) -> int:
    """The most sessions of a service that its starts allow, all else left aside."""
    apart = model.days_apart[service]
    days = [day.index for day in model.days if any(service in node.services for node in day.nodes)]
    if apart == 0:
        return sum(service in node.services for day in model.days for node in day.nodes)
    count, last = 0, -apart
    for day in days:
        if day - last >= apart:
            count, last = count + 1, day
    return count

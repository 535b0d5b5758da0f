"""Lower bounds of goals that are known without any search."""

from collections import Counter
from itertools import chain

from schedule.planner.problem import Goal
from schedule.planner.week.model import Model


def floor_of(model: Model, goal: Goal) -> int:
    """A lower bound that is known without any search."""
    if goal is not Goal.UNPLACED:
        return 0
    starts = [Counter(chain.from_iterable(node.services for node in day.nodes)) for day in model.days]
    return sum(
        max(0, owed - _most_sessions(model, service, [one[service] for one in starts])) * model.value[service]
        for service, owed in enumerate(model.owed)
    )


def _most_sessions(model: Model, service: int, starts: list[int]) -> int:
    """The most sessions of a service that its starts allow, all else left aside; ``starts``: how many each day."""
    apart = model.days_apart[service]
    if apart == 0:
        return sum(starts)
    count, last = 0, -apart
    for day in (day for day, here in enumerate(starts) if here):
        if day - last >= apart:
            count, last = count + 1, day
    return count

"""Sets of days on which a service can be held, and what each adds to sameness."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from schedule.planner.week.model import BUNCHED_DAY_MINUTES, Model

MOST_PATTERNS = 2_000


@dataclass(frozen=True, slots=True)
class Pattern:
    """Days of one service, by index, and the minutes by which they stand closer than evenly spread."""

    days: tuple[int, ...]
    bunched: int


def patterns_of(model: Model, service: int, days: Sequence[int], fewest: int) -> list[Pattern] | None:
    """Every set of at least ``fewest`` of the days on which the service may be held.

    ``None`` where a service may be held twice a day, once in all, or where the sets are too many to list: then
    nothing is said of how its days are spread.
    """
    owed, apart = model.owed[service], model.days_apart[service]
    if apart == 0 or owed < 2:
        return None
    ideal = model.ideal_distance(service)
    found: list[Pattern] = []
    for size in range(fewest, min(owed, len(days)) + 1):
        for chosen in combinations(days, size):
            steps = [later - earlier for earlier, later in pairwise(chosen)]
            if all(step >= apart for step in steps):
                found.append(Pattern(chosen, BUNCHED_DAY_MINUTES * sum(max(0, ideal - step) for step in steps)))
                if len(found) > MOST_PATTERNS:
                    return None
    return found

"""Whether there is a week at all: pins, blocks and lunch kept, before anything is sought."""

from collections.abc import Sequence
from itertools import pairwise

from schedule.planner.proving.arcs import way_through
from schedule.planner.result import Ended, Result, Status
from schedule.planner.week.model import Model
from schedule.planner.week.state import WeekState


def why_impossible(model: Model, state: WeekState) -> Result | None:
    """An answer without a plan, where pins and blocks alone can't be kept; ``None`` where they can.

    A day that can only be kept with other sessions between its pins gets them in ``state``.
    """
    return _close_pins(model) or _broken_days(model, state)


def _close_pins(model: Model) -> Result | None:
    close = [number for number in range(len(model.owed)) if _too_close(model, number)]
    if not close:
        return None
    service = model.problem.services[close[0]]
    text = f"The pins of {service.label or service.id} are too close together. Remove one of them."
    return Result(Status.INFEASIBLE, None, None, (), message=text)


def _too_close(model: Model, service: int) -> bool:
    return any(b - a < model.days_apart[service] for a, b in pairwise(sorted(model.pinned[service])))


def _broken_days(model: Model, state: WeekState) -> Result | None:
    ways = {number: way_through(model.days[number]) for number in state.broken_days}
    never = [number for number, way in ways.items() if way is None]
    if never:
        text = f"Pins, blocks and lunch can't all be kept on {_names(model, never)}. Move or remove one of them."
        return Result(Status.INFEASIBLE, None, None, (), message=text)
    unknown = [number for number, way in ways.items() if not state.mend(number, way or ())]
    if not unknown:
        return None
    text = (
        f"Pins, blocks and lunch can't all be kept on {_names(model, unknown)} unless other sessions stand between "
        "them, on roads by which a detour is quicker. No week was found, and it isn't proved that there is none. "
        "Move or remove one of them, or look at the drive times."
    )
    return Result(Status.UNKNOWN, None, None, (), message=text, stopped=True, ended=Ended.DETOURS)


def _names(model: Model, days: Sequence[int]) -> str:
    return ", ".join(model.problem.name_of_day(model.days[number].day.id) for number in days)

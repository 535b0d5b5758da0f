"""Whether there is a week at all: pins, blocks and lunch kept, before anything is sought."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from schedule.planner.proving.arcs import FROM, TO_NODE, WITH, Steps, usable_nodes
from schedule.planner.result import ENDED_WORDS, Ended, Result, Status
from schedule.planner.run import Run
from schedule.planner.week.model import DayModel, Model
from schedule.planner.week.state import WeekState
from schedule.planner.week.work import HaltedError


def why_impossible(model: Model, state: WeekState, run: Run) -> Result | None:
    """An answer without a plan, where pins and blocks alone can't be kept; ``None`` where they can.

    A day that can only be kept with other sessions between its pins gets them in ``state``. Where the run is over
    before that is known, so is the answer.
    """
    try:
        return _close_pins(model) or _broken_days(model, state, lambda: run.remaining() <= 0)
    except HaltedError:
        text = f"Whether pins, blocks and lunch can all be kept on {_names(model, state.broken_days)} isn't known: "
        ended = run.ended_by_time()
        return Result(
            Status.UNKNOWN, None, None, (), message=f"{text}{ENDED_WORDS[ended]}.", stopped=True, ended=ended
        )


def _close_pins(model: Model) -> Result | None:
    close = [number for number in range(len(model.owed)) if _too_close(model, number)]
    if not close:
        return None
    service = model.problem.services[close[0]]
    text = f"The pins of {service.label or service.id} are too close together. Remove one of them."
    return Result(Status.INFEASIBLE, None, None, (), message=text)


def _too_close(model: Model, service: int) -> bool:
    return any(b - a < model.days_apart[service] for a, b in pairwise(sorted(model.pinned[service])))


def _broken_days(model: Model, state: WeekState, halted: Callable[[], bool]) -> Result | None:
    ways = {number: _way_through(model.days[number], halted) for number in state.broken_days}
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


def _way_through(day: DayModel, halted: Callable[[], bool]) -> list[int] | None:
    """Visits from a day's beginning to its end that keep pins, blocks and lunch; ``None``: there are none, proved.

    Other sessions may stand in between, where drives by way of a third place are shorter than straight ones, and
    one service may be met too often: it must still be asked whether the visits may be held. Raises ``HaltedError``
    once ``halted`` says so.
    """
    if not _fit_the_clock(day):
        return None
    nodes = usable_nodes(day)
    last, needs_lunch = len(nodes) - 1, int(day.day.lunch is not None)
    # By lunches had and node: the node that it was reached from, with as many lunches but for the step's own.
    came = np.full((2, len(nodes)), -1, np.int64)
    lunched = np.zeros((2, len(nodes)), np.int64)
    came[0, 0] = 0
    # Steps come in order of the nodes that they begin at, and nodes in order of time.
    for rows in Steps(day, nodes).pieces(every_start=True, halted=halted):
        for with_lunch, lunch in ((0, 0), (0, 1), (1, 0)):
            some = rows[rows[:, WITH] == with_lunch]
            if len(some) and came[lunch, some[0, FROM]] >= 0:
                fresh = some[came[lunch + with_lunch, some[:, TO_NODE]] < 0]
                came[lunch + with_lunch, fresh[:, TO_NODE]] = fresh[:, FROM]
                lunched[lunch + with_lunch, fresh[:, TO_NODE]] = with_lunch
    if came[needs_lunch, last] < 0:
        return None
    found, lunch, at = list[int](), needs_lunch, last
    while at:
        lunch, at = lunch - int(lunched[lunch, at]), int(came[lunch, at])
        found.append(nodes[at])
    return found[-2::-1]


def _fit_the_clock(day: DayModel) -> bool:
    """Whether what every route holds lies inside the contract day and doesn't overlap, places left aside."""
    nodes = day.nodes
    every = [[number] for number in day.required] + day.one_of
    times = sorted((nodes[copies[0]].start, min(nodes[n].end for n in copies)) for copies in every)
    ends = [(day.day.start, day.day.start), *times, (day.day.end, day.day.end)]
    return all(before[1] <= after[0] for before, after in pairwise(ends))

"""How long the search for a week may take: the usual time, or as long as it needs to place everything.

A search is measured in work, so that a busy machine finds the same week as an idle one; the clock only ends it
early.
"""

import datetime as dt
import time
from collections.abc import Callable
from dataclasses import dataclass

from accounts.dates import date_words

type Clock = Callable[[], float]

CLOCK_TIMES = 3
"""Seconds that the clock leaves a search for each one of its work, where the run has as many."""


def clock_limit(work: float, share: float) -> float:
    """Seconds after which the clock ends so much work; ``share`` is what the run has for this week."""
    return max(work, min(CLOCK_TIMES * work, share))


def cut_words(monday: dt.date) -> str:
    """That the clock ended a week's search before its work was done, and what to do."""
    return (
        f"Week of {date_words(monday)}: time ran out before the search had done all of its work, because the "
        "machine was busy or many weeks were planned at once. Planned again by itself, the week may come out "
        "otherwise."
    )


@dataclass(frozen=True, slots=True)
class Patience:
    """What the planner is told of time: its clock, the seconds that placing may take, when to end."""

    clock: Clock
    stop: Callable[[], bool]
    placing_limit: float = 0.0


def patience(
    stop_asked: Callable[[], bool],
    longest: float = 0.0,
    *,
    passed: Clock = time.monotonic,
    worked: Clock = time.process_time,
) -> Patience:
    """The run's own seconds and no more; or, if ``longest`` isn't 0, as long as it takes to place everything.

    Then so many seconds of waiting end it all the same, and seconds count as far as the machine worked on them:
    ``passed`` tells the time, ``worked`` the processor time of this process, and the lesser of the two is what the
    search has had.
    """
    if not longest:
        return Patience(passed, stop_asked)
    passed_before, worked_before = passed(), worked()

    def clock() -> float:
        return min(passed() - passed_before, worked() - worked_before)

    def stop() -> bool:
        return stop_asked() or passed() - passed_before >= longest

    return Patience(clock, stop, longest)

"""What a run of the term planner may take, and who is told how far it is."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from schedule.planner.result import Ended
from schedule.planner.week.work import Work

type TermProgress = Callable[[float, str, int, int], None]
"""Seconds, what is being done, how many weeks are done, of how many."""


@dataclass(slots=True)
class Budget:
    """Seconds of work and of the clock; a person may end the run at any time.

    ``effort``: seconds of work, counted in steps (``week.work``), which decide how far every part of the run goes.
    The clock only ends it early. ``stopped``: something was left undone, as ``ended`` says by what.
    """

    time_limit: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None = None
    progress: TermProgress | None = None
    effort: float = math.inf
    work: Work = field(default_factory=Work)
    began: float = 0.0
    stopped: bool = False
    by_hand: bool = False
    by_clock: bool = False

    def elapsed(self) -> float:
        """Seconds since the run began."""
        return self.monotonic() - self.began

    def clock_left(self) -> float:
        """Seconds left on the clock; 0 once a person has stopped it."""
        self.by_hand = self.by_hand or (self.stop is not None and self.stop())
        left = 0.0 if self.by_hand else max(0.0, self.time_limit - self.elapsed())
        self.by_clock = self.by_clock or left <= 0
        return left

    def effort_left(self) -> float:
        """Seconds of work left."""
        return max(0.0, self.effort - self.work.seconds)

    def remaining(self) -> float:
        """Seconds left of work or on the clock, whichever is less; 0 once a person has stopped it."""
        left = min(self.clock_left(), self.effort_left())
        self.stopped = self.stopped or left <= 0
        return left

    @property
    def ended(self) -> Ended:
        """What ended the run: proof where nothing was left undone."""
        if not self.stopped:
            return Ended.PROOF
        if self.by_hand:
            return Ended.PERSON
        return Ended.CLOCK if self.by_clock else Ended.EFFORT

    def tell(self, message: str, done: int, weeks: int) -> None:
        """Report progress."""
        if self.progress is not None:
            self.progress(self.elapsed(), message, done, weeks)

"""What a run of the term planner may take, and who is told how far it is."""

from collections.abc import Callable
from dataclasses import dataclass

type TermProgress = Callable[[float, str, int, int], None]
"""Seconds, what is being done, how many weeks are done, of how many."""


@dataclass(slots=True)
class Budget:
    """Seconds and how they are counted; a person may end the run at any time."""

    time_limit: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None = None
    progress: TermProgress | None = None
    began: float = 0.0
    stopped: bool = False

    def elapsed(self) -> float:
        """Seconds since the run began."""
        return self.monotonic() - self.began

    def remaining(self) -> float:
        """Seconds left; 0 once a person has stopped it."""
        asked_to_end = self.stop is not None and self.stop()
        left = 0.0 if asked_to_end else max(0.0, self.time_limit - self.elapsed())
        self.stopped = self.stopped or left <= 0
        return left

    def tell(self, message: str, done: int, weeks: int) -> None:
        """Report progress."""
        if self.progress is not None:
            self.progress(self.elapsed(), message, done, weeks)

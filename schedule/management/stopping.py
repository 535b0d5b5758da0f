"""Being told to stop while a search runs: Ctrl-C and SIGTERM ask it to end with the best that it has."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType

SIGNALS = {signal.SIGINT: "Ctrl-C", signal.SIGTERM: "SIGTERM"}


@dataclass(slots=True)
class Stopping:
    """Whether somebody asked to stop, and how."""

    number: int | None = None

    def asked(self) -> bool:
        """For a search to poll."""
        return self.number is not None

    @property
    def words(self) -> str:
        """``Ctrl-C`` or ``SIGTERM``."""
        return SIGNALS[signal.Signals(self.number)] if self.number is not None else ""

    @property
    def exit_code(self) -> int:
        """128 and the signal's number, as shells count it; 0 if nobody asked."""
        return 128 + self.number if self.number is not None else 0


@contextmanager
def stop_on_signals(say: Callable[[str], None]) -> Iterator[Stopping]:
    """The first signal is kept for the search to see, and said; a second one ends the process at once.

    Outside the main thread signals can't be caught, and stay what they were.
    """
    stopping = Stopping()
    if threading.current_thread() is not threading.main_thread():
        yield stopping
        return
    before = {one: signal.getsignal(one) for one in SIGNALS}

    def catch(number: int, frame: FrameType | None) -> None:
        stopping.number = number
        for one in SIGNALS:
            signal.signal(one, signal.SIG_DFL)
        say(
            f"Stopping ({stopping.words}): the best plan so far is kept. A second time ends this at once "
            "without it."
        )

    for one in SIGNALS:
        signal.signal(one, catch)
    try:
        yield stopping
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)

"""How much longer a drive takes at a time of day. Pure: times are minutes after local midnight.

What a district says of one pair of buildings replaces what it says of all pairs, where both cover the time. Among
rows of one kind that cover the time, the largest counts: a plan that is a little too generous gets there.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

NO_FACTOR = 1.0
DAY_MINUTES = 1440


@dataclass(frozen=True, slots=True)
class RushWindow:
    """Drives that start from minute `start` up to, but not at, minute `end` take `factor` times as long.

    `pair` is origin and destination by their ids, ``None`` for the whole district.
    """

    start: int
    end: int
    factor: float
    pair: tuple[int, int] | None = None

    def covers(self, minute: int) -> bool:
        """Whether a drive that starts then falls into it."""
        return self.start <= minute < self.end


def factor_at(windows: Iterable[RushWindow], pair: tuple[int, int], minute: int) -> float:
    """The factor of a drive that starts at a minute."""
    covering = [window for window in windows if window.covers(minute)]
    own = [window.factor for window in covering if window.pair == pair]
    everywhere = [window.factor for window in covering if window.pair is None]
    return max(own or everywhere or [NO_FACTOR])


def factor_within(
    windows: Sequence[RushWindow], pair: tuple[int, int], first: int = 0, last: int = DAY_MINUTES - 1
) -> float:
    """The largest factor of drives that start from `first` to `last`, both included.

    The factor only changes where a window starts or ends, so that it's enough to ask there.
    """
    edges = {first} | {edge for window in windows for edge in (window.start, window.end) if first <= edge <= last}
    return max(factor_at(windows, pair, minute) for minute in edges)

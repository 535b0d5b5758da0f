"""Where a day stands at a moment: what is over, and before which line the mark goes. No clock, no database.

Minutes are counted from midnight. Each line says by itself until when it stays, so that the page's script, which
goes by the phone's clock, decides nothing again.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from schedule.day.data import DayLine

MIDNIGHT = 24 * 60


@dataclass(frozen=True, slots=True)
class LineNow:
    """A line, and the minute from which it is among what is over."""

    line: DayLine
    until: int


@dataclass(frozen=True, slots=True)
class DayNow:
    """The lines that are over, and the others; the mark stands before the one at `mark`, behind all at their count.

    `clock` is the time of day that the mark says, None on another day than today: then nothing is over.
    """

    earlier: tuple[LineNow, ...]
    rest: tuple[LineNow, ...]
    mark: int
    clock: dt.time | None
    minute: int

    @property
    def to_log(self) -> int:
        """How many sessions that are over wait for their log."""
        return sum(one.line.log == "waiting" for one in self.earlier)


def day_at(lines: Sequence[DayLine], now: dt.datetime | None) -> DayNow:
    """The lines of today at a local moment; None for another day."""
    timed = [LineNow(line, stays_until(line, lines)) for line in lines]
    if now is None:
        return DayNow((), tuple(timed), 0, None, 0)
    minute = 60 * now.hour + now.minute
    rest = tuple(one for one in timed if one.until > minute)
    mark = next((at for at, one in enumerate(rest) if one.line.end_minute > minute), len(rest))
    return DayNow(tuple(one for one in timed if one.until <= minute), rest, mark, now.time(), minute)


def stays_until(line: DayLine, lines: Sequence[DayLine]) -> int:
    """The minute from which a line is among what is over.

    That is its end; but a drive stays until somebody says that it has ended, and a session that waits for its log
    until the next session or drive begins.
    """
    if line.leg is not None and line.leg.may_arrive:
        return MIDNIGHT
    if line.log != "waiting" or line.off:
        return line.end_minute
    later = (one.start_minute for one in lines if one.kind in {"session", "drive"} and not one.off)
    return min((start for start in later if start >= line.end_minute), default=MIDNIGHT)

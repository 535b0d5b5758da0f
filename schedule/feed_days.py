"""Which dates are closed in which building, from the calendar's entries alone.

Pure. A building's own entries come before the district's, and among those of one rank the one that closes wins: the
same order as in `schedule.calendars`.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DayEntry:
    """A stretch of dates of one building (None: of all), and whether it closes them to classes."""

    building: int | None
    first: dt.date
    last: dt.date
    closes: bool


class ClosedDays:
    """Answers for a building and a date."""

    def __init__(self, entries: Iterable[DayEntry]) -> None:
        self._entries: dict[int | None, list[DayEntry]] = defaultdict(list)
        for entry in entries:
            self._entries[entry.building].append(entry)

    def on(self, building: int, date: dt.date) -> bool:
        """Whether no class meets there on that date."""
        for rank in (building, None):
            holding = [entry for entry in self._entries.get(rank, ()) if entry.first <= date <= entry.last]
            if holding:
                return any(entry.closes for entry in holding)
        return False

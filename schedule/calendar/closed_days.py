"""Which dates are closed in which building, from the calendar's entries alone.

Pure. A building's own entries come before the district's, and among those of one rank the one that closes wins: the
same order as in `schedule.calendar.calendars`.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Closing(StrEnum):
    """What keeps classes away: nobody is there, or only the staff."""

    CLOSED = "closed"
    NO_STUDENTS = "no_students"


CLOSING_KINDS = frozenset(Closing)


@dataclass(frozen=True, slots=True)
class DayEntry:
    """A stretch of dates of one building (None: of all), and whether it closes them to classes, and how."""

    building: int | None
    first: dt.date
    last: dt.date
    closing: Closing | None


def day_entry(building: int | None, first: dt.date, last: dt.date, kind: str) -> DayEntry:
    """An entry by the calendar's kind; one that closes nothing still comes before the district's closing."""
    return DayEntry(building, first, last, Closing(kind) if kind in CLOSING_KINDS else None)


class ClosedDays:
    """Answers for a building and a date."""

    def __init__(self, entries: Iterable[DayEntry]) -> None:
        self._entries: dict[int | None, list[DayEntry]] = defaultdict(list)
        for entry in entries:
            self._entries[entry.building].append(entry)

    def closing(self, building: int, date: dt.date) -> Closing | None:
        """What keeps classes away there on that date, None on a usual day; closed comes before staff only."""
        for rank in (building, None):
            holding = [entry for entry in self._entries.get(rank, ()) if entry.first <= date <= entry.last]
            if holding:
                found = {entry.closing for entry in holding if entry.closing is not None}
                return min(found, default=None)  # in the order of the alphabet: "closed" is the first
        return None

    def on(self, building: int, date: dt.date) -> bool:
        """Whether no class meets there on that date."""
        return self.closing(building, date) is not None

"""When a teacher is busy, out of a calendar of their own; for planning around it.

Pure. Only times are taken: no title and no place leaves the file. Free ("transparent") and cancelled events don't
block, nor do days marked as a whole unless the calendar says that they are busy: birthdays stand there.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import icalendar

from schedule.school_calendar import occurrences_between

ONE_DAY = dt.timedelta(days=1)
END_OF_DAY = 24 * 60 - 1


@dataclass(frozen=True, slots=True, order=True)
class Busy:
    """From and until, in minutes after local midnight of a date; never beyond 23:59."""

    date: dt.date
    start: int
    end: int


def busy_times(content: bytes, *, zone: ZoneInfo, first: dt.date, last: dt.date) -> tuple[Busy, ...]:
    """Busy times between two dates (both included), overlapping ones joined, in order.

    Times without a zone are taken as local to `zone`. Raises `schedule.school_calendar.SchoolCalendarError` for a
    file that can't be used.
    """
    events, _ = occurrences_between(content, first=first, last=last)
    pieces = [piece for event in events if _blocks(event) for piece in _pieces(event, zone)]
    return tuple(_joined(piece for piece in pieces if first <= piece.date <= last))


def _blocks(event: icalendar.Event) -> bool:
    said = str(event.get("TRANSP", "")).upper()
    return said == "OPAQUE" if not isinstance(event.start, dt.datetime) else said != "TRANSPARENT"


def _pieces(event: icalendar.Event, zone: ZoneInfo) -> Iterator[Busy]:
    """The event cut at each local midnight."""
    start, end = _local(event.start, zone), _local(event.end, zone)
    date = start.date()
    while dt.datetime.combine(date, dt.time()) < end:
        midnight = dt.datetime.combine(date, dt.time())
        begin = max(0, int((start - midnight).total_seconds() // 60))
        until = min(END_OF_DAY, -int((midnight - end).total_seconds() // 60))
        if begin < until:
            yield Busy(date, begin, until)
        date += ONE_DAY


def _local(moment: dt.date, zone: ZoneInfo) -> dt.datetime:
    """The wall clock in `zone`."""
    if not isinstance(moment, dt.datetime):
        return dt.datetime.combine(moment, dt.time())
    return (moment if moment.tzinfo is None else moment.astimezone(zone)).replace(tzinfo=None)


def _joined(pieces: Iterable[Busy]) -> Iterator[Busy]:
    days: dict[dt.date, list[Busy]] = defaultdict(list)
    for piece in sorted(pieces):
        day = days[piece.date]
        if day and piece.start <= day[-1].end:
            day[-1] = Busy(piece.date, day[-1].start, max(day[-1].end, piece.end))
        else:
            day.append(piece)
    for date in sorted(days):
        yield from days[date]

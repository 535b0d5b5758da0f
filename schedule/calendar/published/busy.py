"""When a teacher is busy, out of a calendar of their own; for planning around it.

Pure. Only times are taken: no title and no place leaves the file. Free ("transparent") and canceled events don't
block, nor do days marked as a whole unless the calendar says that they are busy: birthdays are there. What can't be
read blocks its whole day, with a word: to plan over it would be worse.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import icalendar

from accounts.dates import date_words
from schedule.calendar.published.faults import is_free
from schedule.calendar.published.occurrences import Remark, occurrences_between

ONE_DAY = dt.timedelta(days=1)
END_OF_DAY = 24 * 60 - 1
_NO_LENGTH = "An appointment of {} has no length, so it blocks nothing. Give it an end in your calendar."


@dataclass(frozen=True, slots=True, order=True)
class Busy:
    """From and until, in minutes after local midnight of a date; never beyond 23:59."""

    date: dt.date
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class BusyReading:
    """Busy times, overlapping ones joined, in order, and what to look at.

    `left_out`: a sentence for each thing that blocks nothing, or blocks differently than its owner may think. An
    appointment is named by its date, never by its title.
    """

    times: tuple[Busy, ...]
    left_out: tuple[str, ...]


def busy_times(content: bytes, *, zone: ZoneInfo, first: dt.date, last: dt.date) -> BusyReading:
    """Busy times between two dates, both included.

    Times without a zone are taken as local to `zone`. Raises
    `schedule.calendar.published.parsing.SchoolCalendarError` for a file that can't be used.
    """
    read = occurrences_between(content, first=first, last=last)
    blocking = [event for event in read.events if not is_free(event)]
    pieces = [piece for event in blocking for piece in _pieces(event, zone, first, last)]
    pieces += [Busy(date, 0, END_OF_DAY) for date in _whole_days(read.remarks, first, last)]
    told = [f"{_name(remark.date)} {_said(remark)}" for remark in read.remarks]
    told += [_NO_LENGTH.format(_on(event, zone)) for event in blocking if event.start == event.end]
    return BusyReading(tuple(_joined(pieces)), (*dict.fromkeys(told), *read.notes))


def _whole_days(remarks: Iterable[Remark], first: dt.date, last: dt.date) -> Iterator[dt.date]:
    """The days of what can't be read: to plan on them might be to plan over it."""
    for remark in remarks:
        if remark.is_lost and not remark.is_free:
            yield from (date for date in remark.dates if first <= date <= last)


def _said(remark: Remark) -> str:
    why = remark.said.removeprefix("was left out: ")
    if not remark.is_lost:
        return remark.said
    if remark.is_free:
        return f"can't be read, and blocks nothing as what is free or lasts whole days: {why}"
    if not remark.dates:
        return f"can't be read and blocks nothing: {why} Give it a date that can be read."
    days = "its whole day" if len(remark.dates) == 1 else "each of its days as a whole"
    return f"can't be read, so it blocks {days}: {why}"


def _name(date: dt.date | None) -> str:
    return f"An appointment of {date_words(date)}" if date is not None else "An appointment without a date"


def _on(event: icalendar.Event, zone: ZoneInfo) -> str:
    return date_words(_local(event.start, zone).date())


def _pieces(event: icalendar.Event, zone: ZoneInfo, first: dt.date, last: dt.date) -> Iterator[Busy]:
    """The event cut at each local midnight, and at the ends of the range."""
    start, end = _local(event.start, zone), _local(event.end, zone)
    date = max(first, start.date())
    while date <= last and dt.datetime.combine(date, dt.time()) < end:
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

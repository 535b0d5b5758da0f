"""One fixed VTIMEZONE a zone, with the recurrence rules that are in force, for calendar feeds.

The rules are found from the IANA database by asking when the offset changes, put as "the nth weekday of a month",
and checked against every year until `LAST_YEAR`. A zone whose changes follow no such rule (Morocco's follow the
moon, Mexico's were given up) has each of them written by its date until then. Daylight saving in the United States
follows Pub. L. 109-58 section 110 since 2007. DTSTART and RDATE are local times *before* the change, RFC 5545
section 3.6.5.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import chain
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard, vRecur

FIRST_YEAR = 2007
LAST_YEAR = 2037
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


@dataclass(frozen=True, slots=True)
class Onset:
    """A change of the offset: its local time before the change, both offsets, and the name after it."""

    at: dt.datetime
    offset_from: dt.timedelta
    offset_to: dt.timedelta
    name: str
    daylight: bool

    @property
    def in_month(self) -> tuple[int, int, int, dt.time]:
        """Month, weekday, which of that weekday in the month (1, 2, 3, 4 or -1 for the last), time."""
        last = (self.at + dt.timedelta(days=7)).month != self.at.month
        number = (self.at.day - 1) // 7 + 1
        return self.at.month, self.at.weekday(), -1 if last and number >= 4 else number, self.at.time()


def _onset_after(zone: ZoneInfo, low: dt.datetime, high: dt.datetime) -> Onset:
    """The one change between two instants (UTC), to the second."""
    before = low.astimezone(zone).utcoffset() or dt.timedelta()
    while high - low > dt.timedelta(seconds=1):
        middle = low + (high - low) / 2
        middle = middle.replace(microsecond=0)
        if (middle.astimezone(zone).utcoffset() or dt.timedelta()) == before:
            low = middle
        else:
            high = middle
    after = high.astimezone(zone)
    return Onset(
        at=(high + before).replace(tzinfo=None),
        offset_from=before,
        offset_to=after.utcoffset() or dt.timedelta(),
        name=after.tzname() or "",
        daylight=bool(after.dst()),
    )


def _onsets(zone: ZoneInfo, year: int) -> list[Onset]:
    found = []
    start = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
    end = dt.datetime(year + 1, 1, 1, tzinfo=dt.UTC)
    while start < end:
        step = start + dt.timedelta(days=1)
        if start.astimezone(zone).utcoffset() != step.astimezone(zone).utcoffset():
            found.append(_onset_after(zone, start, step))
        start = step
    return found


def _nth(onset: Onset, year: int) -> dt.date:
    month, weekday, number, _ = onset.in_month
    first = dt.date(year, month, 1)
    days = [first + dt.timedelta(days=n) for n in range(31)]
    matching = [day for day in days if day.month == month and day.weekday() == weekday]
    return matching[number if number < 0 else number - 1]


def _follow_rules(onsets: list[Onset], years: dict[int, list[Onset]]) -> bool:
    """Whether the changes of every year are those of the first year's weekdays."""
    return all(
        [(_nth(onset, year), onset.at.time(), onset.offset_to) for onset in onsets]
        == [(onset.at.date(), onset.at.time(), onset.offset_to) for onset in real]
        for year, real in years.items()
    )


def _component(
    onset: Onset, *, repeats: bool = False, again: Iterable[Onset] = ()
) -> TimezoneDaylight | TimezoneStandard:
    """One observance: its first onset, and its rule or its other dates."""
    part = TimezoneDaylight() if onset.daylight else TimezoneStandard()
    part.add("DTSTART", onset.at)
    part.add("TZOFFSETFROM", onset.offset_from)
    part.add("TZOFFSETTO", onset.offset_to)
    part.add("TZNAME", onset.name)
    if repeats:
        month, weekday, number, _ = onset.in_month
        part.add("RRULE", vRecur(FREQ="YEARLY", BYMONTH=month, BYDAY=f"{number}{WEEKDAYS[weekday]}"))
    for other in again:
        # A line for each: some readers look at the first date of a line only.
        part.add("RDATE", [other.at])
    return part


def _still(zone: ZoneInfo) -> Onset:
    """The observance that holds as the first year begins."""
    begin = dt.datetime(FIRST_YEAR, 1, 1, tzinfo=zone)
    offset = begin.utcoffset() or dt.timedelta()
    return Onset(begin.replace(tzinfo=None), offset, offset, begin.tzname() or "", bool(begin.dst()))


def _dated(zone: ZoneInfo, onsets: Iterable[Onset]) -> Iterator[TimezoneDaylight | TimezoneStandard]:
    """Every change by its date: those alike are one observance."""
    yield _component(_still(zone))
    alike: dict[tuple[dt.timedelta, dt.timedelta, str, bool], list[Onset]] = defaultdict(list)
    for onset in onsets:
        alike[onset.offset_from, onset.offset_to, onset.name, onset.daylight].append(onset)
    for first, *others in alike.values():
        yield _component(first, again=others)


@cache
def zone_component(name: str) -> Timezone:
    """The VTIMEZONE of a zone of the IANA database; the same object every time."""
    zone = ZoneInfo(name)
    component = Timezone()
    component.add("TZID", name)
    years = {year: _onsets(zone, year) for year in range(FIRST_YEAR, LAST_YEAR + 1)}
    onsets = years[FIRST_YEAR]
    if onsets and _follow_rules(onsets, years):
        for onset in onsets:
            component.add_component(_component(onset, repeats=True))
        return component
    for part in _dated(zone, chain.from_iterable(years.values())):
        component.add_component(part)
    return component

"""One fixed VTIMEZONE a zone, with the recurrence rules that are in force, for calendar feeds.

The rules are found from the IANA database by asking when the offset changes, put as "the nth weekday of a month",
and checked against every year until `LAST_YEAR`: a zone whose changes follow no such rule is refused rather than
written wrongly. Daylight saving in the United States follows Pub. L. 109-58 section 110 since 2007. DTSTART is the
local time of the first onset *before* the change, RFC 5545 section 3.6.5.
"""

import datetime as dt
from dataclasses import dataclass
from functools import cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard, vRecur

FIRST_YEAR = 2007
LAST_YEAR = 2037
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


class ZoneError(ValueError):
    """A zone whose changes follow no yearly rule."""


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


def _check_rule(name: str, zone: ZoneInfo, onsets: list[Onset]) -> None:
    for year in range(FIRST_YEAR, LAST_YEAR + 1):
        expected = [(_nth(onset, year), onset.at.time(), onset.offset_to) for onset in onsets]
        real = [(onset.at.date(), onset.at.time(), onset.offset_to) for onset in _onsets(zone, year)]
        if expected != real:
            raise ZoneError(f"The clock changes of {name} follow no yearly rule in {year}. Use another time zone.")


def _component(onset: Onset, *, repeats: bool) -> TimezoneDaylight | TimezoneStandard:
    part = TimezoneDaylight() if onset.daylight else TimezoneStandard()
    part.add("DTSTART", onset.at)
    part.add("TZOFFSETFROM", onset.offset_from)
    part.add("TZOFFSETTO", onset.offset_to)
    part.add("TZNAME", onset.name)
    if repeats:
        month, weekday, number, _ = onset.in_month
        part.add("RRULE", vRecur(FREQ="YEARLY", BYMONTH=month, BYDAY=f"{number}{WEEKDAYS[weekday]}"))
    return part


@cache
def zone_component(name: str) -> Timezone:
    """The VTIMEZONE of a zone of the IANA database. Raises `ZoneError`; the same object every time."""
    zone = ZoneInfo(name)
    component = Timezone()
    component.add("TZID", name)
    onsets = _onsets(zone, FIRST_YEAR)
    if onsets or _onsets(zone, LAST_YEAR):
        _check_rule(name, zone, onsets)
    if not onsets:
        fixed = dt.datetime(FIRST_YEAR, 1, 1, tzinfo=zone)
        offset = fixed.utcoffset() or dt.timedelta()
        still = Onset(dt.datetime(FIRST_YEAR, 1, 1), offset, offset, fixed.tzname() or "", daylight=False)  # noqa: DTZ001 -- local by RFC 5545
        component.add_component(_component(still, repeats=False))
    for onset in onsets:
        component.add_component(_component(onset, repeats=True))
    return component

"""Buildings that close for good: after their last day nobody goes there, whatever else the calendar says."""

import datetime as dt
from collections.abc import Iterable

from schedule.calendar.closed_days import ClosedDays, Closing, DayEntry, day_entry
from schedule.calendar.models import CalendarEntry
from travel.places.models import Building

ONE_DAY = dt.timedelta(days=1)


def closed_days_of(district_id: int, entries: Iterable[CalendarEntry]) -> ClosedDays:
    """Which dates these entries close, and which lie after a building's last day."""
    rows = [day_entry(row.building_id, row.first_date, row.last_date, row.kind) for row in entries]
    return ClosedDays([*rows, *_ends(district_id)])


def _ends(district_id: int) -> list[DayEntry]:
    rows = Building.objects.filter(district=district_id, last_day__isnull=False).values_list("pk", "last_day")
    return [DayEntry(pk, last + ONE_DAY, dt.date.max, Closing.CLOSED) for pk, last in rows if last is not None]

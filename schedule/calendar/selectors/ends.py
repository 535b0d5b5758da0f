"""Buildings that close for good: after their last day nobody goes there, whatever else the calendar says."""

import datetime as dt
from collections.abc import Iterable

from accounts.models.sql_once import SqlOnce
from schedule.calendar.closed_days import ClosedDays, Closing, DayEntry, day_entry
from schedule.calendar.models import CalendarEntry
from travel.places.models import Building

ENDS = SqlOnce(
    lambda district: (
        Building.objects.filter(district=district, last_day__isnull=False).order_by().values_list("pk", "last_day")
    )
)
ONE_DAY = dt.timedelta(days=1)


def closed_days_of(district_id: int, entries: Iterable[CalendarEntry]) -> ClosedDays:
    """Which dates these entries close, and which lie after a building's last day."""
    rows = [day_entry(row.building_id, row.first_date, row.last_date, row.kind) for row in entries]
    return ClosedDays([*rows, *_ends(district_id)])


def _ends(district_id: int) -> list[DayEntry]:
    rows = ENDS(district_id)
    return [DayEntry(pk, last + ONE_DAY, dt.date.max, Closing.CLOSED) for pk, last in rows if last is not None]

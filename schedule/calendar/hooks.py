"""What rooms above the calendar add to it; `schedule.apps` hands it down when the application starts."""

import datetime as dt
from collections.abc import Callable

from accounts.models import District, Person
from schedule.calendar.models import CalendarEntry

type DayToMark = Callable[[Person, CalendarEntry, dt.date], dt.date | None]
type Refresh = Callable[[District], object]

_days_to_mark: list[DayToMark] = []
_refreshes: list[Refresh] = []


def calendar_hooks_add(*, day_to_mark: DayToMark, refresh: Refresh) -> None:
    """Register who knows a day whose sessions wait for their log, and who has published calendars read again.

    A second time replaces the first.
    """
    _days_to_mark[:] = [day_to_mark]
    _refreshes[:] = [refresh]


def first_day_to_mark(viewer: Person, entry: CalendarEntry, today: dt.date) -> dt.date | None:
    """The first date of a closure, today or before, on which sessions that the viewer logs wait for their log."""
    return next((date for ask in _days_to_mark if (date := ask(viewer, entry, today)) is not None), None)


def calendars_refresh(district: District) -> None:
    """Have what the district publishes read again; call it in the transaction that asks for what rests on it."""
    for refresh in _refreshes:
        refresh(district)

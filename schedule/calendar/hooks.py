"""What rooms above the calendar add to it; `schedule.apps` hands it down when the application starts."""

from collections.abc import Callable

from accounts.models import District
from schedule.calendar.models import CalendarEntry

type Planned = Callable[[CalendarEntry], bool]
type Refresh = Callable[[District], object]

_planned: list[Planned] = []
_refreshes: list[Refresh] = []


def calendar_hooks_add(*, planned: Planned, refresh: Refresh) -> None:
    """Register who knows whether sessions are planned on days, and who has published calendars read again.

    A second time replaces the first.
    """
    _planned[:] = [planned]
    _refreshes[:] = [refresh]


def is_planned(entry: CalendarEntry) -> bool:
    """Whether a week in force has sessions on the days, and at the building, of an entry."""
    return any(ask(entry) for ask in _planned)


def calendars_refresh(district: District) -> None:
    """Have what the district publishes read again; call it in the transaction that asks for what rests on it."""
    for refresh in _refreshes:
        refresh(district)

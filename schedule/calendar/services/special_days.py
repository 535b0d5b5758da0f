"""Special days as people enter them: the plan of a year, before its weeks are planned.

What closes schools or changes their hours on days for which weeks are in force is something that happened: it is
said there, shown first, logged by itself and taken back whole (`schedule.happenings`), and what stands in the
calendar by it is changed in no other way. Imports and published calendars save by `records`.
"""

from collections.abc import Mapping
from typing import Any

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import permission_require
from schedule.calendar.happened import LONGEST, OF_SCHOOLS
from schedule.calendar.hooks import is_planned
from schedule.calendar.models import CalendarEntry
from schedule.calendar.services.records import SHARED, calendar_entry_delete, calendar_entry_save

OF_HAPPENING = "This was said under “Something happened”. Take it back there, whole."
PLANNED = "Weeks are planned for these days already: say it under “Something happened”, which shows what it does."


def special_day_save(*, actor: Person, row: CalendarEntry, values: Mapping[str, Any]) -> CalendarEntry:
    """Save a special day.

    Refused with ``of_happening`` where it was said to have happened, with ``something_happened`` where it is to be.
    """
    permission_require(actor, SHARED)
    _free_require(row)
    if has_happened(actor, row, values):
        raise ApplicationError(PLANNED, code="something_happened")
    return calendar_entry_save(actor=actor, row=row, values=values)


def special_day_delete(*, actor: Person, row: CalendarEntry) -> None:
    """Delete a special day; refused with ``of_happening`` where it was said to have happened."""
    permission_require(actor, SHARED)
    _free_require(row)
    calendar_entry_delete(actor=actor, row=row)


def _free_require(row: CalendarEntry) -> None:
    if row.happening_id is not None:
        raise ApplicationError(OF_HAPPENING, code="of_happening")


def has_happened(actor: Person, row: CalendarEntry, values: Mapping[str, Any]) -> bool:
    """Whether a new special day is something that happened: a closing or other hours, where weeks are in force.

    Bells of one's own choice and what is longer than anything that happens stay the calendar's.
    """
    first = values.get("first_date")
    last = values.get("last_date") or first
    if row.pk or values.get("kind") not in OF_SCHOOLS or values.get("bell_schedule"):
        return False
    if first is None or last is None or not 0 <= (last - first).days <= LONGEST:
        return False
    days = CalendarEntry(district=actor.district, building=values.get("building"), first_date=first, last_date=last)
    return is_planned(days)

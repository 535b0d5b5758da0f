"""When schools send their students home early: the last bell of early dismissals between two dates."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

from django.db.models import Max

from schedule.calendar.models import BellSchedule, CalendarEntry
from schedule.calendar.selectors.school_days import minutes_of

Kind = CalendarEntry.Kind

type LastBells = Mapping[dt.date, Mapping[int, int]]


def last_bells(entries: Iterable[CalendarEntry], wanted: Mapping[dt.date, Collection[int]]) -> LastBells:
    """Minutes after midnight of the last bell, by date and building, where a school closes early on it.

    A building's own entries come before the district's. A date of which the calendar says two things of one rank
    has none, as one whose building has no bells for such a day: a page says that, and nothing is guessed here.
    """
    rows = list(entries)
    if not any(one.kind == Kind.EARLY_DISMISSAL for one in rows):
        return {}
    ends = _ends({building for buildings in wanted.values() for building in buildings})
    found: dict[dt.date, dict[int, int]] = defaultdict(dict)
    for date, buildings in wanted.items():
        for building in buildings:
            entry = _entry_on(rows, building, date)
            end = None if entry is None else ends.get((building, entry.bell_schedule_id))
            if end is not None:
                found[date][building] = end
    return found


def _entry_on(entries: Iterable[CalendarEntry], building: int, date: dt.date) -> CalendarEntry | None:
    """The early dismissal that counts for a building on a date, None where there is none or more is said."""
    holding = [one for one in entries if one.first_date <= date <= one.last_date]
    for rank in (building, None):
        found = [one for one in holding if one.building_id == rank]
        if found:
            told = {(one.kind, one.bell_schedule_id) for one in found}
            return found[0] if len(told) == 1 and found[0].kind == Kind.EARLY_DISMISSAL else None
    return None


def _ends(buildings: Collection[int]) -> dict[tuple[int, int | None], int]:
    """The end of the last period by building and bell schedule; None: the first of the early dismissals."""
    rows = BellSchedule.objects.filter(building__in=buildings).annotate(end=Max("periods__end")).order_by("-pk")
    found: dict[tuple[int, int | None], int] = {}
    for row in rows:
        if row.end is not None:
            found[row.building_id, row.pk] = minutes_of(row.end)
            if row.kind == BellSchedule.Kind.EARLY_DISMISSAL:
                found[row.building_id, None] = minutes_of(row.end)
    return found

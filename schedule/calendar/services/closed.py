"""What closed months of the log hold against changes of the calendar (see accounts.guards)."""

import datetime as dt
from collections.abc import Iterable
from itertools import product

from django.db.models import Model, Q

from caseload.delivery.services.closed import EVER, days_closed_require, same_values
from caseload.months.spans import Days, changed_days
from caseload.plans.enrollment.selectors import students_at
from caseload.plans.models import ServiceLine, Student
from schedule.calendar.models import BellSchedule, CalendarEntry, DayRotation, MarkingPeriod, SchoolYear
from travel.places.models import Building

IN_SESSION_OR_NOT = (CalendarEntry.Kind.CLOSED, CalendarEntry.Kind.NO_STUDENTS, CalendarEntry.Kind.OPEN)
ROTATION = ("kind", "length", "labels", "practice", "anchor_date", "anchor_label", "grades", "first_day")


def entry_guard(was: CalendarEntry | None, now: CalendarEntry | None) -> None:
    """Which days are in session stays as it was in closed months; delays and other bells count no minutes."""
    was, now = (row if row is not None and row.kind in IN_SESSION_OR_NOT else None for row in (was, now))
    rows = [row for row in (was, now) if row is not None]
    spans = changed_days(_dates(was), _dates(now), same=same_values(was, now, ("kind", "building_id")))
    if not spans:
        return
    buildings = {row.building_id for row in rows}
    teachers = None if None in buildings else _teachers_at(buildings, spans)
    days_closed_require(rows[-1].district, teachers, spans)


def _dates(row: CalendarEntry | None) -> Days | None:
    return (row.first_date, row.last_date) if row is not None else None


def _teachers_at(buildings: Iterable[int | None], spans: Iterable[Days]) -> set[int]:
    """Who gives services to students that are at one of these buildings on some of these days."""
    found: set[int] = set()
    for building, (first, last) in product((one for one in buildings if one is not None), spans):
        # Without enrollments a student is where the record says.
        there = students_at(building, first, last or dt.date.max) | Q(enrollments=None, building=building)
        students = Student.objects.filter(there)
        lines = ServiceLine.objects.filter(plan__student__in=students)
        found |= set(lines.values_list("provider", flat=True))
    return found


def dated_guard(was: Model | None, now: Model | None) -> None:
    """The first and last days of a school year or marking period, where months are closed."""
    rows = [row for row in (was, now) if isinstance(row, SchoolYear | MarkingPeriod)]
    spans = changed_days(_span(was), _span(now), same=True)
    if rows and spans:
        days_closed_require(rows[-1].district, None, spans)


def _span(row: Model | None) -> Days | None:
    return (row.first_day, row.last_day) if isinstance(row, SchoolYear | MarkingPeriod) else None


def rotation_guard(was: DayRotation | None, now: DayRotation | None) -> None:
    """The turns of a building's rotation, by which some services are counted, from its first day on."""
    rows = [row for row in (was, now) if row is not None]
    if same_values(was, now, ROTATION):
        return
    building: Building = rows[-1].building
    first = min(row.first_day or EVER for row in rows)
    since: list[Days] = [(first, None)]
    days_closed_require(building.district, _teachers_at([building.pk], since), since)


def bells_closed_require(row: BellSchedule, first: dt.date | None, until: dt.date | None) -> None:
    """Refuse other periods from a first day on (None: since always) until a day that isn't among them."""
    spans: list[Days] = [(first or EVER, until - dt.timedelta(days=1) if until else None)]
    days_closed_require(row.building.district, _teachers_at([row.building_id], spans), spans)

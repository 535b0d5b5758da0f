"""Until when a term goes."""

import datetime as dt

from accounts.models import Person
from schedule.calendar.models import MarkingPeriod, SchoolYear

HALVES = 2


def term_end(teacher: Person, first: dt.date) -> dt.date:
    """The last day of the half of the school year that a date is in, as marking periods make it; else of the year.

    Where no school year holds the date, the date itself.
    """
    year = SchoolYear.objects.filter(
        district=teacher.district, first_day__lte=first + dt.timedelta(days=6), last_day__gte=first, extended=False
    ).first()
    if year is None:
        return first
    rows = MarkingPeriod.objects.filter(
        district=teacher.district, first_day__gte=year.first_day, last_day__lte=year.last_day
    )
    ends = sorted(rows.values_list("last_day", flat=True))
    half = ends[len(ends) // HALVES - 1] if len(ends) > 1 and len(ends) % HALVES == 0 else None
    return half if half is not None and first <= half else year.last_day

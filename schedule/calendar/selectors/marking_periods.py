"""How many marking periods a district's school year has."""

import datetime as dt

from django.db.models import Count

from accounts.models import District
from schedule.calendar.models import SchoolYear


def marking_periods_of(district: District, day: dt.date | None) -> int | None:
    """Marking periods of the school year that a day is in, or else of the latest year; None where none are known.

    Plans are written before their year is entered, and its marking periods are usually those of the year before.
    """
    years = SchoolYear.objects.filter(district=district).annotate(count=Count("marking_periods"))
    known = years.filter(count__gt=0).order_by("-first_day")
    its_own = known.filter(first_day__lte=day, last_day__gte=day).first() if day is not None else None
    year = its_own or known.first()
    return year.count if year is not None else None  # type: ignore[attr-defined]  # annotated above

"""Who stands in for a teacher, by name."""

import datetime as dt
from collections.abc import Iterable

from accounts.models import Person, Substitution
from schedule.calendar.words import listed


def covers_on(teacher: Person, dates: Iterable[dt.date]) -> dict[dt.date, str]:
    """Of each date who stands in; empty where nobody does. Whoever is no longer active stands in for nobody."""
    wanted = sorted(dates)
    if not wanted:
        return {}
    rows = Substitution.objects.filter(teacher=teacher, first_date__lte=wanted[-1], last_date__gte=wanted[0])
    covers = list(rows.filter(substitute__is_active=True).select_related("substitute"))
    found = {
        date: [str(one.substitute) for one in covers if one.first_date <= date <= one.last_date] for date in wanted
    }
    return {date: listed(names) if names else "" for date, names in found.items()}

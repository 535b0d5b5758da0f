"""Which week to look at: the next one in which every school is open all week."""

import datetime as dt
from collections.abc import Iterator

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.models import CalendarEntry, SchoolYear

_WEEK = dt.timedelta(days=7)
_TO_FRIDAY = dt.timedelta(days=4)


def next_full_week(viewer: Person, today: dt.date) -> dt.date:
    """The Monday of the next full school week, not before `today` (local).

    Full: Monday to Friday lie in a school year, and no entry of the calendar closes or changes one of the days
    in any building. After the last full week of all years that are known, the first one of the newest year.
    Raises `ApplicationError` (code ``no_full_week``) if there is none at all.
    """
    years = list(SchoolYear.objects.visible_to(viewer).order_by("first_day"))
    special = list(
        CalendarEntry.objects.visible_to(viewer)
        .exclude(kind=CalendarEntry.Kind.OPEN)
        .values_list("first_date", "last_date")
    )
    for year in years:
        for monday in _full_weeks(year, special):
            if monday >= today:
                return monday
    for year in reversed(years):
        for monday in _full_weeks(year, special):
            return monday
    raise ApplicationError(
        "There is no week in which every school is open from Monday to Friday. Add a school year, or correct the "
        "calendar.",
        code="no_full_week",
    )


def _full_weeks(year: SchoolYear, special: list[tuple[dt.date, dt.date]]) -> Iterator[dt.date]:
    """Mondays of the full weeks of a year, in order."""
    monday = year.first_day + dt.timedelta(days=-year.first_day.weekday() % 7)
    while monday + _TO_FRIDAY <= year.last_day:
        if not any(first <= monday + _TO_FRIDAY and last >= monday for first, last in special):
            yield monday
        monday += _WEEK

"""Which week to look at or to plan: the next full school week, the next without a plan."""

import datetime as dt
from collections.abc import Iterator

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.calendar.models import CalendarEntry, SchoolYear
from schedule.weeks.models import WeekPlan

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


def next_week_to_plan(viewer: Person, teacher: Person, today: dt.date) -> dt.date:
    """The Monday of the first school week from `today` (local) on in which the teacher has no week in force.

    The week that has begun doesn't count unless today is its Monday. A school week has one day at least, Monday to
    Friday, in a school year and not closed by the district's calendar. Where all are planned, or nothing is known
    of the calendar, the coming Monday.
    """
    coming = today + dt.timedelta(days=-today.weekday() % 7)
    rows = WeekPlan.objects.visible_to(viewer).filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED)
    planned = set(rows.filter(monday__gte=coming).values_list("monday", flat=True))
    closed = list(
        CalendarEntry.objects.visible_to(viewer)
        .filter(building=None, kind__in=[CalendarEntry.Kind.CLOSED, CalendarEntry.Kind.NO_STUDENTS])
        .values_list("first_date", "last_date")
    )
    for year in SchoolYear.objects.visible_to(viewer).filter(last_day__gte=coming).order_by("first_day"):
        first = max(coming, year.first_day - dt.timedelta(days=year.first_day.weekday()))
        for number in range((year.last_day - first).days // 7 + 1):
            monday = first + number * _WEEK
            if monday not in planned and _has_school(monday, year, closed):
                return monday
    return coming


def _has_school(monday: dt.date, year: SchoolYear, closed: list[tuple[dt.date, dt.date]]) -> bool:
    days = (monday + dt.timedelta(days=number) for number in range(5))
    return any(
        year.first_day <= day <= year.last_day and not any(first <= day <= last for first, last in closed)
        for day in days
    )


def _full_weeks(year: SchoolYear, special: list[tuple[dt.date, dt.date]]) -> Iterator[dt.date]:
    """Mondays of the full weeks of a year, in order."""
    monday = year.first_day + dt.timedelta(days=-year.first_day.weekday() % 7)
    while monday + _TO_FRIDAY <= year.last_day:
        if not any(first <= monday + _TO_FRIDAY and last >= monday for first, last in special):
            yield monday
        monday += _WEEK

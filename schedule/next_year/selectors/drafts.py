"""Which next years there are, and what of this year a new one is made from."""

import datetime as dt

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE
from schedule.calendar.models import CalendarEntry, SchoolYear
from schedule.next_year.models import NextYear
from schedule.next_year.rolling import days_later

COPIED = (CalendarEntry.Kind.CLOSED, CalendarEntry.Kind.NO_STUDENTS, CalendarEntry.Kind.EARLY_DISMISSAL)


def next_years(viewer: Person) -> list[NextYear]:
    """Every one, the latest first."""
    return list(NextYear.objects.visible_to(viewer).select_related("made_from", "started_by"))


def next_year_get(viewer: Person, pk: int) -> NextYear:
    """One of them; 404 for what is out of sight."""
    row = NextYear.objects.visible_to(viewer).select_related("district", "made_from").filter(pk=pk).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def year_to_copy(viewer: Person, today: dt.date) -> SchoolYear | None:
    """The school year that runs or comes, else the last one; seasons outside a year aren't copied."""
    years = list(SchoolYear.objects.visible_to(viewer).filter(extended=False).order_by("first_day"))
    return next((one for one in years if one.last_day >= today), years[-1] if years else None)


def year_proposed(year: SchoolYear) -> dict[str, object]:
    """Name and days of the year after another: the same weekdays, 52 weeks later."""
    first, last = days_later(year.first_day), days_later(year.last_day)
    return {"name": f"{first.year}-{last.year % 100:02}", "first_day": first, "last_day": last}


def days_to_ask(year: SchoolYear) -> list[CalendarEntry]:
    """Special days of a year that were known before: what happened on the day, such as snow, isn't asked about."""
    rows = CalendarEntry.objects.filter(district=year.district_id, happening=None, kind__in=COPIED)
    rows = rows.filter(first_date__gte=year.first_day, first_date__lte=year.last_day)
    return list(rows.order_by("first_date", "pk"))

"""A teacher's own calendars: added, read in the background, taken out. Only busy times are kept, never titles."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require
from jobs.services import job_add
from schedule.calendar.models import BusyCalendar, BusyTime
from schedule.calendar.published.busy import BusyReading, busy_times
from schedule.calendar.published.fetch import FetchError, calendar_address, fetch_calendar
from schedule.calendar.published.parsing import SchoolCalendarError, told_at_most
from schedule.calendar.published.reach import Allowed, is_public
from schedule.calendar.selectors.school_days import time_of

KIND = "read_busy_calendar"
READ_BACK, READ_AHEAD = dt.timedelta(days=14), dt.timedelta(days=400)
READ_AGAIN = dt.timedelta(hours=1)
MOST_CALENDARS = 10


def busy_add(*, actor: Person, title: str, address: str = "", content: bytes | None = None) -> BusyCalendar:
    """A calendar of one's own, by address (read in the background) or as a file (read now).

    Raises `ValidationError` by field, or `ApplicationError` (422, `unreadable_file`) for a file that can't be used.
    """
    permission_require(actor, "week.change")
    if not actor.is_teacher or actor.district is None:
        raise ApplicationError("Only a teacher has busy times.", code="not_for_your_role", status=403)
    if bool(address) == (content is not None):
        raise ValidationError({"address": "Give an address or a file, one of the two."})
    row = BusyCalendar(district=actor.district, teacher=actor, title=title, address=_as_kept(address))
    with transaction.atomic():
        if BusyCalendar.objects.filter(teacher=actor).count() >= MOST_CALENDARS:
            raise ApplicationError(f"{MOST_CALENDARS} calendars are the limit. Remove one first.", code="too_many")
        row.full_clean()
        row.save()
        audit_write(
            actor=actor, district=actor.district, action="busy_add", row=row, changes={"title": [None, title]}
        )
        if content is None:
            busy_ask(row=row)
        else:
            try:
                _replace(row, _times(row, content))
            except SchoolCalendarError as error:
                raise ApplicationError(str(error), code="unreadable_file", status=422) from error
    return row


def busy_delete(*, actor: Person, row: BusyCalendar) -> None:
    """Delete a calendar of the teacher's own with the times read from it: they no longer block planning."""
    permission_require(actor, "week.change")
    if row.teacher_id != actor.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        audit_write(actor=actor, district=row.district, action="busy_delete", row=row)
        row.delete()


def busy_again(*, actor: Person, row: BusyCalendar) -> None:
    """Have an address read again, because its owner wants it."""
    permission_require(actor, "week.change")
    if row.teacher_id != actor.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not row.address:
        raise ApplicationError("A file isn't read again. Take it out and add the new one.", code="no_address")
    with transaction.atomic():
        busy_ask(row=row)


def busy_ask(*, row: BusyCalendar) -> None:
    """Have an address read in the background; pressing twice asks once."""
    if row.address:
        BusyCalendar.objects.filter(pk=row.pk).update(asked_at=timezone.now())
        payload = {"calendar": row.pk}
        job_add(kind=KIND, payload=payload, district=row.district_id, unique_key=f"{KIND}:{row.pk}")


def busy_ask_due(*, teacher: Person) -> None:
    """Have a teacher's addresses read that weren't asked for within the hour; planning does this first."""
    rows = BusyCalendar.objects.filter(teacher=teacher).exclude(address="")
    for row in rows.exclude(asked_at__gt=timezone.now() - READ_AGAIN):
        busy_ask(row=row)


def busy_read(*, row: BusyCalendar, allowed: Allowed = is_public) -> bool:
    """Fetch an address and keep its times. What fails is told on the page, and the times of before stay."""
    try:
        times = _times(row, fetch_calendar(row.address, allowed=allowed))
    except (FetchError, SchoolCalendarError) as error:
        BusyCalendar.objects.filter(pk=row.pk).update(problem=str(error)[:300])
        return False
    with transaction.atomic():
        _replace(row, times)
    return True


def _as_kept(address: str) -> str:
    """An address as addresses are kept. Raises `ValidationError` by field for one that can't be fetched."""
    try:
        return calendar_address(address) if address else ""
    except FetchError as error:
        raise ValidationError({"address": str(error)}) from error


def _times(row: BusyCalendar, content: bytes) -> BusyReading:
    zone = ZoneInfo(row.district.time_zone)
    today = timezone.localdate(timezone=zone)
    return busy_times(content, zone=zone, first=today - READ_BACK, last=today + READ_AHEAD)


def _replace(row: BusyCalendar, read: BusyReading) -> None:
    row.times.all().delete()
    BusyTime.objects.bulk_create(
        BusyTime(calendar=row, date=one.date, start=time_of(one.start), end=time_of(one.end)) for one in read.times
    )
    told = told_at_most(read.left_out)
    BusyCalendar.objects.filter(pk=row.pk).update(read_at=timezone.now(), problem="", left_out=told)

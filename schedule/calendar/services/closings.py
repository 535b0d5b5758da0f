"""A closing on the same day is sent by mail as well: calendars fetch when they like, some only once a day.

The mail goes by a job, so that saving the calendar never waits for a mail server.
"""

from zoneinfo import ZoneInfo

from django.utils import timezone

from jobs.services import job_add
from schedule.calendar.models import CalendarEntry

KIND = "closing_mail"
Kind = CalendarEntry.Kind
SENT_FOR = (Kind.CLOSED, Kind.NO_STUDENTS, Kind.DELAYED_OPENING, Kind.EARLY_DISMISSAL)


def is_today(entry: CalendarEntry) -> bool:
    """Whether an entry holds on today's date where its district is."""
    today = timezone.localdate(timezone=ZoneInfo(entry.district.time_zone))
    return entry.first_date <= today <= entry.last_date


def closing_announce(*, entry: CalendarEntry) -> bool:
    """Ask for the mail about an entry that holds today; call it in the transaction that saved the entry."""
    if entry.kind not in SENT_FOR or not is_today(entry):
        return False
    job_add(kind=KIND, payload={"entry": entry.pk}, unique_key=f"{KIND}:{entry.pk}")
    return True

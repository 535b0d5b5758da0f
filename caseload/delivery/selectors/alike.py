"""Entries of the log that minutes nobody planned may be the same as: whoever logs them is asked first."""

import datetime as dt

from accounts.dates import date_words
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.told import LogItem


def question_about(item: LogItem) -> str:
    """What to ask before minutes without a planned session are logged; empty where nothing is like them.

    Asked where the same service has as many minutes of the same day without a planned session, and where they lie
    over a logged session of the same student. One query.
    """
    minutes = item.outcome.minutes(item.planned_minutes)
    if item.session_uid is not None or not minutes:
        return ""
    rows = DeliveryVersion.objects.current().filter(
        entry__student=item.service_line.plan.student_id, entry__date=item.date, delivered_minutes__gt=0
    )
    # Its own twin, sent at the same moment, isn't another.
    rows = rows.exclude(entry__client_id=item.client_id)
    for row in rows.select_related("entry").order_by("entry__start", "pk"):
        if _is_same(row, item, minutes):
            return (
                f"{minutes} minutes of this service are logged on {date_words(item.date)} already, without a "
                "planned session. Were they given once more?"
            )
        if _lies_over(row, item, minutes):
            return (
                f"{_from_to(row.entry.start, row.delivered_minutes)} on {date_words(item.date)} is logged already "
                "for this student. Were these minutes given at the same time?"
            )
    return ""


def _is_same(row: DeliveryVersion, item: LogItem, minutes: int) -> bool:
    entry = row.entry
    alike = entry.session_uid is None and entry.service_line_id == item.service_line.pk
    return alike and row.delivered_minutes == minutes and item.start in {entry.start, None}


def _lies_over(row: DeliveryVersion, item: LogItem, minutes: int) -> bool:
    if item.start is None or row.entry.start is None:
        return False
    begins, ends = _minute(item.start), _minute(item.start) + minutes
    begun = _minute(row.entry.start)
    return begins < begun + (row.delivered_minutes or 0) and begun < ends


def _minute(time: dt.time) -> int:
    return time.hour * 60 + time.minute


def _from_to(start: dt.time | None, minutes: int | None) -> str:
    if start is None:
        return ""
    end = dt.datetime.combine(dt.date.min, start) + dt.timedelta(minutes=minutes or 0)
    return f"{start:%-I:%M} to {end:%-I:%M %p}"

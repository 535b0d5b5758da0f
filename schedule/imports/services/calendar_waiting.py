"""What waits for a person at the address of a school calendar, and what was decided before."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from accounts.errors import ApplicationError
from schedule.calendar.models import CalendarEntry, CalendarSource, SchoolYear
from schedule.calendar.published.groups import group_findings
from schedule.calendar.published.news import News, SavedDay, Told, find_news
from schedule.calendar.published.reading import CalendarPreview
from schedule.calendar.published.words import CalendarFinding
from schedule.imports.services.calendar_reading import calendar_read

SOON = dt.timedelta(days=7)
MOST_QUESTIONS = 10
YEAR_BEGINS = 7  # July: from here on a day belongs to the school year to come (common practice, no source).
NOT_READ_YET = "This calendar has not been read yet. Wait a moment, or see what is wrong with its address."


def source_waits(row: CalendarSource, read: CalendarPreview | None = None) -> None:
    """Note at the address what waits, by a reading or else the last good one."""
    news = source_news(row, read if read is not None else last_read(row))
    CalendarSource.objects.filter(pk=row.pk).update(waiting=_waiting(news, today_at(row)))


def last_read(row: CalendarSource) -> CalendarPreview:
    """The last good reading. Raises `ApplicationError` (`not_read`) before the first."""
    if not row.content:
        raise ApplicationError(NOT_READ_YET, code="not_read")
    return calendar_read(
        district=row.district, content=bytes(row.content), dates=window_of(row), building=row.building
    )


def findings_of(read: CalendarPreview) -> tuple[CalendarFinding, ...]:
    """What a reading says, recognized or not."""
    return (*read.found, *read.unmatched)


def settled_of(row: CalendarSource) -> frozenset[Told]:
    """The events that were decided about."""
    return frozenset(
        (dt.date.fromisoformat(first), dt.date.fromisoformat(last), title) for first, last, title in row.settled
    )


def source_news(row: CalendarSource, read: CalendarPreview) -> News:
    """What a reading brings beyond what was decided, held against the saved days."""
    first, last = window_of(row)
    rows = CalendarEntry.objects.filter(
        district_id=row.district_id, building=row.building, last_date__gte=first, first_date__lte=last
    )
    days = [SavedDay(one.pk, one.first_date, one.last_date, one.kind, one.title) for one in rows]
    news = find_news(findings_of(read), settled_of(row), days, today_at(row))
    # A file that breaks off says nothing of the days that it doesn't name.
    return replace(news, gone=()) if read.is_cut else news


def window_of(row: CalendarSource) -> tuple[dt.date, dt.date]:
    """August to July around the school year that runs, or else the next; without one, around today.

    One year at a time: a calendar of two has two first days of school. Longer where the year itself is.
    """
    today = today_at(row)
    years = SchoolYear.objects.filter(district_id=row.district_id, last_day__gte=today)
    year = years.order_by("first_day").first()
    begin = year.first_day if year is not None else today
    august = dt.date(begin.year if begin.month >= YEAR_BEGINS else begin.year - 1, 8, 1)
    first, last = august, dt.date(august.year + 1, 7, 31)
    return (first, last) if year is None else (min(first, year.first_day), max(last, year.last_day))


def today_at(row: CalendarSource) -> dt.date:
    """Today where the district is."""
    return timezone.localdate(timezone=ZoneInfo(row.district.time_zone))


def _waiting(news: News, today: dt.date) -> dict[str, Any]:
    """Counts for the page, the first questions, and the days of the coming week; empty if nothing waits."""
    if not news:
        return {}
    coming = [("asked" if one.doubt else "new", one) for one in (*news.new, *news.changed)]
    soon = [
        *((what, one.first, one.last, one.kind, one.title) for what, one in coming),
        *(("gone", day.first, day.last, day.kind, day.title) for day in news.gone),
    ]
    return {
        "new": len(news.new),
        "changed": len(news.changed),
        "gone": len(news.gone),
        "ends": len(news.ends),
        "unrecognised": len(news.unrecognized),
        "plain": len(news.plain),
        "doubtful": len({finding.title for finding in news.doubtful}),
        "questions": _questions(news.doubtful),
        "soon": [one for one in sorted(soon, key=lambda one: one[1]) if one[2] >= today and one[1] <= today + SOON],
    }


def _questions(doubtful: Iterable[CalendarFinding]) -> list[dict[str, Any]]:
    """The events in doubt by title, those that come first."""
    return [group.as_json() for group in group_findings(doubtful)[:MOST_QUESTIONS]]

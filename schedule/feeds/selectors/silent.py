"""Calendars that have gone silent: own feeds that nobody fetches anymore, calendars that can't be read.

One place says which; the list of feeds, Today and the API ask it.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from django.db.models import Q
from django.urls import reverse

from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import today_of
from schedule.calendar.models import BusyCalendar, CalendarSource
from schedule.feeds.models import Feed

NOT_FETCHED = dt.timedelta(days=3)
"""Phones and calendar services fetch between four times an hour and once a day: common practice, no source."""
NOT_READ = dt.timedelta(days=1)
"""A school's website that is down for an hour is nobody's business."""

FEEDS = SqlOnce(
    lambda owner, fetched, today: Feed.objects.filter(
        owner=owner, stopped_at=None, last_fetched_at__lt=fetched
    ).exclude(Q(ends_on__lt=today) | Q(is_open=False))
)
# Ids of a district's that can't be read: on most days none. Whose they are is asked of those.
OWN = SqlOnce(
    lambda district, read: (
        BusyCalendar.objects.filter(district=district)
        .exclude(problem="")
        .filter(Q(read_at=None) | Q(read_at__lt=read))
        .order_by()
        .values_list("pk", flat=True)
    )
)
SCHOOL = SqlOnce(
    lambda district, read: (
        CalendarSource.objects.filter(district=district)
        .exclude(problem="")
        .filter(Q(read_at=None) | Q(read_at__lt=read))
        .order_by()
        .values_list("pk", flat=True)
    )
)


@dataclass(frozen=True, slots=True)
class SilentCalendar:
    """One calendar, in words, and the page on which something can be done about it.

    `kind`: "feed" a calendar that others subscribe to, "own" one of the teacher's own, "school" a published one.
    """

    kind: Literal["feed", "own", "school"]
    pk: int
    title: str
    words: str
    address: str


def silent_calendars(viewer: Person, now: dt.datetime) -> tuple[SilentCalendar, ...]:
    """The viewer's own, and for whoever keeps the district's calendars those too. `now`: UTC."""
    return (*_feeds(viewer, now), *_own(viewer, now), *_school(viewer, now))


def _feeds(viewer: Person, now: dt.datetime) -> Iterator[SilentCalendar]:
    """Feeds that were fetched once and aren't any longer. Whose days have ended needs no calendar anymore."""
    for row in FEEDS(viewer.pk, now - NOT_FETCHED, today_of(viewer)):
        days = _days(row.last_fetched_at, now)
        told = f"Not fetched for {days} days, last by {row.last_fetched_by}: it may show what is no longer so."
        yield SilentCalendar("feed", row.pk, row.label, told, reverse("feed", args=[row.pk]))


def _own(viewer: Person, now: dt.datetime) -> Iterator[SilentCalendar]:
    found = OWN(viewer.district_id, now - NOT_READ)
    for row in BusyCalendar.objects.visible_to(viewer).filter(pk__in=found) if found else ():
        yield SilentCalendar("own", row.pk, row.title, _why(row.read_at, row.problem, now), reverse("feeds"))


def _school(viewer: Person, now: dt.datetime) -> Iterator[SilentCalendar]:
    if not viewer.has_perm("import.run"):
        return
    found = SCHOOL(viewer.district_id, now - NOT_READ)
    rows = CalendarSource.objects.visible_to(viewer).filter(pk__in=found).only("title", "problem", "read_at")
    for row in rows if found else ():
        yield SilentCalendar("school", row.pk, row.title, _why(row.read_at, row.problem, now), reverse("calendar"))


def _why(read_at: dt.datetime | None, problem: str, now: dt.datetime) -> str:
    days = _days(read_at, now)
    since = "It was never read." if read_at is None else f"Not read for {days} day{'' if days == 1 else 's'}."
    return f"{since} {problem}"


def _days(moment: dt.datetime | None, now: dt.datetime) -> int:
    return (now - moment).days if moment is not None else 0

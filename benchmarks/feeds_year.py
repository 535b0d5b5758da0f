"""A teacher's year for benchmarks/feeds.py: made, built cold, and written by icalendar alone. Prints JSON.

python -m benchmarks.feeds_year DAYS ROUNDS     (DATABASE_URL names a migrated, empty database)
"""

import base64
import datetime as dt
import json
import sys
import time
import uuid
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import django
from icalendar import Calendar, Event, vGeo

django.setup()

from accounts.models import District, Person  # noqa: E402 -- models can be imported only after the set-up
from schedule.feeds.build import FeedEvent  # noqa: E402
from schedule.feeds.models import Feed  # noqa: E402
from schedule.feeds.services.feeds import feed_add  # noqa: E402
from schedule.feeds.services.versions import feed_body, feed_forget, feed_refresh, shown_between  # noqa: E402
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan  # noqa: E402
from travel.places.models import Building  # noqa: E402


def make_year(days: int) -> tuple[int, str]:
    """A teacher with so many school days of 14 events in force, and a feed; its id and path."""

    district = District.objects.create(name="Marrow Vale County")
    teacher = Person.objects.create_user("teacher", district=district, role="teacher", first_name="Ada",
                                         last_name="Vey")  # fmt: skip
    schools = [
        Building.objects.create(district=district, code=f"B{n}", name=f"School {n}", address=f"{n} Mill Road",
                                latitude=f"43.{n:02}", longitude="-75.2")
        for n in range(4)
    ]  # fmt: skip
    first = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=7)
    monday = first - dt.timedelta(days=first.weekday())
    made = 0
    while made < days:
        week = WeekPlan.objects.create(district=district, teacher=teacher, monday=monday, status="published",
                                       last_date=monday + dt.timedelta(days=6), created_by=teacher)  # fmt: skip
        dates = [monday + dt.timedelta(days=n) for n in range(5)]
        PlannedSession.objects.bulk_create(
            PlannedSession(week=week, uid=uuid.uuid4(), date=date, start=dt.time(8 + n, 5), end=dt.time(8 + n, 35),
                           building=schools[n % 4], setting="one_to_one", period=str(n + 1), planner_key="line-1")
            for date in dates for n in range(7)
        )  # fmt: skip
        drives = [("drive", 8 + n, n % 4, (n + 1) % 4) for n in range(4)]
        rest = [("lunch", 12, None, 0), ("preparation", 13, None, 0), ("meeting", 14, None, 0)]
        DayItem.objects.bulk_create(
            DayItem(week=week, date=date, kind=kind, start=dt.time(hour, 40), end=dt.time(hour, 58),
                    building=schools[goal], origin=None if origin is None else schools[origin])
            for date in dates for kind, hour, origin, goal in [*drives, *rest]
        )  # fmt: skip
        made += 5
        monday += dt.timedelta(days=7)
    feed, address = feed_add(actor=teacher, kind="teacher", site="http://localhost", values={"label": "x"})
    return feed.pk, address.removeprefix("http://localhost")


def cold(feed_id: int, rounds: int) -> dict[str, float]:
    """Seconds to build a year's version, and for icalendar to build and write the same events."""

    started = time.perf_counter()
    feed_refresh(feed_id=feed_id)
    first = time.perf_counter() - started
    events = shown_between(Feed.objects.get(pk=feed_id), dt.date(2000, 1, 1), dt.date(2100, 1, 1))
    ours, theirs = [], []
    for _ in range(rounds):
        feed_forget(feed_id=feed_id)
        started = time.perf_counter()
        feed_refresh(feed_id=feed_id)
        ours.append(time.perf_counter() - started)
        started = time.perf_counter()
        _plainly(events)
        theirs.append(time.perf_counter() - started)
    return {"events": len(events), "first": first, "again": min(ours), "icalendar": min(theirs)}


def _plainly(events: Sequence[FeedEvent]) -> bytes:
    """The same events by icalendar with nothing around it."""

    calendar = Calendar()
    calendar.add("PRODID", "x")
    calendar.add("VERSION", "2.0")
    for one in events:
        event = Event()
        event.add("UID", one.uid)
        event.add("DTSTAMP", one.changed)
        event.add("LAST-MODIFIED", one.changed)
        event.add("SEQUENCE", one.sequence)
        zone = ZoneInfo(one.zone)
        for name, moment in (("DTSTART", one.start), ("DTEND", one.end)):
            event.add(name, moment.replace(tzinfo=zone) if isinstance(moment, dt.datetime) else moment)
        event.add("SUMMARY", one.summary)
        for name, text in (("DESCRIPTION", one.description), ("LOCATION", one.location), ("URL", one.address)):
            if text:
                event.add(name, text)
        if one.latitude is not None and one.longitude is not None:
            event.add("GEO", vGeo((float(one.latitude), float(one.longitude))))
        event.add("CATEGORIES", [one.category.value])
        event.add("STATUS", "CONFIRMED")
        event.add("TRANSP", "OPAQUE")
        calendar.add_component(event)
    written: bytes = calendar.to_ical(sorted=False)
    return written


def main() -> None:
    """Make, measure, print."""
    days, rounds = int(sys.argv[1]), int(sys.argv[2])
    feed_id, path = make_year(days)
    measured = cold(feed_id, rounds)
    body = base64.b64encode(feed_body(Feed.objects.get(pk=feed_id))).decode()
    json.dump({**measured, "path": path, "body": body}, sys.stdout)


if __name__ == "__main__":
    main()

"""Every feed read by calendar programs' own libraries, against the rows that it was made from.

icalendar with recurring-ical-events, ical and vobject (PyPI), ical.js (npm), and libical with its restriction check
(Debian), which is the library inside several desktop calendars. Across both clock changes of 2026-27 (Pub. L.
109-58 section 110: November 1, 2026, March 14, 2027), in two zones, in several scripts.
"""

import datetime as dt
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import recurring_ical_events
import vobject
from django.conf import settings
from filelock import FileLock
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar, Event

from schedule.calendar.models import CalendarEntry
from schedule.feeds.build import Category, FeedEvent, build_feed
from schedule.feeds.build import FeedHeading as FeedContent
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add, feed_options_save
from schedule.feeds.services.versions import feed_body
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import at
from tests.schedule.feeds.conftest import SITE, Clock
from tests.services import leave_out
from travel.places.models import Building

HERE = Path(__file__).parent / "readers"
ICAL_JS = "2.2.1"
NAMES = (
    "Comma, semicolon; back\\slash: “quotes”",
    "Übungsraum Straße Ōtautahi",
    "学校の体育館 🏀 👩🏽‍🏫",
    "مدرسة الشمال",
    "Школа № 5 \\n not a line break",
    "Ghar \u0939\u093f\u0928\u094d\u0926\u0940 e\u0301",
)
DAYS = (
    dt.date(2026, 10, 30),
    dt.date(2026, 11, 2),
    dt.date(2026, 11, 3),
    dt.date(2027, 3, 12),
    dt.date(2027, 3, 15),
)

type Read = tuple[str, str, str, str, str]
type Reader = Callable[[bytes], list[Read]]


@pytest.fixture
def feed(cast: Cast, clock: Clock) -> Feed:
    """A year of a teacher in two zones, with everything that texts can hold."""
    clock.now = dt.datetime(2026, 10, 29, 12, tzinfo=dt.UTC)
    cast.south.time_zone = "America/Denver"
    cast.south.address = "12; Old, Mill\\Road"
    cast.south.save()
    for number, day in enumerate(DAYS):
        monday = day - dt.timedelta(days=day.weekday())
        values = {"last_date": monday + dt.timedelta(days=6), "status": "published", "created_by": cast.teacher}
        week, _ = WeekPlan.objects.get_or_create(
            district=cast.district, teacher=cast.teacher, monday=monday, defaults=values
        )
        building = (cast.north, cast.south)[number % 2]
        building.name = NAMES[number % 2]
        building.save()
        for clock_time in ("1:15", "9:05", "23:10"):
            start = at(clock_time)
            PlannedSession.objects.create(
                week=week, date=day, start=start, end=start.replace(minute=start.minute + 30), building=building,
                setting="one_to_one", planner_key="line-1",
            )  # fmt: skip
        title = NAMES[number]
        DayItem.objects.create(week=week, date=day, kind="meeting", title=title, start=at("15:00"), end=at("15:20"),
                               building=building)  # fmt: skip
    CalendarEntry.objects.create(
        district=cast.district, first_date=DAYS[0], last_date=DAYS[1], kind="early_dismissal", title="x" * 120
    )
    made, _ = feed_add(actor=cast.teacher, kind="teacher", site=SITE, values={"label": "phone"})
    return made


def wanted(feed: Feed) -> list[Read]:
    """What the rows say, put together here and not by the program."""
    found: list[Read] = []
    for row in PlannedSession.objects.select_related("building"):
        place = ", ".join(part for part in (row.building.name, row.building.address) if part)
        summary = f"Adapted PE ({row.building.name})"
        found.append((str(row.uid), *_utc(row), summary, place))
    for item in DayItem.objects.select_related("building"):
        assert item.building is not None
        place = ", ".join(part for part in (item.building.name, item.building.address) if part)
        found.append(("", *_utc(item), item.title, place))
    entry = CalendarEntry.objects.get()
    after = entry.last_date + dt.timedelta(days=1)
    summary = f"Early dismissal: all schools ({entry.title})"
    found.append(("", entry.first_date.isoformat(), after.isoformat(), summary, ""))
    return found


def _utc(row: PlannedSession | DayItem) -> tuple[str, str]:
    assert row.building is not None
    zone = ZoneInfo(row.building.zone)
    moments = (dt.datetime.combine(row.date, time, tzinfo=zone) for time in (row.start, row.end))
    start, end = (one.astimezone(dt.UTC).isoformat()[:19] for one in moments)
    return start, end


def _said(moment: dt.datetime | dt.date) -> str:
    return moment.astimezone(dt.UTC).isoformat()[:19] if isinstance(moment, dt.datetime) else moment.isoformat()


def by_icalendar(body: bytes) -> list[Read]:
    """icalendar, with recurring-ical-events over two years."""
    found = recurring_ical_events.of(Calendar.from_ical(body)).between((2026, 1, 1), (2028, 1, 1))
    return [
        (str(one["UID"]), _said(one["DTSTART"].dt), _said(one["DTEND"].dt), str(one["SUMMARY"]),
         str(one.get("LOCATION", "")))
        for one in found
    ]  # fmt: skip


def by_ical(body: bytes) -> list[Read]:
    """The ical package."""
    calendar = IcsCalendarStream.calendar_from_ics(body.decode())
    return [
        (one.uid or "", _said(one.start), _said(one.end), one.summary or "", one.location or "")
        for one in calendar.timeline
    ]


def by_vobject(body: bytes) -> list[Read]:
    """vobject, which reads the zones from the file."""
    calendar = vobject.readOne(body.decode())
    return [
        (one.uid.value, _said(one.dtstart.value), _said(one.dtend.value), one.summary.value,
         one.location.value if hasattr(one, "location") else "")
        for one in calendar.vevent_list
    ]  # fmt: skip


def ical_js_place() -> Path:
    """Where ical.js lies; fetched from the registry once, whichever of several processes comes first."""
    if shutil.which("node") is None or shutil.which("npm") is None:
        leave_out("node and npm (Debian packages nodejs, npm)", "reading feeds with ical.js")
    place = settings.VAR_DIR / f"ical.js-{ICAL_JS}"
    module = place / "node_modules" / "ical.js" / "dist" / "ical.js"
    place.mkdir(parents=True, exist_ok=True)
    with FileLock(place / "fetching"):
        if not module.exists():
            command = ["npm", "install", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", str(place)]
            done = subprocess.run([*command, f"ical.js@{ICAL_JS}"], capture_output=True, text=True, check=False)
            if done.returncode != 0:
                leave_out("the npm registry", "reading feeds with ical.js")
    return module


def by_ical_js(body: bytes) -> list[Read]:
    """ical.js in node."""
    module = ical_js_place()
    done = subprocess.run(
        ["node", HERE / "ical_js.cjs", module.as_uri()], input=body, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    return [tuple(one) for one in json.loads(done.stdout)]


def ask_libical(body: bytes) -> dict[str, Any]:
    """What libical says: whether its restrictions hold, what it noted, and the events."""
    python = "/usr/bin/python3"
    there = subprocess.run(
        [python, "-c", "import gi; gi.require_version('ICalGLib', '3.0')"], capture_output=True, check=False
    ) if Path(python).exists() else None  # fmt: skip
    if there is None or there.returncode != 0:
        leave_out("libical (Debian packages gir1.2-ical-3.0, python3-gi)", "libical's restriction check")
    done = subprocess.run([python, HERE / "libical.py"], input=body, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    said: dict[str, Any] = json.loads(done.stdout)
    return said


def by_libical(body: bytes) -> list[Read]:
    """libical."""
    return [tuple(one) for one in ask_libical(body)["events"]]


READERS = [by_icalendar, by_ical, by_vobject, by_ical_js, by_libical]


@pytest.mark.parametrize("read", READERS)
def test_readers_find_what_the_rows_say(feed: Feed, read: Reader) -> None:
    """Same count, same instants, same text."""
    found = read(feed_body(feed))
    rows = wanted(feed)
    assert len(found) == len(rows) == 5 * 4 + 1
    assert sorted(one[1:] for one in found) == sorted(one[1:] for one in rows)
    uids = {one[0]: one[1:] for one in found}
    assert len(uids) == len(found)
    assert all(uids[one[0]] == one[1:] for one in rows if one[0])


@pytest.mark.parametrize("read", READERS)
def test_readers_see_a_cancellation_and_long_titles(feed: Feed, read: Reader, cast: Cast) -> None:
    """A title of 300 characters, with alarms and a canceled session, is read as it was written."""
    feed_options_save(actor=cast.teacher, feed=feed, values={"alarm_minutes": 15})
    item = DayItem.objects.earliest("pk")
    item.title = "🏫 é, ;" * 10
    item.save()
    cast.north.name = "N" * 120
    cast.north.address = "a, b; 体" * 25
    cast.north.save()
    feed_body(feed)
    PlannedSession.objects.earliest("pk").delete()
    CalendarEntry.objects.get().save()
    found = read(feed_body(feed))
    assert len([one for one in found if one[3].startswith("Canceled: ")]) == 1
    assert {item.title} <= {one[3] for one in found}
    assert f"{'N' * 120}, {'a, b; 体' * 25}" in {one[4] for one in found}
    assert max(len(one[4]) for one in found) > 290


IRREGULAR = ("Africa/Casablanca", "America/Mexico_City", "Africa/Cairo", "Pacific/Apia")


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("zone", IRREGULAR)
def test_readers_find_the_instant_in_zones_without_a_rule(read: Reader, zone: str) -> None:
    """Nine o'clock every week over two years, around each change of the clocks; zoneinfo says the instants."""
    mondays = [dt.date(2026, 1, 5) + dt.timedelta(weeks=n) for n in range(100)]
    moments = [dt.datetime.combine(day, dt.time(9), tzinfo=ZoneInfo(zone)) for day in mondays]
    assert len({one.utcoffset() for one in moments}) == (
        1 if zone in {"America/Mexico_City", "Pacific/Apia"} else 2
    )
    events = tuple(
        FeedEvent(
            uid=f"u{number}", sequence=0, changed=dt.datetime(2026, 1, 1, tzinfo=dt.UTC), zone=zone,
            start=one.replace(tzinfo=None), end=one.replace(tzinfo=None, hour=10), summary="x",
            category=Category.SESSION,
        )
        for number, one in enumerate(moments)
    )  # fmt: skip
    found = {one[0]: one[1] for one in read(build_feed(FeedContent("z", events)))}
    assert found == {f"u{number}": _said(one) for number, one in enumerate(moments)}


def test_libical_finds_nothing_to_complain_about(feed: Feed, cast: Cast) -> None:
    """The strictest of them: no restriction broken, no error noted.

    Also with alarms, with a zone whose changes stand by their dates, and for an empty feed.
    """
    for _ in range(2):
        said = ask_libical(feed_body(feed))
        assert said["problems"] == []
        assert said["holds"]
        feed_options_save(actor=cast.teacher, feed=feed, values={"alarm_minutes": 15, "drives": "note"})
        Building.objects.filter(pk=cast.south.pk).update(time_zone="Africa/Casablanca")
    empty, _ = feed_add(actor=cast.office, kind="building", site=SITE, values={"label": "x"}, building=cast.north)
    PlannedSession.objects.all().delete()
    DayItem.objects.all().delete()
    CalendarEntry.objects.all().delete()
    said = ask_libical(feed_body(empty))
    assert (said["holds"], said["problems"], said["events"]) == (True, [], [])


def test_libical_would_complain() -> None:
    """The check can fail: icalendar's own way to add zones writes a COMMENT, which RFC 5546 has no place for."""
    calendar = Calendar()
    calendar.add("PRODID", "x")
    calendar.add("VERSION", "2.0")
    event = Event()
    event.add("UID", "1")
    event.add("DTSTAMP", dt.datetime(2026, 1, 1, tzinfo=dt.UTC))
    event.add("DTSTART", dt.datetime(2026, 7, 1, 9, tzinfo=ZoneInfo("America/New_York")))
    calendar.add_component(event)
    calendar.add_missing_timezones()
    said = ask_libical(calendar.to_ical())
    assert not said["holds"]
    assert any("COMMENT" in one for one in said["problems"])

"""Builds a calendar feed: plain events in, the bytes of an iCalendar file out (RFC 5545, RFC 7986).

Pure: the same events give the same bytes, to the last one. Nothing here reads a clock, so DTSTAMP is the row's own
change. What calendar programs are known to do decides the rest:

* single dated events and no RRULE: rotations have none, and one widespread client shows moved occurrences twice;
* no METHOD, no UID on VCALENDAR (a client lost half of the events), no CLASS:PRIVATE (one calendar then shows only
  "Busy");
* REFRESH-INTERVAL with its VALUE parameter, which RFC 7986 section 5.7 requires;
* every zone used is first, as one fixed VTIMEZONE, by rules where there are any (schedule.feeds.zones);
* a canceled session stays for a while as STATUS:CANCELLED and transparent, with a prefix that programs show which
  ignore the status.
"""

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event, vCategory, vDatetime, vDuration, vGeo, vInt, vText, vUri
from icalendar.parser import Contentline

from schedule.feeds.zones import zone_component

PRODUCT = "-//Minutes and Miles//Feed 1//EN"
REFRESH = dt.timedelta(hours=1)
KEEP_CANCELED = dt.timedelta(days=14)
# A calendar that ended is empty for so long, so that phones drop what they hold; then there is none.
EMPTY_AFTER_END = dt.timedelta(days=14)
ENDED = "This calendar has ended"
CANCELED_PREFIX = "Canceled: "
LONGEST_TEXT = 2000
FOLD_AT = 75
# Control characters that no text value may hold (RFC 5545 section 3.1); the line feed is kept and escaped.
CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


class FeedError(ValueError):
    """An event that can't be written; the message says which and why."""


class Category(StrEnum):
    """What an event is."""

    SESSION = "Session"
    MAKE_UP = "Make-up"
    DRIVE = "Drive"
    LUNCH = "Lunch"
    PREPARATION = "Preparation"
    MEETING = "Meeting"
    CLOSURE = "Closure"


CATEGORIES = {category: vCategory([category.value]) for category in Category}
CONFIRMED, CANCELED = vText("CONFIRMED"), vText("CANCELLED")
OPAQUE, TRANSPARENT = vText("OPAQUE"), vText("TRANSPARENT")


@dataclass(frozen=True, slots=True)
class FeedEvent:
    """One event of a feed.

    `start` and `end` are both local wall-clock datetimes without zone, to be read in `zone` (an IANA name), or both
    dates for a whole day (`end` the day after the last). `changed` is an aware UTC datetime: when the row changed
    last. `uid` is opaque and stable; `sequence` rises with each change. `alarm_minutes` before the start, or None;
    `leave_alarm_minutes` is a second alarm before the start, for when it is time to leave for it.
    """

    uid: str
    sequence: int
    changed: dt.datetime
    start: dt.datetime | dt.date
    end: dt.datetime | dt.date
    zone: str
    summary: str
    category: Category
    description: str = ""
    location: str = ""
    latitude: Decimal | None = None
    longitude: Decimal | None = None
    address: str = ""
    canceled: bool = False
    transparent: bool = False
    alarm_minutes: int | None = None
    leave_alarm_minutes: int | None = None

    @property
    def whole_day(self) -> bool:
        """Whether it lasts whole days."""
        return not isinstance(self.start, dt.datetime)

    @property
    def last_date(self) -> dt.date:
        """The date on which it ends."""
        return self.end.date() if isinstance(self.end, dt.datetime) else self.end - dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class FeedHeading:
    """A feed's own properties. `source` is the address it is fetched from, or empty for a file.

    `zone` is written even if no event is in it: a calendar without any component is none (RFC 5545 section 3.6).
    """

    name: str
    events: tuple[FeedEvent, ...]
    description: str = ""
    color: str = "teal"
    source: str = ""
    zone: str = ""


def clean_text(text: str) -> str:
    """Text without characters that a content line may not hold; line breaks are kept as line feeds."""
    return CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def in_window(events: Iterable[FeedEvent], first: dt.date, last: dt.date, today: dt.date) -> tuple[FeedEvent, ...]:
    """Events that end on `first` or later and begin by `last`; canceled ones only for 14 days after the change."""

    def wanted(event: FeedEvent) -> bool:
        begins = event.start.date() if isinstance(event.start, dt.datetime) else event.start
        fresh = not event.canceled or today - event.changed.date() <= KEEP_CANCELED
        return fresh and event.last_date >= first and begins <= last

    return tuple(event for event in events if wanted(event))


def _check(event: FeedEvent) -> None:
    if isinstance(event.start, dt.datetime) != isinstance(event.end, dt.datetime):
        raise FeedError(f"Event {event.uid}: start and end must both be times or both be days.")
    for moment in (event.start, event.end):
        if isinstance(moment, dt.datetime) and moment.tzinfo is not None:
            raise FeedError(f"Event {event.uid}: give local times without an offset, and the zone by name.")
    if event.changed.tzinfo is None or event.changed.utcoffset() != dt.timedelta():
        raise FeedError(f"Event {event.uid}: the time of its last change must be in UTC.")
    if event.end <= event.start:
        raise FeedError(f"Event {event.uid}: it ends before it starts.")


def _moment(moment: dt.datetime | dt.date, zone: str) -> dt.datetime | dt.date:
    return moment.replace(tzinfo=ZoneInfo(zone)) if isinstance(moment, dt.datetime) else moment


def _alarm(minutes: int, summary: str) -> Alarm:
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", summary)
    alarm.add("TRIGGER", dt.timedelta(minutes=-minutes))
    return alarm


def _add_texts(component: Event, event: FeedEvent, summary: str) -> None:
    component["SUMMARY"] = _text(summary)
    for name, text in (("DESCRIPTION", event.description), ("LOCATION", event.location)):
        if text:
            component[name] = _text(text)
    if event.latitude is not None and event.longitude is not None:
        component["GEO"] = _place(event.latitude, event.longitude)
    if event.address:
        component["URL"] = vUri(event.address)


@lru_cache(maxsize=1000)
def _stamp(moment: dt.datetime) -> vDatetime:
    return vDatetime(moment)


@lru_cache(maxsize=1000)
def _text(text: str) -> vText:
    return vText(clean_text(text)[:LONGEST_TEXT])


@lru_cache(maxsize=1000)
def _place(latitude: Decimal, longitude: Decimal) -> vGeo:
    return vGeo((float(latitude), float(longitude)))


@lru_cache(maxsize=1000)
def _number(number: int) -> vInt:
    return vInt(number)


def _event(event: FeedEvent) -> Event:
    """The component; values that are the same in many events are made once, which halves what building costs."""
    _check(event)
    summary = clean_text((CANCELED_PREFIX if event.canceled else "") + event.summary)[:LONGEST_TEXT]
    component = Event()
    component["UID"] = vText(event.uid)
    component["DTSTAMP"] = component["LAST-MODIFIED"] = _stamp(event.changed)
    component["SEQUENCE"] = _number(event.sequence)
    component.add("DTSTART", _moment(event.start, event.zone))
    component.add("DTEND", _moment(event.end, event.zone))
    _add_texts(component, event, summary)
    component["CATEGORIES"] = CATEGORIES[event.category]
    component["STATUS"] = CANCELED if event.canceled else CONFIRMED
    component["TRANSP"] = TRANSPARENT if event.canceled or event.transparent else OPAQUE
    for minutes, what in ((event.alarm_minutes, summary), (event.leave_alarm_minutes, f"Leave for: {summary}")):
        if minutes is not None and not event.canceled:
            component.add_component(_alarm(minutes, what[:LONGEST_TEXT]))
    return component


def _order(event: FeedEvent) -> tuple[str, str]:
    return event.start.isoformat(), event.uid


def _zones(feed: FeedHeading) -> list[str]:
    used = {event.zone for event in feed.events if not event.whole_day}
    return sorted(used | ({feed.zone} if feed.zone else set()))


def source_line(source: str) -> bytes:
    """The content line that says where a feed is fetched from, folded (RFC 7986 section 5.8)."""
    uri = vUri(source, params={"VALUE": "URI"})
    line: bytes = Contentline.from_parts("SOURCE", uri.params, uri).to_ical()
    return line + b"\r\n"


def head_and_rest(written: bytes) -> tuple[bytes, bytes]:
    """A feed cut before its first component, where `source_line` belongs: the address isn't kept with the bytes."""
    cut = written.index(b"\r\nBEGIN:") + 2
    return written[:cut], written[cut:]


def build_feed(feed: FeedHeading) -> bytes:
    """The feed as UTF-8 with CRLF, lines folded at 75 octets.

    Raises `FeedError` for an event that can't be written or a UID that stands twice.
    """
    uids = [event.uid for event in feed.events]
    if len(set(uids)) != len(uids):
        raise FeedError("Two events have the same UID.")
    calendar = Calendar()
    calendar.add("PRODID", PRODUCT)
    calendar.add("VERSION", "2.0")
    # The library doesn't know these two as text and would leave commas and semicolons unescaped.
    calendar.add("NAME", vText(clean_text(feed.name)))
    calendar.add("X-WR-CALNAME", vText(clean_text(feed.name)))
    if feed.description:
        calendar.add("DESCRIPTION", clean_text(feed.description))
    calendar.add("COLOR", feed.color)
    refresh = vDuration(REFRESH)
    refresh.params["VALUE"] = "DURATION"
    calendar.add("REFRESH-INTERVAL", refresh)
    calendar.add("X-PUBLISHED-TTL", vDuration(REFRESH))
    if feed.source:
        calendar.add("SOURCE", vUri(feed.source, params={"VALUE": "URI"}))
    for zone in _zones(feed):
        calendar.add_component(zone_component(zone))
    for event in sorted(feed.events, key=_order):
        calendar.add_component(_event(event))
    return _written(calendar)


@cache
def emptied_feed() -> bytes:
    """What an ended address answers with at first, so that phones drop what they hold. The same for every feed."""
    said = "It shows nothing anymore. Remove the subscription, or ask for a new address."
    return build_feed(FeedHeading(ENDED, (), description=said, zone="UTC"))


def _written(calendar: Calendar) -> bytes:
    """What the library's `to_ical` writes; the line of a value that many events share is made once."""
    items = calendar.property_items(sorted=False)  # Held until the end, so that no two values have one identity.
    lines: dict[tuple[str, object], bytes] = {}
    written = []
    for name, value in items:
        key = (name, value if isinstance(value, bytes) else id(value))
        line = lines.get(key)
        if line is None:
            line = lines[key] = _folded(calendar.content_line(name, value, sorted=False))
        written.append(line)
    return b"".join(written)


def _folded(line: Contentline) -> bytes:
    """The library looks at each character; only long lines and other scripts need that."""
    if len(line) < FOLD_AT and line.isascii():
        return line.encode() + b"\r\n"
    folded: bytes = line.to_ical()  # type: ignore[no-untyped-call]  # the library has no types here
    return folded + b"\r\n"

"""The bytes of a feed against RFC 5545 and RFC 7986, with dateutil as a second reader of time zones."""

import datetime as dt
import io
from dataclasses import replace
from decimal import Decimal
from zoneinfo import ZoneInfo, available_timezones

import pytest
from dateutil.tz import tzical
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from schedule.feeds.build import Category, FeedError, FeedEvent, FeedHeading, build_feed, clean_text, in_window
from schedule.feeds.zones import zone_component

CHANGED = dt.datetime(2026, 10, 1, 12, 0, tzinfo=dt.UTC)
SESSION = FeedEvent(
    uid="3f2b64e0-0000-4000-8000-000000000001",
    sequence=2,
    changed=CHANGED,
    start=dt.datetime(2026, 10, 30, 9, 5),  # noqa: DTZ001 -- local by contract
    end=dt.datetime(2026, 10, 30, 9, 35),  # noqa: DTZ001 -- local by contract
    zone="America/New_York",
    summary="Room 4, gym",
    category=Category.SESSION,
)
CLOSED = replace(
    SESSION, uid="closed", start=dt.date(2026, 11, 26), end=dt.date(2026, 11, 28), summary="Closed",
    category=Category.CLOSURE, transparent=True,
)  # fmt: skip


def unfolded(*events: FeedEvent, **feed: str) -> list[str]:
    """Content lines of a feed, unfolded as RFC 5545 section 3.1 says."""
    name = feed.pop("name", "Week")
    return build_feed(FeedHeading(name, events, **feed)).decode().replace("\r\n ", "").split("\r\n")


ZONES = [
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
    "Europe/Berlin",
    # Given up, taken up, moved by the moon or by law, over a date line: no rule for every year.
    "America/Mexico_City",
    "America/Metlakatla",
    "America/Sao_Paulo",
    "America/Bahia",
    "Europe/Moscow",
    "Europe/Dublin",
    "Africa/Casablanca",
    "Africa/Cairo",
    "Asia/Gaza",
    "Pacific/Apia",
]


@pytest.mark.parametrize("name", ZONES)
def test_the_zone_is_right_at_every_hour_that_matters(name: str) -> None:
    """Read back by dateutil, the text gives zoneinfo's offset on each day of 2008 to 2037 and each hour of 2026.

    United States: Pub. L. 109-58 section 110, so March 8 and November 1, 2026, 14 March and November 7, 2027.
    """
    read = tzical(io.StringIO(build_feed(FeedHeading("z", (replace(SESSION, zone=name),))).decode())).get(name)
    zone = ZoneInfo(name)
    days = [dt.datetime(2008, 1, 1, 12) + dt.timedelta(days=n) for n in range(30 * 365)]  # noqa: DTZ001 -- both zones asked
    hours = [dt.datetime(2026, 1, 1) + dt.timedelta(hours=n) for n in range(365 * 24)]  # noqa: DTZ001 -- both zones asked
    assert read is not None
    wrong = [
        moment for moment in days + hours
        if moment.replace(tzinfo=read).utcoffset() != moment.replace(tzinfo=zone).utcoffset()
        # In the hour that doesn't exist the two libraries guess differently; no school meets then.
        and moment.replace(tzinfo=zone).astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) == moment
    ]  # fmt: skip
    assert wrong == []


def test_changes_without_a_yearly_rule_stand_by_their_dates() -> None:
    """Morocco in 2026: back on February 15, on again on March 22 (IANA time zone database, rules of Morocco).

    RFC 5545 section 3.8.5.2: RDATE; one a line, since some readers look at the first value only.
    """
    lines = zone_component("Africa/Casablanca").to_ical().decode().splitlines()
    assert {"RDATE:20260215T030000", "RDATE:20260322T020000"} <= set(lines)
    assert not [line for line in lines if line.startswith("RRULE") or "," in line]


@pytest.mark.long
def test_every_zone_can_be_written() -> None:
    """Whatever a building's zone is, its feed is one: the IANA database's names, none refused."""
    for name in sorted(available_timezones()):
        component = zone_component(name)
        assert component.subcomponents, name
        assert all("DTSTART" in part for part in component.subcomponents), name


def test_required_and_forbidden_properties() -> None:
    """RFC 5545 sections 3.6 and 3.6.1, RFC 7986 sections 5.1 to 5.9; and what programs are known to trip over."""
    lines = unfolded(SESSION, CLOSED, source="https://school.example/feed", description="d")
    head = lines[: lines.index("BEGIN:VTIMEZONE")]
    assert head[:2] == ["BEGIN:VCALENDAR", "PRODID:-//Minutes and Miles//Feed 1//EN"]
    assert {
        "VERSION:2.0", "NAME:Week", "X-WR-CALNAME:Week", "COLOR:teal", "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
        "X-PUBLISHED-TTL:PT1H", "SOURCE;VALUE=URI:https://school.example/feed", "DESCRIPTION:d",
    } <= set(head)  # fmt: skip
    assert not [line for line in head if line.startswith(("UID", "METHOD"))]
    assert not [line for line in lines if line.startswith(("CLASS", "COMMENT"))]
    assert [line for line in lines if line.startswith("RRULE")] == [
        "RRULE:FREQ=YEARLY;BYDAY=2SU;BYMONTH=3", "RRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=11",
    ]  # fmt: skip
    assert {"DTSTART;TZID=America/New_York:20261030T090500", "DTSTAMP:20261001T120000Z", "SEQUENCE:2"} <= set(lines)


def test_a_name_with_commas_is_escaped() -> None:
    """RFC 5545 section 3.3.11: COMMA and SEMICOLON in a text are escaped."""
    assert {r"NAME:A\, B\; C", r"X-WR-CALNAME:A\, B\; C"} <= set(unfolded(SESSION, name="A, B; C"))


def test_whole_days_are_dates_and_transparent() -> None:
    """RFC 5545 section 3.6.1: an all-day event ends on the day after, which isn't part of it."""
    lines = unfolded(CLOSED)
    assert {"DTSTART;VALUE=DATE:20261126", "DTEND;VALUE=DATE:20261128", "TRANSP:TRANSPARENT"} <= set(lines)


def test_a_canceled_session_is_said_three_ways() -> None:
    """STATUS for programs that heed it, the prefix for those that don't, and no time blocked; no alarm either."""
    lines = unfolded(replace(SESSION, canceled=True, alarm_minutes=10))
    assert {"STATUS:CANCELLED", "TRANSP:TRANSPARENT", r"SUMMARY:Canceled: Room 4\, gym"} <= set(lines)
    assert "BEGIN:VALARM" not in lines


def test_alarms_only_where_asked() -> None:
    """Off unless asked for."""
    assert "BEGIN:VALARM" not in unfolded(SESSION)
    assert "TRIGGER:-PT10M" in unfolded(replace(SESSION, alarm_minutes=10))


def test_place_and_log_page() -> None:
    """GEO is latitude;longitude (RFC 5545 section 3.8.1.6)."""
    event = replace(
        SESSION, latitude=Decimal("43.1"), longitude=Decimal("-75.2"), address="https://school.example/log/x/",
        location="North Hollow School, 1 Mill Road",
    )  # fmt: skip
    wanted = {"GEO:43.1;-75.2", "URL:https://school.example/log/x/", r"LOCATION:North Hollow School\, 1 Mill Road"}
    assert wanted <= set(unfolded(event))


def test_a_canceled_session_goes_after_14_days() -> None:
    """Kept for two weeks after the change, then gone; others stay within the window."""
    gone = replace(SESSION, canceled=True)
    window = (dt.date(2026, 10, 1), dt.date(2026, 12, 31))
    assert in_window([gone], *window, today=dt.date(2026, 10, 15)) == (gone,)
    assert in_window([gone], *window, today=dt.date(2026, 10, 16)) == ()
    assert in_window([SESSION, CLOSED], dt.date(2026, 11, 27), dt.date(2026, 11, 30), dt.date(2026, 11, 1)) == (
        CLOSED,
    )


@pytest.mark.parametrize(
    "broken",
    [
        replace(SESSION, end=SESSION.start),
        replace(SESSION, end=dt.date(2026, 10, 30)),
        replace(SESSION, start=SESSION.start.replace(tzinfo=dt.UTC)),  # type: ignore[call-arg]
        replace(SESSION, changed=CHANGED.replace(tzinfo=None)),
    ],
)
def test_an_event_that_cannot_be_is_refused(broken: FeedEvent) -> None:
    """Never a wrong line: an error that names the event."""
    with pytest.raises(FeedError, match="3f2b64e0"):
        build_feed(FeedHeading("Week", (broken,)))


def test_a_uid_stands_once() -> None:
    """RFC 5545 section 3.8.4.7: globally unique."""
    with pytest.raises(FeedError, match="same UID"):
        build_feed(FeedHeading("Week", (SESSION, SESSION)))


@given(st.text(max_size=300), st.text(max_size=300))
def test_any_text_survives_the_round_trip(summary: str, place: str) -> None:
    """CRLF everywhere, no line over 75 octets, no character cut, and the text read back as written."""
    event = replace(SESSION, summary=summary, location=place)
    written = build_feed(FeedHeading("Week", (event,)))
    assert all(len(line) <= 75 for line in written.split(b"\r\n"))
    assert b"\n" not in written.replace(b"\r\n", b"")
    for line in written.split(b"\r\n"):
        line.decode()
    read = Calendar.from_ical(written).walk("VEVENT")[0]
    assert str(read["SUMMARY"]) == clean_text(summary)
    assert str(read.get("LOCATION", "")) == clean_text(place)


@given(st.lists(st.tuples(st.text(), st.text(max_size=90)), min_size=1, max_size=4))
def test_the_bytes_are_the_librarys_own(texts: list[tuple[str, str]]) -> None:
    """Lines are put together here for speed; icalendar writes the same of what it reads in them."""
    events = tuple(
        replace(SESSION, uid=str(number), summary=summary, location=place, description=place)
        for number, (summary, place) in enumerate(texts)
    )
    written = build_feed(FeedHeading("Week, term; 学校", events))
    assert Calendar.from_ical(written).to_ical(sorted=False) == written


@given(st.permutations([SESSION, CLOSED, replace(SESSION, uid="b"), replace(SESSION, uid="c", canceled=True)]))
def test_two_builds_of_one_version_are_equal_to_the_byte(events: list[FeedEvent]) -> None:
    """Neither order nor chance nor the clock has a part in it."""
    assert build_feed(FeedHeading("Week", tuple(events))) == build_feed(
        FeedHeading("Week", tuple(sorted(events, key=lambda e: e.uid)))
    )

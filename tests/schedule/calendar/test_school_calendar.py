"""Published school calendars: what is recognized, repetition across clock changes, files not readable."""

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from hypothesis import given
from hypothesis import strategies as st

from schedule.calendar.published.busy import busy_times
from schedule.calendar.published.parsing import LARGEST_FILE_BYTES, SchoolCalendarError
from schedule.calendar.published.reading import CalendarPreview, read_school_calendar
from schedule.calendar.published.words import DEFAULT_WORD_RULES, FindingKind, TitleRule

NEW_YORK = ZoneInfo("America/New_York")
YEAR = (date(2026, 8, 1), date(2027, 7, 31))


def event(*lines: str, title: str = "No school", uid: str | None = None) -> str:
    """One event of an iCalendar file; its UID is its content unless given."""
    body = [f"SUMMARY:{title}", *lines]
    name = uid or "-".join(body).replace(";", "_").replace(":", "_").replace(",", "_")
    return "\r\n".join(["BEGIN:VEVENT", f"UID:{name}", "DTSTAMP:20260801T000000Z", *body, "END:VEVENT", ""])


def file_of(*events: str) -> bytes:
    head = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Larkfield//Calendar//EN\r\n"
    return (head + "".join(events) + "END:VCALENDAR\r\n").encode()


def read(
    *events: str, days: tuple[date, date] = YEAR, rules: tuple[TitleRule, ...] = DEFAULT_WORD_RULES
) -> CalendarPreview:
    return read_school_calendar(file_of(*events), zone=NEW_YORK, first=days[0], last=days[1], rules=rules)


def first_dates(preview: CalendarPreview) -> list[date]:
    assert preview.problems == ()
    return [finding.first for finding in preview.found]


# --- days and times


def test_an_all_day_event_ends_the_day_before_its_end() -> None:
    """RFC 5545 section 3.6.1: DTEND is not part of the event; without DTEND it is one day."""
    preview = read(
        event("DTSTART;VALUE=DATE:20261123", "DTEND;VALUE=DATE:20261128", title="Fall recess"),
        event("DTSTART;VALUE=DATE:20261012"),
        event("DTSTART;VALUE=DATE:20270215", "DURATION:P3D"),
    )
    assert [(f.first, f.last) for f in preview.found] == [
        (date(2026, 10, 12), date(2026, 10, 12)),
        (date(2026, 11, 23), date(2026, 11, 27)),
        (date(2027, 2, 15), date(2027, 2, 17)),
    ]


@pytest.mark.parametrize(
    ("lines", "days"),
    [
        # 03:00 UTC is the evening before in New York, in summer and in winter.
        (["DTSTART:20261030T030000Z"], [date(2026, 10, 29)]),
        (["DTSTART:20261201T043000Z", "DTEND:20261201T050000Z"], [date(2026, 11, 30)]),
        (["DTSTART;TZID=America/Los_Angeles:20261030T220000", "DURATION:PT1H"], [date(2026, 10, 31)]),
        # Without a zone a time is local (RFC 5545 section 3.3.5, form 1).
        (["DTSTART:20261030T233000", "DTEND:20261031T000000"], [date(2026, 10, 30)]),
        # A name of zones that office programs write.
        (["DTSTART;TZID=Eastern Standard Time:20261030T113000", "DURATION:PT1H"], [date(2026, 10, 30)]),
        (["DTSTART;TZID=America/New_York:20261030T080000", "DTEND;TZID=America/New_York:20261031T080000"],
         [date(2026, 10, 30), date(2026, 10, 31)]),
    ],
)  # fmt: skip
def test_times_become_local_dates_of_the_district(lines: list[str], days: list[date]) -> None:
    (finding,) = read(event(*lines)).found
    assert [finding.first, finding.last] == [days[0], days[-1]]


@pytest.mark.parametrize(
    ("start", "days"),
    [
        # Clock changes of Pub. L. 109-58 section 110: November 1, 2026 and March 14, 2027.
        ("20261031T003000", (date(2026, 10, 31), 3)),
        ("20261031T013000", (date(2026, 10, 31), 3)),  # 1:30 on November 1 comes twice
        ("20261031T233000", (date(2026, 10, 31), 3)),
        ("20270313T023000", (date(2027, 3, 13), 3)),  # 2:30 on March 14 never comes
        ("20270313T233000", (date(2027, 3, 13), 3)),
    ],
)
def test_a_daily_event_keeps_its_dates_across_the_clock_change(start: str, days: tuple[date, int]) -> None:
    preview = read(event(f"DTSTART;TZID=America/New_York:{start}", "DURATION:PT10M", "RRULE:FREQ=DAILY;COUNT=3"))
    assert first_dates(preview) == [days[0] + timedelta(days=n) for n in range(days[1])]


def test_an_event_in_utc_changes_its_local_date_with_the_clock() -> None:
    """04:30 UTC is 00:30 in New York until October 31, 2026 and 23:30 of the day before from November 1 on."""
    preview = read(event("DTSTART:20261030T043000Z", "DURATION:PT10M", "RRULE:FREQ=DAILY;COUNT=4"))
    # October 30, October 31 and November 1 at 00:30; 2 November 04:30 UTC is 1 November 23:30: the same date again.
    assert first_dates(preview) == [date(2026, 10, 30), date(2026, 10, 31), date(2026, 11, 1)]


def test_events_that_touch_the_range_are_clipped_to_it() -> None:
    preview = read(
        event("DTSTART;VALUE=DATE:20260720", "DTEND;VALUE=DATE:20260805", title="Summer vacation"),
        event("DTSTART;VALUE=DATE:20270730", "DTEND;VALUE=DATE:20270901", title="Summer vacation"),
        event("DTSTART;VALUE=DATE:20270801", title="No school, too late"),
        event("DTSTART;VALUE=DATE:20260731", title="No school, too early"),
    )
    assert [(f.first, f.last) for f in preview.found] == [
        (date(2026, 8, 1), date(2026, 8, 4)),
        (date(2027, 7, 30), date(2027, 7, 31)),
    ]


# --- repetition

IN_1997 = (date(1997, 1, 1), date(1998, 12, 31))


@pytest.mark.parametrize(
    ("start", "rule", "days", "expected"),
    [
        # RFC 5545 section 3.8.5.3, each at 09:00 America/New_York.
        (
            "19970805",
            "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
            IN_1997,
            [date(1997, 8, day) for day in (5, 10, 19, 24)],
        ),
        (
            "19970805",
            "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
            IN_1997,
            [date(1997, 8, day) for day in (5, 17, 19, 31)],
        ),
        (
            "20070115",
            "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
            (date(2007, 1, 1), date(2007, 12, 31)),
            [date(2007, 1, 15), date(2007, 1, 30), date(2007, 2, 15), date(2007, 3, 15), date(2007, 3, 30)],
        ),
    ],
)
@pytest.mark.parametrize("form", ["DTSTART;TZID=America/New_York:{}T090000", "DTSTART;VALUE=DATE:{}"])
def test_repetitions_of_rfc_5545(
    start: str, rule: str, days: tuple[date, date], expected: list[date], form: str
) -> None:
    assert first_dates(read(event(form.format(start), f"RRULE:{rule}"), days=days)) == expected


def test_every_other_week_until_christmas_of_rfc_5545() -> None:
    """RFC 5545 section 3.8.5.3: 25 instances from September 1 to December 22, 1997, across October 26."""
    rule = "RRULE:FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR"
    found = first_dates(read(event("DTSTART;TZID=America/New_York:19970901T090000", rule), days=IN_1997))
    assert len(found) == 25
    assert found[:4] == [date(1997, 9, day) for day in (1, 3, 5, 15)]
    assert found[-2:] == [date(1997, 12, 12), date(1997, 12, 22)]


def test_left_out_and_moved_occurrences() -> None:
    """RFC 5545 sections 3.8.5.1, 3.8.5.2 and 3.8.4.4: EXDATE, RDATE and a changed occurrence."""
    preview = read(
        event(
            "DTSTART;VALUE=DATE:20260902",
            "RRULE:FREQ=WEEKLY;COUNT=4",
            "EXDATE;VALUE=DATE:20260909",
            "RDATE;VALUE=DATE:20261001",
            title="Half day",
            uid="wednesdays",
        ),
        event(
            "RECURRENCE-ID;VALUE=DATE:20260916", "DTSTART;VALUE=DATE:20260917", title="Half day", uid="wednesdays"
        ),
    )
    assert first_dates(preview) == [date(2026, 9, 2), date(2026, 9, 17), date(2026, 9, 23), date(2026, 10, 1)]


@given(
    st.sampled_from(["DAILY", "WEEKLY", "MONTHLY"]),
    st.integers(1, 9),
    st.integers(1, 30),
    st.dates(date(2026, 7, 1), date(2027, 6, 1)),
)
def test_repetition_agrees_with_dateutil(frequency: str, interval: int, count: int, start: date) -> None:
    rule = f"FREQ={frequency};INTERVAL={interval};COUNT={count}"
    begin = f"{start:%Y%m%d}T000000"
    all_of_them = [moment.date() for moment in rrulestr(f"DTSTART:{begin}\nRRULE:{rule}")]
    expected = [day for day in all_of_them if YEAR[0] <= day <= YEAR[1]]
    marker = event("DTSTART;VALUE=DATE:20270731", title="Marker")
    found = read(event(f"DTSTART;VALUE=DATE:{start:%Y%m%d}", f"RRULE:{rule}"), marker)
    assert [finding.first for finding in found.found] == expected


# --- words


def kinds(title: str) -> list[FindingKind | None]:
    return [finding.kind for finding in read(event("DTSTART;VALUE=DATE:20261012", title=title)).found]


@pytest.mark.parametrize(
    ("title", "kind"),
    [
        # Common practice, no source: titles as school calendars write them.
        ("Schools Closed - Labor Day", "closed"),
        ("Winter Break", "closed"),
        ("Mid-winter recess", "closed"),
        ("Presidents\u2019 Day", "closed"),
        ("New Year's Day", "closed"),
        ("Early Dismissal (K-5)", "early_dismissal"),
        ("EARLY-DISMISSAL", "early_dismissal"),
        ("Half Days for conferences", "early_dismissal"),
        ("Early Release - Winter Break begins", "early_dismissal"),
        ("2-Hour Delay", "delayed_opening"),
        ("Late start Wednesday", "delayed_opening"),
        ("Professional Day - No School", "no_students"),
        ("No students: teacher workday", "no_students"),
        ("First Day of School", "first_day"),
    ],
)
def test_titles_are_recognized(title: str, kind: str) -> None:
    assert kinds(title) == [FindingKind(kind)]


def test_an_end_of_the_year_may_be_a_short_day_too() -> None:
    assert kinds("Last day of school, early dismissal") == [FindingKind.LAST_DAY, FindingKind.EARLY_DISMISSAL]


def test_ordinary_days_are_found_as_such_and_others_are_unmatched() -> None:
    assert kinds("Holiday concert 7 pm") == [None]
    preview = read(
        event("DTSTART;VALUE=DATE:20261012", title="Pancake breakfast"),
        event("DTSTART;VALUE=DATE:20261013", title="Knoll School spring sing"),
    )
    assert preview.found == ()
    assert [finding.title for finding in preview.unmatched] == ["Pancake breakfast", "Knoll School spring sing"]


def test_the_users_own_table_decides_in_its_order() -> None:
    mine = (
        TitleRule("Founders' day", FindingKind.CLOSED),
        TitleRule("day", None),
        TitleRule("", FindingKind.CLOSED),
    )
    preview = read(
        event("DTSTART;VALUE=DATE:20261012", title="FOUNDERS DAY"),
        event("DTSTART;VALUE=DATE:20261013", title="Labor Day"),
        event("DTSTART;VALUE=DATE:20261014", title="Recess"),
        rules=mine,
    )
    assert [(f.kind, f.matched) for f in preview.found] == [(FindingKind.CLOSED, "Founders' day"), (None, "day")]
    assert [f.title for f in preview.unmatched] == ["Recess"]


# --- what cannot be read


def refuse(content: bytes) -> str:
    with pytest.raises(SchoolCalendarError) as caught:
        read_school_calendar(content, zone=NEW_YORK, first=YEAR[0], last=YEAR[1], rules=DEFAULT_WORD_RULES)
    return str(caught.value)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not an iCalendar file"),
        (b"Date,Event\n2026-10-12,No school\n", "not an iCalendar file"),
        ("Congé".encode("latin-1"), "not an iCalendar file"),
        (b"BEGIN:VCALENDAR\r\nno colon here\r\nEND:VCALENDAR\r\n", "the calendar isn't an iCalendar property"),
        (b"END:VCALENDAR\r\nBEGIN:VCALENDAR\r\n", "damaged and cannot be read"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", "begins 1 events and ends 0"),
        (file_of(event("DTSTART;VALUE=DATE:20261012"))[:-40], "begins 1 events and ends 0"),
        (b"BEGIN:VCALENDAR\r\n" + b"x" * LARGEST_FILE_BYTES, "at most 5,000,000 are read"),
        (file_of(), "None of the 0 events"),
        (file_of(event("DTSTART;VALUE=DATE:20221012")), "right school year"),
        (file_of(event("DTSTART;VALUE=DATE:2026-10-12")), "The first problem in it: Event"),
        (file_of(event("DTSTART;VALUE=DATE:20261012") * 10_001), "more than 10,000 events"),
        (
            file_of(*(event("DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=DAILY", uid=f"e{n}") for n in range(301))),
            "more than 300 repeating events",
        ),
        (
            file_of(*(event("DTSTART;VALUE=DATE:20260801", "RRULE:FREQ=DAILY", uid=f"e{n}") for n in range(15))),
            "more than 5,000 occurrences",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "file",
)
def test_files_that_cannot_be_used_say_why(content: bytes, words: str) -> None:
    assert words in refuse(content)


def test_a_byte_order_mark_is_no_fault() -> None:
    content = b"\xef\xbb\xbf" + file_of(event("DTSTART;VALUE=DATE:20261012"))
    preview = read_school_calendar(content, zone=NEW_YORK, first=YEAR[0], last=YEAR[1], rules=DEFAULT_WORD_RULES)
    assert len(preview.found) == 1


@pytest.mark.parametrize("days", [(YEAR[1], YEAR[0]), (date(2026, 8, 1), date(2036, 8, 1))])
def test_a_range_that_is_none_is_refused(days: tuple[date, date]) -> None:
    with pytest.raises(SchoolCalendarError, match="three years"):
        read(event("DTSTART;VALUE=DATE:20261012"), days=days)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["DTSTART;VALUE=DATE:2026-10-12"], "DTSTART cannot be read"),
        (["DTSTART;VALUE=DATE:20261012", "DTSTART;VALUE=DATE:20261013"], "DTSTART cannot be read"),
        (["DTSTART:20261012T090000", "DURATION:P1H"], "DURATION cannot be read"),  # RFC 5545 section 3.3.6: PT1H
        (["DTSTART;VALUE=DATE:20261012", "DURATION:20261012"], "DURATION cannot be read"),
        (["DTSTART;VALUE=DATE:20261012", "RDATE:P1W"], "RDATE cannot be read"),
        (["DESCRIPTION:no start"], "no start (DTSTART)"),
        (["DTSTART;VALUE=DATE:20261012", "DTEND;VALUE=DATE:20261010"], "ends before it begins"),
        (["DTSTART:20261012T100000Z", "DTEND:20261012T090000Z"], "ends before it begins"),
        (["DTSTART:20261012T100000", "DTEND:20261012T090000Z"], "ends before it begins"),
        (["DTSTART;VALUE=DATE:20261012", "DTEND:20261012T090000Z"], "start and end cannot be read"),
        (["DTSTART;VALUE=DATE:00011012"], "dated 1 to 1"),
        (["DTSTART;VALUE=DATE:20261012", "STATUS:CANCELLED"], "canceled"),
        (["DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=WEEKLY;BYDAY=XX"], "RRULE cannot be read"),
        (["DTSTART:20261012T100000Z", "RRULE:FREQ=SECONDLY"], "more often than daily"),
        (["DTSTART:20261012T100000Z", "RRULE:FREQ=DAILY;BYHOUR=1,2,3"], "BYHOUR, which is not read"),
        (["DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=DAILY;BYMONTHDAY=30;BYMONTH=2"], "BYMONTHDAY, which is not"),
        (["DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=YEARLY;BYMONTHDAY=30;BYMONTH=2"], "its months do not have"),
        (["DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=DAILY;BYMONTH=13"], "its months do not have"),
        (["DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=WEEKLY;INTERVAL=0"], "INTERVAL below 1"),
        (["DTSTART;VALUE=DATE:20261012", "RRULE:FREQ=DAILY;INTERVAL=10001"], "or above 10,000"),
        (["DTSTART;VALUE=DATE:20261012", "SEQUENCE:1", "SEQUENCE:2"], "SEQUENCE more than once"),
        # The year 9999 is the last of ISO 8601's four digits: no day and no other zone's time comes after it.
        (["DTSTART;VALUE=DATE:99991231"], "only those are read"),
        (["DTSTART:99991231T235959Z"], "dated 9999 to 9999"),
        (["DTSTART;VALUE=DATE:20261012", "DTEND;VALUE=DATE:99991231"], "dated 2026 to 9999"),
        (
            ["DTSTART;TZID=America/New_York:20261012T100000", "RDATE;TZID=America/New_York:99991231T235959"],
            "only those are read",
        ),
        (["DTSTART;VALUE=DATE:20261012", "EXDATE;VALUE=DATE:00010101"], "only those are read"),
        (["DTSTART;VALUE=DATE:20261012", "DURATION:P99999999D"], "only those are read"),
        (["DTSTART;VALUE=DATE:20261012", "DURATION:P99999999D", "RRULE:FREQ=DAILY;COUNT=2"], "only those are read"),
        (["DTSTART;VALUE=DATE:20261012", "DURATION:P9999999999D"], "DURATION cannot be read"),
        (["DTSTART:20261012T100000Z", "RDATE;VALUE=PERIOD:20261013T100000Z/P99999999D"], "only those are read"),
        (["DTSTART;VALUE=DATE:20261012", "DURATION:P9999D", "RRULE:FREQ=DAILY"], "lasts longer than a year"),
        (["RECURRENCE-ID;VALUE=DATE:20261012"], "no start (DTSTART)"),
    ],
)
def test_an_event_that_cannot_be_used_is_a_problem_and_the_rest_is_read(lines: list[str], words: str) -> None:
    preview = read(event(*lines, title="Odd one"), event("DTSTART;VALUE=DATE:20261111"))
    assert [finding.first for finding in preview.found] == [date(2026, 11, 11)]
    (problem,) = preview.problems
    assert 'Event "Odd one" was left out' in problem
    assert words in problem


def test_an_unknown_zone_is_read_as_local_and_said() -> None:
    preview = read(event("DTSTART;TZID=Nowhere/Larkfield:20261030T233000", "DURATION:PT20M"))
    assert [finding.first for finding in preview.found] == [date(2026, 10, 30)]
    assert "unknown time zone" in preview.problems[0]


def reading(content: bytes) -> CalendarPreview:
    return read_school_calendar(content, zone=NEW_YORK, first=YEAR[0], last=YEAR[1], rules=DEFAULT_WORD_RULES)


REMINDER = ["BEGIN:VALARM", "ACTION:DISPLAY", "TRIGGER:P1H", "END:VALARM"]
HOLIDAY = event("DTSTART;VALUE=DATE:20261012")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        # RFC 5545 section 3.3.6: an hour is PT1H; section 3.6.5: a time zone has at least one of STANDARD and
        # DAYLIGHT, each with a start and two offsets.
        (b"REFRESH-INTERVAL;VALUE=DURATION:P1H",
         ("REFRESH-INTERVAL of the calendar cannot be read and was left out.",)),
        (b"BEGIN:VTIMEZONE\r\nEND:VTIMEZONE", ()),
        (b"BEGIN:VTIMEZONE\r\nTZID:Fells A\r\nEND:VTIMEZONE",
         ('The time zone "Fells A" cannot be read; times in it are read as local.',)),
        (b"BEGIN:VTIMEZONE\r\nTZID:Fells B\r\nBEGIN:STANDARD\r\nEND:STANDARD\r\nEND:VTIMEZONE",
         ('The time zone "Fells B" cannot be read; times in it are read as local.',)),
        (b"BEGIN:VTODO\r\nDUE:soon\r\nEND:VTODO", ("DUE of a task cannot be read and was left out.",)),
        (b"BEGIN:X-OWN\r\nDTSTART:9\r\nEND:X-OWN", ("DTSTART of a part X-OWN cannot be read and was left out.",)),
        (b"no property", ("A line in the calendar isn't an iCalendar property and was left out.",)),
        (b"X-PUBLISHED-TTL;VALUE=DURATION:P1H\r\nX-PUBLISHED-TTL;VALUE=DURATION:P1H",
         ("X-PUBLISHED-TTL of the calendar cannot be read and was left out (2 times).",)),
    ],
)  # fmt: skip
def test_what_is_wrong_beside_the_events_is_left_out_and_said(content: bytes, said: tuple[str, ...]) -> None:
    """Before the events and after them; a time zone may come last."""
    head, tail = file_of(HOLIDAY).split(b"BEGIN:VEVENT", 1)
    body, end = tail.split(b"END:VCALENDAR")
    for whole in (
        head + content + b"\r\nBEGIN:VEVENT" + tail,
        head + b"BEGIN:VEVENT" + body + content + b"\r\nEND:VCALENDAR" + end,
    ):
        preview = reading(whole)
        assert [finding.first for finding in preview.found] == [date(2026, 10, 12)]
        assert preview.problems == said


def test_a_reminder_that_cannot_be_read_leaves_its_event() -> None:
    """However many of them."""
    preview = read(*(event(f"DTSTART;VALUE=DATE:2026101{n}", *REMINDER) for n in (2, 3)))
    assert [finding.first for finding in preview.found] == [date(2026, 10, 12), date(2026, 10, 13)]
    assert preview.problems == ("TRIGGER of a reminder cannot be read and was left out (2 times).",)


def test_a_garbled_line_of_an_event_is_said_with_its_title() -> None:
    """It may have been its repetition: the reader is asked to look."""
    preview = read(event("DTSTART;VALUE=DATE:20261012", "RRULE FREQ=DAILY"))
    assert [finding.first for finding in preview.found] == [date(2026, 10, 12)]
    assert preview.problems == (
        'Event "No school" has a line that cannot be read. Check whether its time is right.',
    )  # fmt: skip


def test_times_in_a_zone_that_cannot_be_read_are_local_and_said() -> None:
    zone = "BEGIN:VTIMEZONE\r\nTZID:Fells C\r\nBEGIN:STANDARD\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\n"
    preview = reading(file_of(zone, event("DTSTART;TZID=Fells C:20261030T233000", "DURATION:PT20M")))
    assert [finding.first for finding in preview.found] == [date(2026, 10, 30)]
    assert [problem.split(";")[0] for problem in preview.problems] == [
        'Event "No school" names an unknown time zone', 'The time zone "Fells C" cannot be read',
    ]  # fmt: skip


# --- files as programs write and networks break them


def test_a_file_that_breaks_off_says_how_many_were_read() -> None:
    """In an event, between two, in a reminder, in the middle of a line."""
    whole = file_of(HOLIDAY, event("DTSTART;VALUE=DATE:20261111", *REMINDER, title="Veterans"))
    last = whole.index(b"SUMMARY:Veterans")
    for cut, count in (
        (last + 9, 1), (whole.index(b"ACTION"), 1), (whole.rindex(b"END:VEVENT"), 1), (len(whole) - 15, 2),
    ):  # fmt: skip
        preview = reading(whole[:cut])
        assert [finding.first.day for finding in preview.found] == [12]
        assert preview.is_cut
        (said,) = [one for one in preview.problems if "breaks off" in one]
        assert f"{count} of 2 events" in said
    assert not reading(whole).is_cut


def test_an_event_without_its_end_costs_itself() -> None:
    """The next one begins all the same (RFC 5545 section 3.6.1: events don't nest)."""
    open_one = event("DTSTART;VALUE=DATE:20261109", title="No end").replace("END:VEVENT\r\n", "")
    for events in ((open_one, HOLIDAY), (HOLIDAY, open_one)):
        preview = reading(file_of(*events))
        assert [finding.first.day for finding in preview.found] == [12]
        assert preview.problems == (
            'Event "No end" was left out: its end is missing.',
            "1 of 2 events that the file begins could be read; the others have no end.",
        )
        assert not preview.is_cut


def test_a_fold_may_stand_inside_a_character() -> None:
    """RFC 5545 section 3.1: a line is unfolded before its bytes become characters."""
    for fold in (b"\r\n ", b"\r\n\t", b"\n "):
        content = file_of(event("DTSTART;VALUE=DATE:20261012", title="No school: fête"))
        preview = reading(content.replace("ê".encode(), b"\xc3" + fold + b"\xaa"))
        assert [finding.title for finding in preview.found] == ["No school: fête"]
        assert preview.problems == ()


@pytest.mark.parametrize(
    ("recode", "said"),
    [
        (lambda text: text.encode("latin-1"), "1 line is not written in UTF-8"),
        (lambda text: text.encode("utf-16"), "written in UTF-16"),
        (lambda text: text.replace("\r\n", "\r").encode(), ""),
        (lambda text: text.replace("\r\n", "\n").encode(), ""),
    ],
    ids=["Latin-1", "UTF-16", "CR alone", "LF alone"],
)
def test_other_ways_to_write_are_read_and_said(recode: Callable[[str], bytes], said: str) -> None:
    """RFC 5545 sections 3.1 and 3.1.4 ask for CRLF and UTF-8."""
    written = file_of(event("DTSTART;VALUE=DATE:20261012", title="No school: fête", uid="f")).decode()
    preview = reading(recode(written))
    assert [finding.title for finding in preview.found] == ["No school: fête"]
    assert [said in problem for problem in preview.problems] == ([True] if said else [])


def test_the_calendars_own_zone_is_that_of_times_without_one() -> None:
    """X-WR-TIMEZONE, which no standard has; times with a zone keep theirs, and dates are dates."""
    events = [
        event("DTSTART:20261012T220000", "DTEND:20261012T230000", title="Half day A"),
        event("DTSTART;TZID=America/New_York:20261014T220000", "DURATION:PT1H", title="Half day B"),
        event("DTSTART;VALUE=DATE:20261016", title="Half day C"),
        event(
            "DTSTART:20261019T220000", "DURATION:PT1H", "RRULE:FREQ=DAILY;UNTIL=20261021T220000",
            "EXDATE:20261020T220000", title="Half day D",
        ),
    ]  # fmt: skip
    for zone, days in (("America/Los_Angeles", [13, 14, 16, 20, 22]), ("Fells/Nowhere", [12, 14, 16, 19, 21])):
        content = file_of(*events).replace(b"VERSION:2.0", f"VERSION:2.0\r\nX-WR-TIMEZONE:{zone}".encode())
        preview = reading(content)
        assert [finding.first.day for finding in preview.found] == days
        assert ["X-WR-TIMEZONE" in problem for problem in preview.problems] == ([] if days[0] == 13 else [True])


def test_an_end_of_the_repetition_without_a_zone_is_in_that_of_the_start() -> None:
    """RFC 5545 section 3.3.10 asks for UTC; read as such, the last evening would be lost."""
    lines = ["DTSTART;TZID=America/New_York:20261019T220000", "DURATION:PT1H"]
    preview = read(event(*lines, "RRULE:FREQ=DAILY;UNTIL=20261021T220000"))
    assert [day.day for day in first_dates(preview)] == [19, 20, 21]


def test_the_same_start_twice_costs_nothing() -> None:
    """Against RFC 5545 section 3.6.1, and it says nothing else."""
    assert first_dates(read(event("DTSTART;VALUE=DATE:20261012", "DTSTART;VALUE=DATE:20261012"))) == [
        date(2026, 10, 12)
    ]


# --- what is canceled (RFC 5545 sections 3.8.1.11 and 3.8.4.4, RFC 5546 section 3.2.5)

WEDNESDAYS = event("DTSTART;VALUE=DATE:20260902", "RRULE:FREQ=WEEKLY;COUNT=4", title="Half day", uid="w")
AT_NINE = event(
    "DTSTART;TZID=America/New_York:20260902T090000", "RRULE:FREQ=WEEKLY;COUNT=4", title="Half day", uid="w"
)


@pytest.mark.parametrize(
    ("series", "lines", "left"),
    [
        (WEDNESDAYS, ["RECURRENCE-ID;VALUE=DATE:20260909", "DTSTART;VALUE=DATE:20260909"], [2, 16, 23]),
        (WEDNESDAYS, ["RECURRENCE-ID;VALUE=DATE:20260909"], [2, 16, 23]),
        (WEDNESDAYS, ["RECURRENCE-ID;VALUE=DATE:20260909", "SEQUENCE:3"], [2, 16, 23]),
        (WEDNESDAYS, ["RECURRENCE-ID;RANGE=THISANDFUTURE;VALUE=DATE:20260916"], [2, 9]),
        (AT_NINE, ["RECURRENCE-ID;TZID=America/New_York:20260909T090000"], [2, 16, 23]),
        (AT_NINE, ["RECURRENCE-ID:20260909T130000Z"], [2, 16, 23]),  # 9:00 in New York in September
        (AT_NINE, ["RECURRENCE-ID;VALUE=DATE:20260909"], [2, 16, 23]),  # against section 3.8.4.4, and clear
        (AT_NINE, ["RECURRENCE-ID:20260909T130000Z", "DTSTART:20260910T130000Z"], [2, 16, 23]),
    ],
)
def test_a_canceled_occurrence_stays_canceled(series: str, lines: list[str], left: list[int]) -> None:
    """In whichever order the file has them."""
    gone = event(*lines, "STATUS:CANCELLED", title="Half day", uid="w")
    for order in ((series, gone), (gone, series)):
        assert first_dates(read(*order)) == [date(2026, 9, day) for day in left]


def test_a_canceled_series_is_said() -> None:
    whole = WEDNESDAYS.replace("END:VEVENT", "STATUS:CANCELLED\r\nEND:VEVENT")
    preview = read(whole, HOLIDAY)
    assert [finding.first for finding in preview.found] == [date(2026, 10, 12)]
    assert preview.problems == ('Event "Half day" was left out: the calendar says that it is canceled.',)


def test_events_of_one_uid_are_all_read() -> None:
    """RFC 5545 section 3.8.4.7 asks for one; a careless export has several. An older version is said."""
    other = event("DTSTART;VALUE=DATE:20261020", title="No school", uid="w")
    assert first_dates(read(WEDNESDAYS, other)) == [
        date(2026, 9, 2), date(2026, 9, 9), date(2026, 9, 16), date(2026, 9, 23), date(2026, 10, 20),
    ]  # fmt: skip
    newer = event("DTSTART;VALUE=DATE:20261020", "SEQUENCE:1", title="No school", uid="w")
    preview = read(WEDNESDAYS, newer)
    assert [finding.first for finding in preview.found] == [date(2026, 10, 20)]
    assert preview.problems == ('Event "Half day" was left out: the file has a newer version of it.',)


@given(st.data())
def test_a_damaged_file_is_read_or_refused_in_words(data: st.DataObject) -> None:
    """Whatever a line of the file is replaced by, there is a preview or a message, never another error.

    As a school's calendar and as a teacher's own.
    """
    lines = file_of(
        event("DTSTART;TZID=America/New_York:20261030T233000", "DURATION:PT20M", "RRULE:FREQ=DAILY;COUNT=3"),
        event("DTSTART;VALUE=DATE:20261012", "DTEND;VALUE=DATE:20261014", "EXDATE;VALUE=DATE:20261013"),
        event("DTSTART;VALUE=DATE:20261102", "RRULE:FREQ=MONTHLY;COUNT=9", *REMINDER, uid="m"),
        event("DTSTART;VALUE=DATE:20261202", "RECURRENCE-ID;VALUE=DATE:20261202", "STATUS:CANCELLED", uid="m"),
        "BEGIN:VTIMEZONE\r\nTZID:Fells D\r\nBEGIN:STANDARD\r\nDTSTART:19701101T020000\r\nTZOFFSETFROM:-0400\r\n"
        "TZOFFSETTO:-0500\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\n",
        event("DTSTART;TZID=Fells D:20261130T233000", "RRULE:FREQ=WEEKLY;UNTIL=99991231T000000Z", uid="d"),
    ).split(b"\r\n")
    values = [
        "",
        "20261012",
        "20261012T000000Z",
        "99991231",
        "99991231T235959",
        "99991231T235959Z",
        "00010101",
        "P9999W",
        "P99999999D",
        "-P99999999D",
        "20261013T100000Z/P99999999D",
        "+9900",
        "FREQ=DAILY;INTERVAL=99999999999;COUNT=99999999999",
        "FREQ=WEEKLY",
        "FREQ=MONTHLY;BYDAY=6MO",
        ":;=,",
    ]
    names = [
        "RRULE",
        "DTSTART",
        "DTEND",
        "DTEND;VALUE=DATE",
        "EXDATE",
        "RDATE",
        "DURATION",
        "RECURRENCE-ID",
        "RECURRENCE-ID;RANGE=THISANDFUTURE",
        "DTSTART;TZID=Fells D",
        "RDATE;VALUE=PERIOD",
        "SEQUENCE",
        "UID",
        "STATUS",
        "TRIGGER",
        "TZID",
        "TZOFFSETTO",
        "REFRESH-INTERVAL;VALUE=DURATION",
        "BEGIN",
        "END",
    ]
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(lines) - 1))
        made_up = f"{data.draw(st.sampled_from(names))}:{data.draw(st.sampled_from(values))}"
        lines[place] = data.draw(st.just(made_up.encode()) | st.binary(max_size=30).map(lambda raw: raw.strip()))
    content = b"\r\n".join(lines)
    try:
        preview = read_school_calendar(
            content, zone=NEW_YORK, first=YEAR[0], last=YEAR[1], rules=DEFAULT_WORD_RULES
        )
    except SchoolCalendarError as error:
        assert re.search("Export|Download|save it", str(error))  # noqa: PT017 - either outcome is right
    else:
        assert all(YEAR[0] <= f.first <= f.last <= YEAR[1] for f in (*preview.found, *preview.unmatched))
    with suppress(SchoolCalendarError):
        times = busy_times(content, zone=NEW_YORK, first=YEAR[0], last=YEAR[1]).times
        assert all(YEAR[0] <= busy.date <= YEAR[1] and busy.start < busy.end for busy in times)

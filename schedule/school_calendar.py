"""Closed and shortened days out of the calendar file that a school website publishes, for a preview.

Reads iCalendar (RFC 5545); events that repeat are expanded by the recurring-ical-events library. Timed events
become local dates of the district's zone. Nothing is decided here: the preview names what was recognised, by
which words, what was not, and what could not be read. Nothing here reads a clock or a database.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import cast
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events

from schedule.calendar_words import CalendarFinding, WordRule, recognise
from schedule.calendars import LONGEST_RANGE_DAYS, ONE_DAY
from schedule.words import span_words

LARGEST_FILE_BYTES = 5_000_000
MOST_OCCURRENCES = 5_000
# A school's calendar has a few hundred events; more only make the file slow to read.
MOST_EVENTS = 10_000
MOST_REPEATING_EVENTS = 300
_EARLIEST_YEAR, _LATEST_YEAR = 1970, 2199

_TIME_PROPERTIES = {"DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"}
# A period (two dates) may stand in RDATE only.
_VALUE_TYPES: dict[str, type | tuple[type, ...]] = {
    "DTSTART": dt.date,
    "DTEND": dt.date,
    "DURATION": dt.timedelta,
    "RECURRENCE-ID": dt.date,
    "RDATE": (dt.date, tuple),
    "EXDATE": dt.date,
}
_LISTS = {"RDATE", "EXDATE"}
_REPEATING_PROPERTIES = {"RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"}
_RULE_PARTS = {"FREQ", "INTERVAL", "COUNT", "UNTIL", "WKST", "BYDAY", "BYMONTH", "BYMONTHDAY", "BYSETPOS"}
# By the day and the week these parts can only thin out, down to rules that never come true.
_MONTHLY_PARTS = {"BYMONTHDAY", "BYSETPOS"}
_DAYS_OF_MONTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


class SchoolCalendarError(ValueError):
    """A calendar file that cannot be used at all; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class CalendarPreview:
    """What a calendar file says between two dates, in order of date.

    `found`: events that a word rule recognised. `unmatched`: the others. `problems`: a sentence for each event
    that could not be read or was left out.
    """

    found: tuple[CalendarFinding, ...]
    unmatched: tuple[CalendarFinding, ...]
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Span:
    """One occurrence of an event: local dates, both included."""

    first: dt.date
    last: dt.date
    title: str


def read_school_calendar(
    content: bytes, *, zone: ZoneInfo, first: dt.date, last: dt.date, rules: Sequence[WordRule]
) -> CalendarPreview:
    """Read an iCalendar file for the dates first to last, both included.

    Times with a zone or in UTC are carried to `zone`; times without one are taken as local. Rules are tried
    in their order. Raises SchoolCalendarError for a file that is too large, no UTF-8, no iCalendar, with too
    many occurrences, or with nothing in the range.
    """
    if not 0 <= (last - first).days <= LONGEST_RANGE_DAYS:
        raise SchoolCalendarError(
            f"{span_words(first, last)} is no range of at most three years. Correct the dates."
        )
    events = _read_events(content)
    problems: list[str] = []
    spans = sorted(
        set(_spans(events, zone, first, last, problems)), key=lambda span: (span.first, span.last, span.title)
    )
    if not spans:
        detail = f" The first problem in it: {problems[0]}" if problems else ""
        raise SchoolCalendarError(
            f"None of the {len(events)} events of this calendar file falls in {span_words(first, last)}. "
            f"Export the calendar of the right school year, or change the dates.{detail}"
        )
    found: list[CalendarFinding] = []
    unmatched: list[CalendarFinding] = []
    for span in spans:
        findings = recognise(span.first, span.last, span.title, rules)
        found.extend(findings)
        if not findings:
            unmatched.append(CalendarFinding(span.first, span.last, span.title))
    return CalendarPreview(tuple(found), tuple(unmatched), tuple(problems))


def _read_events(content: bytes) -> list[icalendar.Event]:
    """Every event of the file, or the reason why there is none."""
    if len(content) > LARGEST_FILE_BYTES:
        raise SchoolCalendarError(
            f"The calendar file has {len(content):,} bytes; at most {LARGEST_FILE_BYTES:,} are read. Export one "
            "school year only."
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SchoolCalendarError(
            f"The calendar file is not written in UTF-8 (byte {error.start + 1}). Export it again as iCalendar "
            "(.ics), or save it as UTF-8."
        ) from error
    if "BEGIN:VCALENDAR" not in text.upper():
        raise SchoolCalendarError(
            "The file is not an iCalendar file: it has no line BEGIN:VCALENDAR. Export the calendar as .ics, or "
            "download the file that the calendar's subscribe link leads to."
        )
    if text.upper().count("BEGIN:VEVENT") > MOST_EVENTS:
        raise SchoolCalendarError(
            f"The calendar file has more than {MOST_EVENTS:,} events. Export one school year only."
        )
    try:
        calendars = icalendar.Calendar.from_ical(text, multiple=True)
    except ValueError as error:
        raise SchoolCalendarError(
            f"The iCalendar file is damaged and cannot be read ({str(error)[:200]}). Export it again."
        ) from error
    events = [event for calendar in calendars for event in calendar.walk("VEVENT")]
    # The library passes over what is not closed: a download that broke off would lose its end unnoticed.
    begun = len(re.findall(r"^BEGIN:VEVENT\s*$", text, re.MULTILINE | re.IGNORECASE))
    if not calendars or begun != len(events):
        raise SchoolCalendarError(
            f"The iCalendar file is damaged: it begins {begun} events and ends {len(events)} of them. Download it "
            "again."
        )
    return cast("list[icalendar.Event]", events)  # walk is annotated with the base class


def occurrences_between(
    content: bytes, *, first: dt.date, last: dt.date
) -> tuple[tuple[icalendar.Event, ...], tuple[str, ...]]:
    """Every event of an iCalendar file, repeating ones as occurrences between two dates (a day more on each side).

    Those that do not repeat come whenever they are. The sentences name what could not be read. Raises
    SchoolCalendarError for a file that cannot be used at all.
    """
    problems: list[str] = []
    found: list[icalendar.Event] = []
    for together in _together(_read_events(content), problems):
        found.extend(_expand(together, first, last, problems))
        _refuse_too_many(len(found), first, last)
    return tuple(found), tuple(problems)


def _refuse_too_many(count: int, first: dt.date, last: dt.date) -> None:
    if count > MOST_OCCURRENCES:
        raise SchoolCalendarError(
            f"The calendar file has more than {MOST_OCCURRENCES:,} occurrences in {span_words(first, last)}. "
            "Export the calendar of school days, not the one of all activities."
        )


def _spans(
    events: Iterable[icalendar.Event], zone: ZoneInfo, first: dt.date, last: dt.date, problems: list[str]
) -> list[_Span]:
    """Occurrences that touch the range; events that cannot be read add a problem instead."""
    spans: list[_Span] = []
    for together in _together(events, problems):
        found = (_span(event, zone) for event in _expand(together, first, last, problems))
        spans.extend(_clip(found, first, last))
        _refuse_too_many(len(spans), first, last)
    return spans


def _together(events: Iterable[icalendar.Event], problems: list[str]) -> list[list[icalendar.Event]]:
    """Events by their UID: changed occurrences share that of the event they change, and are expanded with it."""
    found: dict[str, list[icalendar.Event]] = {}
    for number, event in enumerate(events):
        problem = _find_problem(event)
        if problem:
            problems.append(f'Event "{_title(event)}" was left out: {problem}')
            continue
        if _has_unknown_zone(event):
            problems.append(f'Event "{_title(event)}" names an unknown time zone; its times are read as local.')
        found.setdefault(str(event.get("UID", f"event {number}")), []).append(event)
    if sum(_repeats(event) for together in found.values() for event in together) > MOST_REPEATING_EVENTS:
        raise SchoolCalendarError(
            f"The calendar file has more than {MOST_REPEATING_EVENTS} repeating events. Export the calendar of "
            "school days, not the one of all activities."
        )
    return list(found.values())


def _expand(
    together: list[icalendar.Event], first: dt.date, last: dt.date, problems: list[str]
) -> list[icalendar.Event]:
    """Occurrences of the events that share one UID."""
    if not any(_repeats(event) for event in together):
        return together
    calendar = icalendar.Calendar()
    for event in together:
        calendar.add_component(event)
    try:
        # A day more on each side: a date in another zone may be the range's own date in the district's.
        return list(recurring_ical_events.of(calendar).between(first - ONE_DAY, last + 2 * ONE_DAY))
    except ValueError as error:
        problems.append(f'Event "{_title(together[0])}" was left out: its repetition cannot be read ({error}).')
        return []


def _clip(spans: Iterable[_Span], first: dt.date, last: dt.date) -> Iterator[_Span]:
    """The parts that lie between first and last."""
    for span in spans:
        if span.first <= last and span.last >= first:
            yield _Span(max(span.first, first), min(span.last, last), span.title)


def _repeats(event: icalendar.Event) -> bool:
    """Whether the library has to expand it."""
    return any(name in event for name in _REPEATING_PROPERTIES)


def _title(event: icalendar.Event) -> str:
    """Summary of an event in one line."""
    return " ".join(str(event.get("SUMMARY", "")).split())[:120] or "without a title"


def _span(event: icalendar.Event, zone: ZoneInfo) -> _Span:
    """Local dates of an event; an end at midnight belongs to the day before (RFC 5545 section 3.6.1)."""
    start, end = event.start, event.end
    first = _local_date(start, zone)
    last = _local_date(end, zone)
    if last > first and _is_midnight(end, zone):
        last -= ONE_DAY
    return _Span(first, last, _title(event))


def _local(moment: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    """A time in the district's zone; one without a zone is local already."""
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment.astimezone(zone)


def _local_date(moment: dt.date, zone: ZoneInfo) -> dt.date:
    """The local date of a date or of a time."""
    return _local(moment, zone).date() if isinstance(moment, dt.datetime) else moment


def _is_midnight(moment: dt.date, zone: ZoneInfo) -> bool:
    """Whether it is the very beginning of its local date."""
    return not isinstance(moment, dt.datetime) or _local(moment, zone).time() == dt.time()


def _has_unknown_zone(event: icalendar.Event) -> bool:
    """Whether the start names a zone that the library did not know."""
    start = event.start
    named = "TZID" in event["DTSTART"].params
    return named and isinstance(start, dt.datetime) and start.tzinfo is None


def _ends_too_early(start: dt.date, end: dt.date) -> bool:
    """Whether the end lies before the start; times count in their own zones when both have one."""
    if isinstance(start, dt.datetime) and isinstance(end, dt.datetime) and None in (start.tzinfo, end.tzinfo):
        return end.replace(tzinfo=None) < start.replace(tzinfo=None)
    return end < start


def _find_problem(event: icalendar.Event) -> str:
    """Why an event cannot be used, or nothing."""
    broken = [f"{name} cannot be read" for name, _ in event.errors if name in _TIME_PROPERTIES]
    if broken:
        return f"{broken[0]}."
    if str(event.get("STATUS", "")).upper() == "CANCELLED":
        return "the calendar says that it is cancelled."
    if "DTSTART" not in event:
        return "it has no start (DTSTART)."
    wrong = [name for name in _VALUE_TYPES if not _has_right_values(event, name)]
    if wrong:
        return f"{wrong[0]} cannot be read."
    try:
        start, end = event.start, event.end
    except ValueError as error:
        return f"its start and end cannot be read ({error})."
    if start.year < _EARLIEST_YEAR or end.year > _LATEST_YEAR:
        return f"it is dated {start.year} to {end.year}; only {_EARLIEST_YEAR} to {_LATEST_YEAR} is read."
    if _ends_too_early(start, end):
        return "it ends before it begins."
    return _find_rule_problem(event)


def _has_right_values(event: icalendar.Event, name: str) -> bool:
    """Whether a property holds what the library takes for granted: one value, and a date where one belongs."""
    held = event.get(name, [])
    if name in _LISTS:
        values = [item.dt for part in (held if isinstance(held, list) else [held]) for item in part.dts]
    elif isinstance(held, list):
        return not held  # absent, or there twice
    else:
        values = [held.dt]
    return all(isinstance(value, _VALUE_TYPES[name]) for value in values)


def _find_rule_problem(event: icalendar.Event) -> str:
    """Why the repetition of an event is not read: such a rule would never come true or never end."""
    rules = event.get("RRULE", [])
    for rule in rules if isinstance(rules, list) else [rules]:
        frequency = str(rule.get("FREQ", [""])[0]).upper()
        if frequency not in {"DAILY", "WEEKLY", "MONTHLY", "YEARLY"}:
            return "it repeats more often than daily, or its FREQ is missing."
        parts = {str(name).upper() for name in rule}
        unread = parts - _RULE_PARTS
        if frequency in {"DAILY", "WEEKLY"}:
            unread |= parts & _MONTHLY_PARTS
        if unread:
            return f"its repetition uses {', '.join(sorted(unread))}, which is not read with {frequency}."
        if any(int(interval) < 1 for interval in rule.get("INTERVAL", [])):
            return "it repeats at an INTERVAL below 1."
        if not _month_days_exist(rule.get("BYMONTH", []), rule.get("BYMONTHDAY", [])):
            return "it repeats on a day that its months do not have."
    return ""


def _month_days_exist(months: Sequence[int], days: Sequence[int]) -> bool:
    """Whether the months exist, and in one of them at least one of the days; none given means any."""
    if not all(1 <= int(month) <= 12 for month in months):
        return False
    longest = max((_DAYS_OF_MONTH[int(month) - 1] for month in months), default=31)
    return not days or any(1 <= abs(int(day)) <= longest for day in days)

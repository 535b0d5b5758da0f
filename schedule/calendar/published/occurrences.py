"""The events of an iCalendar file as occurrences between two dates, and what of them could not be read.

Events that repeat are expanded by the recurring-ical-events library; which of them it can be trusted with is
decided here. No database, no clock.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import icalendar
import recurring_ical_events

from accounts.dates import span_words
from schedule.calendar.calendars import ONE_DAY
from schedule.calendar.published.parsing import TIME_PROPERTIES, SchoolCalendarError, parse_calendar

MOST_OCCURRENCES = 5_000
MOST_REPEATING_EVENTS = 300
_EARLIEST_YEAR, _LATEST_YEAR = 1970, 2199

# A period (two dates) may be in RDATE only.
_VALUE_TYPES: dict[str, type | tuple[type, ...]] = {
    "DTSTART": dt.date,
    "DTEND": dt.date,
    "DURATION": dt.timedelta,
    "RECURRENCE-ID": dt.date,
    "RDATE": (dt.date, tuple),
    "EXDATE": dt.date,
}
_LISTS = {"RDATE", "EXDATE"}
_AT_MOST_ONCE = ("UID", "SEQUENCE", "STATUS")  # RFC 5545 section 3.6.1
_REPEATING_PROPERTIES = {"RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"}
_RULE_PARTS = {"FREQ", "INTERVAL", "COUNT", "UNTIL", "WKST", "BYDAY", "BYMONTH", "BYMONTHDAY", "BYSETPOS"}
# By the day and the week these parts can only thin out, down to rules that never come true.
_MONTHLY_PARTS = {"BYMONTHDAY", "BYSETPOS"}
_DAYS_OF_MONTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_LONGEST_INTERVAL = 10_000
_LONGEST_REPEATED = dt.timedelta(days=366)  # Every occurrence of so long before the range would have to be made.
_ABSURD_DATE = f"its dates go beyond the years {_EARLIEST_YEAR} to {_LATEST_YEAR}; only those are read."


@dataclass(frozen=True, slots=True)
class Remark:
    """An event of a file that was left out or read in another way; `said` follows its name in a sentence.

    `date`: the first one that it names, None if that can't be read either.
    """

    title: str
    date: dt.date | None
    said: str


@dataclass(frozen=True, slots=True)
class Occurrences:
    """The occurrences of a file, what is told of single events, and of the file as a whole (`notes`)."""

    events: tuple[icalendar.Event, ...]
    remarks: tuple[Remark, ...]
    notes: tuple[str, ...]
    event_count: int


def occurrences_between(content: bytes, *, first: dt.date, last: dt.date) -> Occurrences:
    """The occurrences of an iCalendar file that touch two dates, or lie a day beside them (zones differ).

    What the file itself calls canceled is no occurrence. Raises SchoolCalendarError for a file that cannot be used
    at all.
    """
    file = parse_calendar(content)
    remarks: list[Remark] = []
    found: list[icalendar.Event] = []
    for together in _together(file.events, remarks):
        found.extend(
            event
            for event in _expand(together, first, last, remarks)
            if not _is_canceled(event) and _touches(event, first, last)
        )
        if len(found) > MOST_OCCURRENCES:
            raise SchoolCalendarError(
                f"The calendar file has more than {MOST_OCCURRENCES:,} occurrences in {span_words(first, last)}. "
                "Export the calendar of school days, not the one of all activities."
            )
    return Occurrences(tuple(found), tuple(remarks), file.notes, len(file.events))


def title_of(event: icalendar.Event) -> str:
    """Summary of an event in one line."""
    return " ".join(str(event.get("SUMMARY", "")).split())[:120] or "without a title"


# ---- what belongs together -------------------------------------------------------------------------------


def _together(events: Iterable[icalendar.Event], remarks: list[Remark]) -> list[list[icalendar.Event]]:
    """Events by their UID: changed occurrences share that of the event they change, and are expanded with it."""
    found: dict[str, list[icalendar.Event]] = {}
    for number, event in enumerate(events):
        if _is_usable(event, remarks):
            found.setdefault(str(event.get("UID", f"event {number}")), []).append(event)
    if sum(_repeats(event) for together in found.values() for event in together) > MOST_REPEATING_EVENTS:
        raise SchoolCalendarError(
            f"The calendar file has more than {MOST_REPEATING_EVENTS} repeating events. Export the calendar of "
            "school days, not the one of all activities."
        )
    return [series for together in found.values() for series in _series(together, remarks)]


def _is_usable(event: icalendar.Event, remarks: list[Remark]) -> bool:
    """Whether an event can be used; what is wrong with it is told."""
    problem = _find_problem(event)
    if problem:
        remarks.append(_remark(event, f"was left out: {problem}"))
        return False
    if any(name is None for name, _ in event.errors):
        remarks.append(_remark(event, "has a line that cannot be read. Check whether its time is right."))
    if _has_unknown_zone(event):
        remarks.append(_remark(event, "names an unknown time zone; its times are read as local."))
    return True


def _series(together: list[icalendar.Event], remarks: list[Remark]) -> list[list[icalendar.Event]]:
    """One series for each event of the UID that is not a changed occurrence, each with the changes.

    A UID has one such event (RFC 5545 section 3.8.4.7), the library keeps one: others of the same SEQUENCE are
    events of their own by a careless export, older ones are passed over and told.
    """
    changes = [event for event in together if "RECURRENCE-ID" in event]
    whole = [event for event in together if "RECURRENCE-ID" not in event]
    newest = max(map(_sequence, whole), default=0)
    current = [event for event in whole if _is_current(event, newest, remarks)]
    return [[event, *changes] for event in current] or ([changes] if changes else [])


def _is_current(event: icalendar.Event, newest: int, remarks: list[Remark]) -> bool:
    """Whether an event is of the newest version and not canceled; if not, that is told."""
    why = ""
    if _sequence(event) < newest:
        why = "the file has a newer version of it."
    elif _is_canceled(event):
        why = "the calendar says that it is canceled."
    if why:
        remarks.append(_remark(event, f"was left out: {why}"))
    return not why


def _sequence(event: icalendar.Event) -> int:
    """The revision of an event, 0 if it tells none (RFC 5545 section 3.8.7.4)."""
    return int(event.get("SEQUENCE", 0))


def _is_canceled(event: icalendar.Event) -> bool:
    return str(event.get("STATUS", "")).upper() == "CANCELLED"  # as RFC 5545 section 3.8.1.11 spells it


def _remark(event: icalendar.Event, said: str) -> Remark:
    return Remark(title_of(event), _first_date(event), said)


def _first_date(event: icalendar.Event) -> dt.date | None:
    """The date of the occurrence that it changes, or else of its start, as the file writes it."""
    for name in ("RECURRENCE-ID", "DTSTART"):
        moment = getattr(event.get(name), "dt", None)
        if isinstance(moment, dt.date):
            return _date_of(moment)
    return None


def _date_of(moment: dt.date) -> dt.date:
    return moment.date() if isinstance(moment, dt.datetime) else moment


# ---- expanding -------------------------------------------------------------------------------------------


def _expand(
    together: list[icalendar.Event], first: dt.date, last: dt.date, remarks: list[Remark]
) -> list[icalendar.Event]:
    """Occurrences of one series."""
    if not any(_repeats(event) for event in together):
        return together
    calendar = icalendar.Calendar()
    for event in together:
        calendar.add_component(_with_start(event))
    try:
        # A day more on each side: a date in another zone may be the range's own date in the district's.
        return list(recurring_ical_events.of(calendar).between(first - ONE_DAY, last + 2 * ONE_DAY))
    except (ValueError, OverflowError) as error:
        remarks.append(_remark(together[0], f"was left out: its repetition cannot be read ({error})."))
        return []


def _with_start(event: icalendar.Event) -> icalendar.Event:
    """A canceled occurrence need not say when it would be (RFC 5546 section 3.2.5): it is the one that it names."""
    if "DTSTART" in event:
        return event
    started: icalendar.Event = event.copy(recursive=True)
    started["DTSTART"] = started["RECURRENCE-ID"]
    return started


def _repeats(event: icalendar.Event) -> bool:
    """Whether the library has to expand it."""
    return any(name in event for name in _REPEATING_PROPERTIES)


def _touches(event: icalendar.Event, first: dt.date, last: dt.date) -> bool:
    """Whether it lies in the range or a day beside it, by the dates that the file writes."""
    return _date_of(event.start) <= last + ONE_DAY and _date_of(event.end) >= first - ONE_DAY


# ---- what cannot be read ---------------------------------------------------------------------------------


def _has_unknown_zone(event: icalendar.Event) -> bool:
    """Whether the start names a zone that the library did not know."""
    started = event.get("DTSTART")
    moment = getattr(started, "dt", None)
    return isinstance(moment, dt.datetime) and moment.tzinfo is None and "TZID" in started.params


def _ends_too_early(start: dt.date, end: dt.date) -> bool:
    """Whether the end lies before the start; times count in their own zones when both have one."""
    if isinstance(start, dt.datetime) and isinstance(end, dt.datetime) and None in (start.tzinfo, end.tzinfo):
        return end.replace(tzinfo=None) < start.replace(tzinfo=None)
    return end < start


def _broken(event: icalendar.Event) -> list[str]:
    """The properties that can't be read."""
    broken = [str(name) for name, _ in event.errors if name in TIME_PROPERTIES]
    return broken + [name for name in _VALUE_TYPES if not _has_right_values(event, name)]


def _find_problem(event: icalendar.Event) -> str:
    """Why an event cannot be used, or nothing."""
    broken = _broken(event)
    if broken:
        return f"{broken[0]} cannot be read."
    twice = [name for name in _AT_MOST_ONCE if isinstance(event.get(name), list)]
    if twice:
        return f"it has {twice[0]} more than once."
    if "DTSTART" not in event:
        named = "RECURRENCE-ID" in event and _is_canceled(event)
        return "" if named and not _has_absurd_date(event) else "it has no start (DTSTART)."
    return _find_time_problem(event) or _find_rule_problem(event)


def _find_time_problem(event: icalendar.Event) -> str:
    try:
        start, end = event.start, event.end
    except ValueError as error:
        return f"its start and end cannot be read ({error})."
    except OverflowError:
        return _ABSURD_DATE  # The last day of the year 9999 has no day after it.
    if start.year < _EARLIEST_YEAR or end.year > _LATEST_YEAR:
        return f"it is dated {start.year} to {end.year}; only {_EARLIEST_YEAR} to {_LATEST_YEAR} is read."
    if _has_absurd_date(event):
        return _ABSURD_DATE
    if _repeats(event) and _date_of(end) - _date_of(start) > _LONGEST_REPEATED:
        return "it repeats and lasts longer than a year."
    return "it ends before it begins." if _ends_too_early(start, end) else ""


def _has_absurd_date(event: icalendar.Event) -> bool:
    """Whether one of its further dates cannot be carried to another zone, or a period reaches too far."""
    for name in ("RDATE", "EXDATE", "RECURRENCE-ID"):
        for value in _values(event, name):
            ends = value if isinstance(value, tuple) else (value,)
            if any(_is_absurd(end) for end in ends):
                return True
    return False


def _is_absurd(value: dt.date | dt.timedelta) -> bool:
    if isinstance(value, dt.timedelta):
        return abs(value.days) > (_LATEST_YEAR - _EARLIEST_YEAR) * 366
    return not _EARLIEST_YEAR <= value.year <= _LATEST_YEAR


def _values(event: icalendar.Event, name: str) -> list[dt.date | dt.timedelta | tuple[dt.date, dt.date]]:
    """What a property holds."""
    held = event.get(name, [])
    parts = held if isinstance(held, list) else [held]
    return [item.dt for part in parts for item in (part.dts if name in _LISTS else [part])]


def _has_right_values(event: icalendar.Event, name: str) -> bool:
    """Whether a property holds what the library takes for granted: one value, and a date where one belongs."""
    if name not in _LISTS and isinstance(event.get(name), list):
        return False  # there twice
    return all(isinstance(value, _VALUE_TYPES[name]) for value in _values(event, name))


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
        if any(not 1 <= int(interval) <= _LONGEST_INTERVAL for interval in rule.get("INTERVAL", [])):
            return f"it repeats at an INTERVAL below 1 or above {_LONGEST_INTERVAL:,}."
        if not _month_days_exist(rule.get("BYMONTH", []), rule.get("BYMONTHDAY", [])):
            return "it repeats on a day that its months do not have."
    return ""


def _month_days_exist(months: Sequence[int], days: Sequence[int]) -> bool:
    """Whether the months exist, and in one of them at least one of the days; none given means any."""
    if not all(1 <= int(month) <= 12 for month in months):
        return False
    longest = max((_DAYS_OF_MONTH[int(month) - 1] for month in months), default=31)
    return not days or any(1 <= abs(int(day)) <= longest for day in days)

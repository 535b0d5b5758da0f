"""What of an event in an iCalendar file can't be read, and on which dates it would be all the same.

The recurring-ical-events library takes much for granted; what it can't be trusted with is found here. Pure.
"""

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import Any

import icalendar
import recurring_ical_events

from schedule.calendar.calendars import ONE_DAY
from schedule.calendar.published.mending import UNFINISHED
from schedule.calendar.published.parsing import TIME_PROPERTIES

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
_DATE = re.compile(r"(\d{4})-?(\d{2})-?(\d{2})")


def repeats(event: icalendar.Event) -> bool:
    """Whether the library has to expand it."""
    return any(name in event for name in _REPEATING_PROPERTIES)


def date_of(moment: dt.date) -> dt.date:
    """The date of a date or of a time, as it is written."""
    return moment.date() if isinstance(moment, dt.datetime) else moment


def first_date(event: icalendar.Event) -> dt.date | None:
    """The date of the occurrence that it changes, or else of its start, as the file writes it."""
    for name in ("RECURRENCE-ID", "DTSTART"):
        moment = getattr(event.get(name), "dt", None)
        if isinstance(moment, dt.date):
            return date_of(moment)
    return None


def is_free(event: icalendar.Event) -> bool:
    """Whether its owner counts the time as free: marked so, or a whole day that isn't marked as busy."""
    said = str(event.get("TRANSP", "")).upper()
    started = event.get("DTSTART")
    moment = getattr(started[0] if isinstance(started, list) else started, "dt", None)
    if isinstance(moment, dt.date) and not isinstance(moment, dt.datetime):
        return said != "OPAQUE"
    return said == "TRANSPARENT"


def is_canceled(event: icalendar.Event) -> bool:
    """Whether the file itself calls it canceled, as RFC 5545 section 3.8.1.11 spells it."""
    return str(event.get("STATUS", "")).upper() == "CANCELLED"


def say_once(event: icalendar.Event) -> None:
    """Leave out a second time of the same value: that says nothing else."""
    for name in (*_VALUE_TYPES, *_AT_MOST_ONCE):
        held = event.get(name)
        if name not in _LISTS and isinstance(held, list) and len(set(map(_meaning, held))) == 1:
            event[name] = held[0]


def _meaning(value: Any) -> str:
    """What a value says, without writing it: some can't be written."""
    return repr(getattr(value, "dt", value))


# ---- what is lost ----------------------------------------------------------------------------------------


def dates_of_lost(event: icalendar.Event, first: dt.date, last: dt.date) -> Iterator[dt.date]:
    """The dates between two (a day more on each side) on which an event that can't be read would be.

    By whatever start can be made out, and by its repetition where that can be read.
    """
    found = set(_starts(event))
    if found and "RRULE" in event and not _find_rule_problem(event):
        series = icalendar.Event()
        series.add("DTSTART", min(found))
        series["RRULE"] = event["RRULE"]
        calendar = icalendar.Calendar()
        calendar.add_component(series)
        with suppress(ValueError, OverflowError):
            expanded = recurring_ical_events.of(calendar).between(first - ONE_DAY, last + 2 * ONE_DAY)
            found |= {date_of(one.start) for one in expanded}
    yield from sorted(date for date in found if first - ONE_DAY <= date <= last + ONE_DAY)


def _starts(event: icalendar.Event) -> list[dt.date]:
    """Each start that it gives, if only by its date; without one, the occurrence that it changes."""
    held = event.get("DTSTART", [])
    starts = [date for one in (held if isinstance(held, list) else [held]) for date in _date_at(one)]
    starts += [date for name, raw in event.errors if name == "DTSTART" for date in _date_in(str(raw))]
    return [date for date in starts or _date_at(event.get("RECURRENCE-ID")) if not _is_absurd(date)]


def _date_at(value: Any) -> Iterator[dt.date]:
    """The date of a value, of a period the first."""
    held = getattr(value, "dt", None)
    moment = held[0] if isinstance(held, tuple) else held
    if isinstance(moment, dt.date):
        yield date_of(moment)


def _date_in(text: str) -> Iterator[dt.date]:
    """The date with which a value begins, if it does."""
    found = _DATE.match(text)
    with suppress(ValueError):
        if found is not None:
            yield dt.date(*map(int, found.groups()))


# ---- what cannot be read ---------------------------------------------------------------------------------


def has_unknown_zone(event: icalendar.Event) -> bool:
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


def find_problem(event: icalendar.Event) -> str:
    """Why an event cannot be used, or nothing."""
    if UNFINISHED in event:
        return "its end is missing."
    broken = _broken(event)
    if broken:
        return f"{broken[0]} cannot be read."
    twice = [name for name in _AT_MOST_ONCE if isinstance(event.get(name), list)]
    if twice:
        return f"it has {twice[0]} more than once."
    if "DTSTART" not in event:
        return "" if _is_named_as_canceled(event) else "it has no start (DTSTART)."
    return _find_time_problem(event) or _find_rule_problem(event)


def _is_named_as_canceled(event: icalendar.Event) -> bool:
    """Whether it calls off an occurrence that it names: that needs no start."""
    return "RECURRENCE-ID" in event and is_canceled(event) and not _has_absurd_date(event)


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
    if repeats(event) and date_of(end) - date_of(start) > _LONGEST_REPEATED:
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

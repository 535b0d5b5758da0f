"""The events of an iCalendar file as occurrences between two dates, and what of them could not be read.

Events that repeat are expanded by the recurring-ical-events library; which of them it can be trusted with is
decided here. No database, no clock.
"""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import icalendar
import recurring_ical_events

from accounts.dates import span_words
from schedule.calendar.calendars import ONE_DAY
from schedule.calendar.published.faults import (
    date_of,
    dates_of_lost,
    find_problem,
    first_date,
    has_unknown_zone,
    is_canceled,
    is_free,
    repeats,
    say_once,
)
from schedule.calendar.published.parsing import SchoolCalendarError, parse_calendar

MOST_OCCURRENCES = 5_000
MOST_REPEATING_EVENTS = 300


@dataclass(frozen=True, slots=True)
class Remark:
    """An event of a file that was left out or read in another way; `said` follows its name in a sentence.

    `date`: the first one that it names, None if that can't be read either. `is_lost`: it couldn't be read, and then
    `dates` are those near the range on which it would be, as far as they can be made out, and `is_free` says
    whether its owner counts the time as free.
    """

    title: str
    date: dt.date | None
    said: str
    is_lost: bool = False
    dates: tuple[dt.date, ...] = ()
    is_free: bool = False


@dataclass(frozen=True, slots=True)
class Occurrences:
    """The occurrences of a file, what is told of single events, and of the file as a whole (`notes`)."""

    events: tuple[icalendar.Event, ...]
    remarks: tuple[Remark, ...]
    notes: tuple[str, ...]
    event_count: int
    is_cut: bool = False


def occurrences_between(content: bytes, *, first: dt.date, last: dt.date) -> Occurrences:
    """The occurrences of an iCalendar file that touch two dates, or lie a day beside them (zones differ).

    What the file itself calls canceled is no occurrence. Raises SchoolCalendarError for a file that cannot be used
    at all.
    """
    file = parse_calendar(content)
    remarks = _Remarks(first, last)
    found: list[icalendar.Event] = []
    for together in _together(file.events, remarks):
        found.extend(
            event
            for event in _expand(together, first, last, remarks)
            if not is_canceled(event) and _touches(event, first, last)
        )
        if len(found) > MOST_OCCURRENCES:
            raise SchoolCalendarError(
                f"The calendar file has more than {MOST_OCCURRENCES:,} occurrences in {span_words(first, last)}. "
                "Export the calendar of school days, not the one of all activities."
            )
    return Occurrences(tuple(found), tuple(remarks.told), file.notes, len(file.events), file.is_cut)


def title_of(event: icalendar.Event) -> str:
    """Summary of an event in one line."""
    return " ".join(str(event.get("SUMMARY", "")).split())[:120] or "without a title"


@dataclass(slots=True)
class _Remarks:
    """What is told of events, for occurrences between two dates."""

    first: dt.date
    last: dt.date
    told: list[Remark] = field(default_factory=list)

    def tell(self, event: icalendar.Event, said: str) -> None:
        """Of an event that is read otherwise than it may have been meant, or passed over for a reason."""
        self.told.append(Remark(title_of(event), first_date(event), said))

    def lose(self, event: icalendar.Event, why: str) -> None:
        """Of an event that can't be read; a canceled one is no loss."""
        dates = () if is_canceled(event) else tuple(dates_of_lost(event, self.first, self.last))
        date = first_date(event) or (dates[0] if dates else None)
        self.told.append(
            Remark(title_of(event), date, f"was left out: {why}", is_lost=True, dates=dates, is_free=is_free(event))
        )


# ---- what belongs together -------------------------------------------------------------------------------


def _together(events: Iterable[icalendar.Event], remarks: _Remarks) -> list[list[icalendar.Event]]:
    """Events by their UID: changed occurrences share that of the event they change, and are expanded with it."""
    found: dict[str, list[icalendar.Event]] = {}
    for number, event in enumerate(events):
        if _is_usable(event, remarks):
            found.setdefault(str(event.get("UID", f"event {number}")), []).append(event)
    if sum(repeats(event) for together in found.values() for event in together) > MOST_REPEATING_EVENTS:
        raise SchoolCalendarError(
            f"The calendar file has more than {MOST_REPEATING_EVENTS} repeating events. Export the calendar of "
            "school days, not the one of all activities."
        )
    return [series for together in found.values() for series in _series(together, remarks)]


def _is_usable(event: icalendar.Event, remarks: _Remarks) -> bool:
    """Whether an event can be used; what is wrong with it is told."""
    say_once(event)
    problem = find_problem(event)
    if problem:
        remarks.lose(event, problem)
        return False
    if any(name is None for name, _ in event.errors):
        remarks.tell(event, "has a line that cannot be read. Check whether its time is right.")
    if has_unknown_zone(event):
        remarks.tell(event, "names an unknown time zone; its times are read as local.")
    return True


def _series(together: list[icalendar.Event], remarks: _Remarks) -> list[list[icalendar.Event]]:
    """One series for each event of the UID that is not a changed occurrence, each with the changes.

    A UID has one such event (RFC 5545 section 3.8.4.7), the library keeps one: others of the same SEQUENCE are
    events of their own by a careless export, older ones are passed over and told.
    """
    changes = [event for event in together if "RECURRENCE-ID" in event]
    whole = [event for event in together if "RECURRENCE-ID" not in event]
    newest = max(map(_sequence, whole), default=0)
    current = [event for event in whole if _is_current(event, newest, remarks)]
    return [[event, *_at_its_time(event, changes)] for event in current] or ([changes] if changes else [])


def _at_its_time(event: icalendar.Event, changes: Iterable[icalendar.Event]) -> Iterator[icalendar.Event]:
    """Changes of a timed series that name an occurrence by its date alone, against RFC 5545 section 3.8.4.4."""
    start = _moment(event, "DTSTART")
    for change in changes:
        named = _moment(change, "RECURRENCE-ID")
        if isinstance(start, dt.datetime) and not isinstance(named, dt.datetime):
            moved: icalendar.Event = change.copy(recursive=True)
            del moved["RECURRENCE-ID"]
            moved.add("RECURRENCE-ID", dt.datetime.combine(named, start.time(), tzinfo=start.tzinfo))
            yield moved
        else:
            yield change


def _moment(event: icalendar.Event, name: str) -> dt.date:
    held: dt.date = getattr(event[name], "dt")  # noqa: B009 -- the library's types are a union without it
    return held


def _is_current(event: icalendar.Event, newest: int, remarks: _Remarks) -> bool:
    """Whether an event is of the newest version and not canceled; if not, that is told."""
    why = ""
    if _sequence(event) < newest:
        why = "the file has a newer version of it."
    elif is_canceled(event):
        why = "the calendar says that it is canceled."
    if why:
        remarks.tell(event, f"was left out: {why}")
    return not why


def _sequence(event: icalendar.Event) -> int:
    """The revision of an event, 0 if it tells none (RFC 5545 section 3.8.7.4)."""
    return int(event.get("SEQUENCE", 0))


# ---- expanding -------------------------------------------------------------------------------------------


def _expand(
    together: list[icalendar.Event], first: dt.date, last: dt.date, remarks: _Remarks
) -> list[icalendar.Event]:
    """Occurrences of one series."""
    if not any(repeats(event) for event in together):
        return together
    calendar = icalendar.Calendar()
    for event in together:
        calendar.add_component(_with_end_of_rule(_with_start(event)))
    try:
        # A day more on each side: a date in another zone may be the range's own date in the district's.
        return list(recurring_ical_events.of(calendar).between(first - ONE_DAY, last + 2 * ONE_DAY))
    except (ValueError, OverflowError) as error:
        remarks.lose(together[0], f"its repetition cannot be read ({error}).")
        return []


def _with_start(event: icalendar.Event) -> icalendar.Event:
    """A canceled occurrence need not say when it would be (RFC 5546 section 3.2.5): it is the one that it names."""
    if "DTSTART" in event:
        return event
    started: icalendar.Event = event.copy(recursive=True)
    started["DTSTART"] = started["RECURRENCE-ID"]
    return started


def _with_end_of_rule(event: icalendar.Event) -> icalendar.Event:
    """An UNTIL without a zone is in the start's, against RFC 5545 section 3.3.10; the library takes it for UTC."""
    zone = getattr(_moment(event, "DTSTART"), "tzinfo", None)
    rules: Any = event.get("RRULE", [])
    if zone is None or not any(map(_ends_bare, rules if isinstance(rules, list) else [rules])):
        return event
    ended: icalendar.Event = event.copy(recursive=True)
    held: Any = ended["RRULE"]
    for rule in held if isinstance(held, list) else [held]:
        if _ends_bare(rule):
            rule["UNTIL"] = [rule["UNTIL"][0].replace(tzinfo=zone).astimezone(dt.UTC)]
    return ended


def _ends_bare(rule: Any) -> bool:
    until = rule.get("UNTIL", [None])[0]
    return isinstance(until, dt.datetime) and until.tzinfo is None


def _touches(event: icalendar.Event, first: dt.date, last: dt.date) -> bool:
    """Whether it lies in the range or a day beside it, by the dates that the file writes."""
    return date_of(event.start) <= last + ONE_DAY and date_of(event.end) >= first - ONE_DAY

"""An iCalendar file (RFC 5545) as its events, with what of it could not be read.

The icalendar library gives a whole file up where a property outside an event is written wrongly. Here such a
property is left out and told, and the rest is read. No database, no clock.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import icalendar
from icalendar.cal import ComponentFactory
from icalendar.parser import Contentline, Parameters
from icalendar.parser.ical.calendar import CalendarIcalParser
from icalendar.prop import TypesFactory

from schedule.calendar.published.mending import MendedText, mend, text_of

LARGEST_FILE_BYTES = 5_000_000
# A school's calendar has a few hundred events; more only make the file slow to read.
MOST_EVENTS = 10_000
LONGEST_QUOTE = 40
MOST_TOLD = 20
# Without one of these an event is another one, so it is left out and told by itself.
TIME_PROPERTIES = frozenset({"DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"})
_PARTS = {"VCALENDAR": "the calendar", "VEVENT": "an event", "VALARM": "a reminder", "VTIMEZONE": "a time zone"}
_PARTS |= {"STANDARD": "a time zone", "DAYLIGHT": "a time zone", "VTODO": "a task", "VJOURNAL": "a journal entry"}


class SchoolCalendarError(ValueError):
    """A calendar file that cannot be used at all; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class CalendarFile:
    """The events of a file in its order; an event's own faults are in its `errors`, by property (None: a line).

    `notes`: a sentence for each kind of thing that was left out beside the times of events. `is_cut`: it breaks
    off, so that what it doesn't say may only be missing.
    """

    events: tuple[icalendar.Event, ...]
    notes: tuple[str, ...]
    is_cut: bool = False


class _LenientParser(CalendarIcalParser):
    """Passes over a property, a line or a time zone that cannot be read, and counts it."""

    def initialize_parsing(self) -> None:
        """Count again: a file whose time zones come last is gone through twice."""
        super().initialize_parsing()  # type: ignore[no-untyped-call]  # not annotated by the library
        self.properties: Counter[tuple[str, str]] = Counter()
        self.lines: Counter[str] = Counter()
        self.zones: Counter[str] = Counter()

    def handle_line_parse_error(self, exception: Exception) -> None:
        """A line that isn't a property; an event remembers it, since it may have been its time."""
        component = self.component
        if component is not None:
            component.errors.append((None, str(exception)))
        if component is None or component.name != "VEVENT":
            self.lines[self._part()] += 1

    def handle_property(self, name: str, params: Parameters, vals: str, line: Contentline) -> None:
        """A property; one that is in nothing is left out."""
        if self.component is None:
            self.lines[self._part()] += 1
            return
        super().handle_property(name, params, vals, line)

    def handle_property_parse_error(
        self, exception: Exception, name: str, params: Parameters, val: str, line: Contentline
    ) -> None:
        """A value that is none of its property's."""
        component = self.component
        if component is not None:
            component.errors.append((name, val))
            if component.name != "VEVENT" or name not in TIME_PROPERTIES:
                self.properties[self._part(), name] += 1

    def handle_end_component(self, vals: str) -> None:
        """The end of a part; a time zone is understood only here."""
        part = self.component
        try:
            super().handle_end_component(vals)
        except (ValueError, TypeError, KeyError, AttributeError, ArithmeticError):
            # Each was seen from the library and dateutil for a time zone that lacks something.
            if part is None or vals.upper() != "VTIMEZONE":
                raise
            self.zones[str(part.get("TZID", ""))[:LONGEST_QUOTE]] += 1

    def _part(self) -> str:
        """What is being read, in words."""
        name = (self.component.name or "") if self.component is not None else ""
        return _PARTS.get(name, f"a part {name}" if name else "the file")


def parse_calendar(content: bytes) -> CalendarFile:
    """Every event of an iCalendar file.

    Raises SchoolCalendarError for a file that is too large, no iCalendar, broken off in its first event, or with
    too many events.
    """
    read = _read_text(content)
    parser = _LenientParser(read.text, ComponentFactory(), TypesFactory())
    try:
        calendars = parser.parse()
    except ValueError as error:
        raise SchoolCalendarError(
            f"The iCalendar file is damaged and cannot be read ({str(error)[:200]}). Export it again."
        ) from error
    events = [event for calendar in calendars for event in calendar.walk("VEVENT")]
    # The library passes over what it can't put anywhere: nothing is to be lost unnoticed.
    if not calendars or read.begun != len(events) or (read.is_cut and not read.whole):
        raise SchoolCalendarError(
            f"The iCalendar file is damaged: it begins {read.begun} events and ends {read.whole} of them. Download "
            "it again."
        )
    # walk is annotated with the base class
    found = tuple(cast("list[icalendar.Event]", events))
    return CalendarFile(found, (*read.notes, *_notes(parser)), read.is_cut)


def told_at_most(sentences: Sequence[str]) -> list[str]:
    """As many of the sentences as a page has room for, the rest as a count."""
    more = len(sentences) - MOST_TOLD
    return [*sentences[:MOST_TOLD], *([f"{more} more like these."] if more > 0 else [])]


def _read_text(content: bytes) -> MendedText:
    if len(content) > LARGEST_FILE_BYTES:
        raise SchoolCalendarError(
            f"The calendar file has {len(content):,} bytes; at most {LARGEST_FILE_BYTES:,} are read. Export one "
            "school year only."
        )
    read = text_of(content)
    if "BEGIN:VCALENDAR" not in read.text.upper():
        raise SchoolCalendarError(
            "The file is not an iCalendar file: it has no line BEGIN:VCALENDAR. Export the calendar as .ics, or "
            "download the file that the calendar's subscribe link leads to."
        )
    if read.text.upper().count("BEGIN:VEVENT") > MOST_EVENTS:
        raise SchoolCalendarError(
            f"The calendar file has more than {MOST_EVENTS:,} events. Export one school year only."
        )
    return mend(read)


def _notes(parser: _LenientParser) -> tuple[str, ...]:
    """What was passed over, by kind; values are not quoted, since they may be anybody's."""
    said = [f"{name} of {part} cannot be read and was left out" for part, name in parser.properties]
    counts = list(parser.properties.values())
    said += [f"A line in {part} isn't an iCalendar property and was left out" for part in parser.lines]
    counts += parser.lines.values()
    said += [f'The time zone "{name}" cannot be read; times in it are read as local' for name in parser.zones]
    counts += parser.zones.values()
    return tuple(
        f"{sentence}{f' ({count} times)' if count > 1 else ''}."
        for sentence, count in zip(said, counts, strict=True)
    )

"""When aides are there, and the times at which a student who needs one can't be taken. Pure.

Hours are written as schools write them: ``Mon-Thu 8:00 to 11:30, 12:30 to 3:00; Fri 8:00 to 10:00``. Days are read
by `schedule.calendar.day_words`, so cycle days and A and B weeks are said as everywhere. Without AM or PM a time
before 6:00 is one of the afternoon: common practice of schools, no source.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from schedule.calendar.bells import ClockError, read_clock
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.spans import Span, gaps, joined
from schedule.calendar.starts import Bar, Hold, WeeklyTime, spoken
from schedule.calendar.words import listed
from schedule.planner.problem import AIDE_AWAY

NOON = 12 * 60
SCHOOL_BEGINS = 6 * 60
_CLOCK = r"\d{1,2}:\d{2}(?:\s*[ap]\.?m?\.?(?![a-z]))?"
_RANGE = re.compile(rf"({_CLOCK})\s*(?:-|–|to|until)\s*({_CLOCK})", re.IGNORECASE)  # noqa: RUF001 -- as people type it
_BETWEEN = re.compile(r"^(?:\s|,|and\b)*$")
EXAMPLE = "Mon-Thu 8:00 to 11:30, 12:30 to 3:00; Fri 8:00 to 10:00"


class HoursError(ValueError):
    """Hours that can't be read, with what to write instead."""


def read_hours(text: str) -> tuple[WeeklyTime, ...]:
    """The days and times of an aide's hours; none for an empty text. Raises HoursError with its remedy."""
    parts = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    return tuple(time for part in parts for time in _read_part(part))


def _read_part(part: str) -> Iterator[WeeklyTime]:
    found = list(_RANGE.finditer(part))
    gaps = [part[one.end() : other.start()] for one, other in pairwise(found)]
    if not found or not all(_BETWEEN.match(gap) for gap in [*gaps, part[found[-1].end() :]]):
        raise HoursError(f"“{part}” can't be read. Write days and times, such as {EXAMPLE}.")
    days = part[: found[0].start()].strip().strip(",: ")
    for one in found:
        start, end = _minutes(one[1]), _minutes(one[2])
        if end <= start:
            raise HoursError(f"“{one[0]}” ends before it begins. Write AM or PM where it isn't clear.")
        yield WeeklyTime(days, "", start, end)


def _minutes(text: str) -> int:
    try:
        minute = read_clock(text)
    except ClockError as error:
        raise HoursError(f"“{text}” is no time of day. Write it like 8:05, 13:05 or 1:05 PM.") from error
    says_half = re.search(r"[ap]", text.casefold()) is not None
    return minute + NOON if minute < SCHOOL_BEGINS and not says_half else minute


def hours_words(times: Iterable[WeeklyTime]) -> str:
    """The hours as they are kept and shown; `read_hours` reads them back to the same."""
    by_days: dict[str, list[str]] = {}
    for one in times:
        by_days.setdefault(one.days, []).append(f"{_told(one.start or 0)} to {_told(one.end or 0)}")
    return "; ".join(f"{days} {', '.join(spans)}".strip() for days, spans in by_days.items())


def _told(minute: int) -> str:
    """``8:05``, ``12:30``, ``3:00``; with AM or PM where that would be read as another time."""
    hour, rest = divmod(minute, 60)
    plain = f"{(hour - 1) % 12 + 1}:{rest:02d}"
    return plain if _minutes(plain) == minute else f"{plain} {'AM' if minute < NOON else 'PM'}"


@dataclass(frozen=True, slots=True)
class HoursFrom:
    """What holds from a first day on, until something else does; no times: not there at all."""

    first: dt.date
    times: tuple[WeeklyTime, ...]


@dataclass(frozen=True, slots=True)
class Aide:
    """An aide by name with the hours from each day on, in any order."""

    name: str
    hours: tuple[HoursFrom, ...] = ()

    def there_on(self, facts: DayFacts) -> tuple[Span, ...] | None:
        """From when to when the aide is there on a date; ``None`` where no hours were given for it."""
        begun = [one for one in self.hours if one.first <= facts.date]
        if not begun:
            return None
        times = max(begun, key=lambda one: one.first).times
        return joined(span for one in times if (span := one.span_on(facts)) is not None)

    def words_on(self, facts: DayFacts) -> str:
        """``Ms. Orel is there from 8:00 to 11:30``."""
        spans = self.there_on(facts)
        if not spans:
            return f"{self.name} isn't there on this day"
        return f"{self.name} is there from {listed([spoken(one) for one in spans])}"


def away(aides: Sequence[Aide], facts: DayFacts) -> tuple[Hold, ...]:
    """The times of a date at which none of the aides is there; none where one has no hours, or there is no aide."""
    there: list[Span] = []
    for one in aides:
        spans = one.there_on(facts)
        if spans is None:
            return ()
        there += spans
    if not aides:
        return ()
    told = listed([one.words_on(facts) for one in aides])
    bar = Bar(
        AIDE_AWAY, f"an aide is needed, and {told}", f"{listed([one.name for one in aides])}, about the hours"
    )
    return tuple(Hold(span, bar) for span in gaps(joined(there)))


type Days = tuple[dt.date | None, dt.date | None]
"""The first and the last day of something, if it has any."""


@dataclass(frozen=True, slots=True)
class AidesNeeded:
    """Who needs an aide from when to when, and which aides come to which students and classes, by id."""

    needs: Mapping[int, tuple[Days, ...]] = field(default_factory=dict)
    of_students: Mapping[int, tuple[Aide, ...]] = field(default_factory=dict)
    of_classes: Mapping[int, tuple[Aide, ...]] = field(default_factory=dict)

    def away(self, student: int, home_class: int | None, facts: DayFacts) -> tuple[Hold, ...]:
        """When a student can't be taken on a date since no aide is there: the student's own, else the class's."""
        if not any(_holds(days, facts.date) for days in self.needs.get(student, ())):
            return ()
        return away(self.of_students.get(student) or self.of_classes.get(home_class or 0, ()), facts)


def _holds(days: Days, date: dt.date) -> bool:
    first, last = days
    return (first is None or first <= date) and (last is None or date <= last)

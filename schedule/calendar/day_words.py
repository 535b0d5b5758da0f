"""Which dates a text such as ``Mon,Wed``, ``Day 3``, ``A Mon`` or ``first Wed`` names.

Pure. A part between commas is a day of the building's rotation, a weekday or a span of them, a weekday of an A or B
week (or of a cycle day), or a weekday by its place in the month, as RFC 5545 counts BYDAY (``1WE``, ``-1FR``):
closed days count, so the first Wednesday of a month is its date from 1 to 7, open or not.
"""

import datetime as dt
import re
from calendar import monthrange
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
LAST = -1
"""The place of the last one in its month, whether that is the fourth or the fifth."""
_PLACES = {
    **{
        word: place
        for place, words in enumerate(("first 1st", "second 2nd", "third 3rd", "fourth 4th", "fifth 5th"), 1)
        for word in words.split()
    },
    "last": LAST,
}
_DAYS_OF_WEEK = 7


@dataclass(frozen=True, slots=True)
class NamedDays:
    """What a date must be, all of it; what is empty or None asks nothing.

    A day of the rotation (its label as the building writes it), one of some weekdays (Monday 0), the first to fifth
    of its kind in the month or `LAST`.
    """

    label: str = ""
    weekdays: frozenset[int] = frozenset()
    place: int | None = None

    def names(self, date: dt.date, *labels: str) -> bool:
        """Whether it names a date that has these labels, one of each rotation of the building that gives it one."""
        return (
            (not self.label or self.label in labels)
            and (not self.weekdays or date.weekday() in self.weekdays)
            and (self.place is None or _is_in_place(date, self.place))
        )

    @property
    def plain(self) -> bool:
        """Whether it is a day of the rotation alone, or weekdays alone."""
        return self.place is None and not (self.label and self.weekdays)


def _is_in_place(date: dt.date, place: int) -> bool:
    if place == LAST:
        return date.day > monthrange(date.year, date.month)[1] - _DAYS_OF_WEEK
    return (date.day - 1) // _DAYS_OF_WEEK == place - 1


def parts_of(days: str) -> list[str]:
    """The parts between commas, without what is empty."""
    return [part.strip() for part in re.split("[,;]", days) if part.strip()]


def read_part(part: str, labels: Sequence[str]) -> NamedDays | None:
    """What one part names in a building whose rotations have these labels; None where it is no day there.

    A label is known by its short form too (``3`` for ``Day 3``), in any case, and comes before anything else that a
    word could be.
    """
    wanted = " ".join(part.split()).casefold()
    for label in labels:
        for name in _names_of(label):
            if wanted == name:
                return NamedDays(label)
            if wanted.startswith(f"{name} ") and (weekdays := read_weekdays(wanted.removeprefix(f"{name} "))):
                return NamedDays(label, weekdays)
    first, _, rest = wanted.partition(" ")
    if first in _PLACES and (weekday := weekday_number(rest)) is not None:
        return NamedDays(weekdays=frozenset({weekday}), place=_PLACES[first])
    weekdays = read_weekdays(wanted)
    return NamedDays(weekdays=weekdays) if weekdays else None


def _names_of(label: str) -> Iterator[str]:
    yield label.casefold()
    yield label.casefold().removeprefix("day ").strip()


def read_weekdays(text: str) -> frozenset[int]:
    """The weekdays of ``Mon`` or ``Mon-Thu``, Monday 0; empty where it is neither."""
    first, dash, last = (end.strip() for end in text.partition("-"))
    low = weekday_number(first)
    high = weekday_number(last) if dash else low
    return frozenset() if low is None or high is None else frozenset(range(low, high + 1))


def weekday_number(word: str) -> int | None:
    """0 for ``Mon`` or ``Monday`` in any case, and so on; ``None`` for any other word."""
    lowered = word.casefold().rstrip(".")
    found = [number for number, name in enumerate(WEEKDAYS) if len(lowered) >= 3 and name.startswith(lowered)]
    return found[0] if found else None


def days_name(days: str, date: dt.date, *labels: str) -> bool:
    """Whether a text names a date that has these labels in the building's rotations; an empty one names every date.

    No two rotations of a building share a label, so that the label says which of them is meant.
    """
    parts, known = parts_of(days), tuple(filter(None, labels))
    return not parts or any(
        named.names(date, *known) for part in parts if (named := read_part(part, known)) is not None
    )


def said_twice(labels: Sequence[str], others: Sequence[str]) -> str:
    """The first of the labels that is among the others too, also by its short form; empty where none is."""
    known = {name for label in others for name in _names_of(label)}
    return next((label for label in labels if not known.isdisjoint(_names_of(label))), "")


def may_fall_together(one: NamedDays, other: NamedDays) -> bool:
    """Whether two names by place in the month have a date in common: the last one is the fourth or the fifth."""
    if one.place is None or other.place is None or not one.weekdays & other.weekdays:
        return False
    late = {LAST, 4, 5}
    return one.place == other.place or (LAST in {one.place, other.place} and {one.place, other.place} <= late)

"""Cycle days and A/B weeks that a published calendar names, and where they differ from a school's rotation.

A title counts if it is nothing but a label: "A Day", "Day 3", "Cycle Day 4", "Week B", "Day 2 of 6". How calendars
write them is common practice, no source. Pure.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from accounts.dates import date_words

ONE_DAY = dt.timedelta(days=1)
MOST_DAYS = 5
_SATURDAY = 5
_OF_DAY = re.compile(r"(?:cycle |rotation |schedule )?(?:day )?([a-h]|\d{1,2})(?: day)?(?: of \d{1,2})?")
_OF_WEEK = re.compile(r"(?:week ([a-h])|([a-h]) week)")
_SIGNS = re.compile(r"[\W_]+")


@dataclass(frozen=True, slots=True)
class DayLabel:
    """A label on local dates, both included; `label` is the letter or the number alone, in small letters."""

    first: dt.date
    last: dt.date
    label: str


@dataclass(frozen=True, slots=True)
class LabelDifference:
    """A date on which a calendar says `theirs` and the rotation `ours`, which is empty on a day without one."""

    date: dt.date
    theirs: str
    ours: str


def label_of(title: str) -> str:
    """The label that a title is, empty if it is anything else; a number alone, or a letter, is none."""
    words = _SIGNS.sub(" ", title.casefold()).strip()
    of_week = _OF_WEEK.fullmatch(words)
    if of_week is not None:
        return of_week[1] or of_week[2]
    of_day = _OF_DAY.fullmatch(words)
    return of_day[1].lstrip("0") if of_day is not None and "day" in words.split() else ""


def bare(label: str) -> str:
    """A rotation's own label as `label_of` gives those of a calendar: ``Day 3`` and ``3`` are one."""
    return label_of(label) or _SIGNS.sub(" ", label.casefold()).strip().removeprefix("day ").lstrip("0")


def differences(labels: Iterable[DayLabel], ours: Mapping[dt.date, str]) -> tuple[tuple[LabelDifference, ...], int]:
    """Where a calendar's labels differ from the rotation's, in order, and on how many dates both were looked at.

    `ours`: the label of each date of the school year, empty where the school is closed. Of what lasts longer than a
    day, weekends and closed days say nothing.
    """
    found: dict[dt.date, LabelDifference] = {}
    looked_at: set[dt.date] = set()
    for one in labels:
        for date in _dates(one):
            if date not in ours or (one.first != one.last and not ours[date]):
                continue
            looked_at.add(date)
            if bare(ours[date]) != one.label:
                found[date] = LabelDifference(date, one.label, ours[date])
    return tuple(found[date] for date in sorted(found)), len(looked_at)


def difference_words(school: str, found: Sequence[LabelDifference], looked_at: int) -> str:
    """What is told of one school."""
    if not found:
        return f"{school}: the calendar and the rotation agree on all of {looked_at} days."
    named = "; ".join(_words(one) for one in found[:MOST_DAYS])
    more = f"; and {len(found) - MOST_DAYS} more" if len(found) > MOST_DAYS else ""
    return (
        f"{school}: the calendar and the rotation differ on {len(found)} of {looked_at} days: {named}{more}. "
        "Correct the rotation's known day, or enter the closing that is missing here."
    )


def _words(one: LabelDifference) -> str:
    theirs = f"Day {one.theirs}" if one.theirs.isdecimal() else one.theirs.upper()
    ours = f"{one.ours} here" if one.ours else "no school here"
    return f"{date_words(one.date)} is {theirs} there and {ours}"


def _dates(one: DayLabel) -> Iterator[dt.date]:
    date = one.first
    while date <= one.last:
        if one.first == one.last or date.weekday() < _SATURDAY:
            yield date
        date += ONE_DAY

"""The standing pattern: the same class at the same time, from one dated week to the next. Pure.

A session of a building with cycle days follows its cycle day, any other its weekday. Where two dates of the week
bear the same cycle day, the same weekday goes first.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from schedule.week_layout import DayFacts


@dataclass(frozen=True, slots=True)
class Held:
    """A session of an earlier week: the unit that it would be now, where, and when (minutes after midnight)."""

    unit: str
    date: dt.date
    at: int
    building: int
    cycle_day: str
    space: str | None = None


@dataclass(frozen=True, slots=True)
class Carried:
    """The same session in the week being planned."""

    unit: str
    date: dt.date
    at: int
    building: int
    space: str | None
    pattern_key: str


def carry_over(
    held: Iterable[Held], facts: Mapping[tuple[int, dt.date], DayFacts], owed: Mapping[str, int]
) -> tuple[Carried, ...]:
    """Sessions of an earlier week on the dates of this one that they belong to.

    No more of a unit than are ``owed``; those whose day doesn't come, or is closed, are left out.
    """
    return tuple(carried for _, carried in carry_pairs(held, facts, owed))


def carry_pairs(
    held: Iterable[Held], facts: Mapping[tuple[int, dt.date], DayFacts], owed: Mapping[str, int]
) -> tuple[tuple[Held, Carried], ...]:
    """``carry_over`` with the session that each one was."""
    found: list[tuple[Held, Carried]] = []
    taken: dict[str, list[dt.date]] = {}
    for one in sorted(held, key=lambda session: (session.date, session.at, session.unit)):
        dates = taken.setdefault(one.unit, [])
        date = _date_for(one, facts, dates)
        if date is not None and len(dates) < owed.get(one.unit, 0):
            dates.append(date)
            key = facts[one.building, date].pattern_key
            found.append((one, Carried(one.unit, date, one.at, one.building, one.space, key)))
    return tuple(found)


def _date_for(
    one: Held, facts: Mapping[tuple[int, dt.date], DayFacts], taken: Collection[dt.date]
) -> dt.date | None:
    possible = [
        date
        for (building, date), day in sorted(facts.items(), key=lambda item: item[0][1])
        if building == one.building and day.open and date not in taken and _belongs(one, day)
    ]
    same_weekday = [date for date in possible if date.weekday() == one.date.weekday()]
    return next(iter([*same_weekday, *possible]), None)


def _belongs(one: Held, day: DayFacts) -> bool:
    if one.cycle_day or day.cycle_label:
        return one.cycle_day == day.cycle_label
    return one.date.weekday() == day.date.weekday()


def usual_times(held: Iterable[tuple[Held, str]]) -> dict[str, tuple[tuple[str, int], ...]]:
    """(pattern key, minute) pairs of each unit, from sessions with the key of the day they were held on."""
    found: dict[str, set[tuple[str, int]]] = {}
    for one, key in held:
        found.setdefault(one.unit, set()).add((key, one.at))
    return {unit: tuple(sorted(times)) for unit, times in found.items()}

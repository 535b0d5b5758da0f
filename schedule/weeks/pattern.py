"""The standing pattern: the same class at the same time, from one dated week to the next. Pure.

A session of a building with cycle days follows its cycle day, one with A and B weeks its weekday in weeks of that
letter, any other its weekday. Where two dates of the week bear the same cycle day, the same weekday goes first.
"""

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from schedule.calendar.laid_out import DayFacts

type FactsOn = Callable[[int, dt.date], DayFacts]
"""What a date is in a building, by the building's id."""


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


@dataclass(frozen=True, slots=True)
class EarlierWeek:
    """An earlier week: the dates that were planned in it, and its sessions."""

    dates: frozenset[dt.date]
    held: tuple[Held, ...]


def latest_of_kind(weeks: Sequence[EarlierWeek], facts_on: FactsOn, dates: Sequence[dt.date]) -> tuple[Held, ...]:
    """What each unit of the week at hand (``dates``) is compared with, from earlier weeks, the latest first.

    For each kind of day it is the latest week in which such a day was planned and the unit was held: a week cut
    short, or one of the other letter, is passed over for the days that it lacked. As long as no week of a letter
    was planned, the latest one of any letter stands in for it.
    """
    groups: dict[tuple[str, int], list[EarlierWeek]] = {}
    for week in weeks:
        mine: dict[tuple[str, int], list[Held]] = {}
        for one in week.held:
            mine.setdefault((one.unit, one.building), []).append(one)
        for group, held in mine.items():
            groups.setdefault(group, []).append(EarlierWeek(week.dates, tuple(held)))
    found: list[Held] = []
    for (_, building), mine_weeks in groups.items():
        found += _latest(mine_weeks, building, facts_on)
        found += _stand_ins(mine_weeks, building, facts_on, dates)
    return tuple(sorted(found, key=lambda one: (one.date, one.at, one.unit)))


def _latest(weeks: Sequence[EarlierWeek], building: int, facts_on: FactsOn) -> list[Held]:
    """One unit's sessions of the latest week for each kind of day."""
    known: set[str] = set()
    found: list[Held] = []
    for week in weeks:
        facts = [facts_on(building, date) for date in week.dates]
        kinds = {one.pattern_key for day in facts if day.open for one in day.each()}
        came = kinds | {kind_of(one, facts_on) for one in week.held}
        found += [one for one in week.held if kind_of(one, facts_on) not in known]
        known |= came
    return found


def _stand_ins(
    weeks: Sequence[EarlierWeek], building: int, facts_on: FactsOn, dates: Sequence[dt.date]
) -> list[Held]:
    """The latest week's sessions as those of a letter of which the unit has no week yet."""
    usually = weeks[0].held[0].cycle_day
    days = [facts_on(building, date).of_label(usually) for date in dates]
    letters = {day.cycle_label for day in days if day.open and day.by_week and day.cycle_label}
    seen = {one.cycle_day for week in weeks for one in week.held}
    return [replace(one, cycle_day=letter) for letter in sorted(letters - seen) for one in weeks[0].held]


def kind_of(one: Held, facts_on: FactsOn) -> str:
    """The kind of day that a session was held on (see ``pattern_key``)."""
    return facts_on(one.building, one.date).kind_of(one.date, one.cycle_day)


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
            key = facts[one.building, date].of_label(one.cycle_day).pattern_key
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
    return day.kind_of(one.date, one.cycle_day) == day.of_label(one.cycle_day).pattern_key


def usual_times(held: Iterable[tuple[Held, str]]) -> dict[str, tuple[tuple[str, int], ...]]:
    """(pattern key, minute) pairs of each unit, from sessions with the key of the day they were held on."""
    found: dict[str, set[tuple[str, int]]] = {}
    for one, key in held:
        found.setdefault(one.unit, set()).add((key, one.at))
    return {unit: tuple(sorted(times)) for unit, times in found.items()}

"""The plain week of a term: no day unusual, and every service of the term in it."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from schedule.planner.pins import pinned_start
from schedule.planner.problem import Group, Pin, Problem, Service, Start
from schedule.planner.term.alike import units_of
from schedule.planner.term.term import StandingTimetable, TermWeek

type Ways = frozenset[tuple[int, str, str | None, int | None]]
"""Minute, place, space and length of each start of a unit on one kind of day."""


def plain_week(weeks: Sequence[TermWeek]) -> TermWeek:
    """The days of the kinds of week that comes most often, with what each unit usually can do on such days."""
    layouts = Counter(_layout(week.problem) for week in weeks)
    layout = max(layouts, key=lambda one: (layouts[one], len(one)))
    first = next(week for week in weeks if _layout(week.problem) == layout)
    usual = _usual_starts(weeks)
    days = _days_of(first.problem, layout)

    def usually[T: (Service, Group)](units: Iterable[T]) -> tuple[T, ...]:
        every: dict[str, T] = {}
        for one in units:
            every.setdefault(one.id, one)
        return tuple(replace(one, starts=_starts(one.id, usual, days), windows=()) for one in every.values())

    problem = replace(
        first.problem,
        services=usually(one for week in (first, *weeks) for one in week.problem.services),
        groups=usually(one for week in (first, *weeks) for one in week.problem.groups),
        pins=tuple(replace(pin, space=None) for pin in first.problem.pins if _stays(first, pin, weeks, days)),
        current=None,
    )
    return TermWeek(first.id, problem)


def _days_of(problem: Problem, layout: Sequence[frozenset[tuple[str, str]]]) -> dict[tuple[str, str], str]:
    """The day of each kind, place by place."""
    return {key: day.id for day, keys in zip(problem.days, layout, strict=True) for key in keys}


def _stays(first: TermWeek, pin: Pin, weeks: Sequence[TermWeek], days: Mapping[tuple[str, str], str]) -> bool:
    """Whether every week that owes the unit pins it to the same kind of day, minute and place."""
    mine = _moment(first.problem, pin)
    owing = [week.problem for week in weeks if week.problem.has_unit(pin.unit)]
    if mine is None or days.get((mine[3], mine[1])) != pin.day:
        return False
    return all(mine in {_moment(one, other) for other in one.pins} for one in owing)


def _moment(problem: Problem, pin: Pin) -> tuple[str, str, int, str] | None:
    start = pinned_start(problem, pin)
    return None if start is None else (pin.unit, start.pattern_key or "", start.at, start.place)


def one_layout(weeks: Sequence[TermWeek]) -> bool:
    """Whether every kind of day comes in one place at most once a week and in every week that isn't cut short."""
    days: dict[tuple[str, str], set[int]] = {}
    most = max(len(week.problem.days) for week in weeks)
    for week in weeks:
        if len(week.problem.days) == most:
            for number, keys in enumerate(_layout(week.problem)):
                for key in keys:
                    days.setdefault(key, set()).add(number)
    numbers = {(place, number): 0 for (place, _), found in days.items() for number in found}
    return all(len(found) == 1 for found in days.values()) and len(numbers) == len(days)


def with_spaces(standing: StandingTimetable, weeks: Sequence[TermWeek]) -> StandingTimetable:
    """Each session with the space that is free for it in most weeks."""
    usual = _usual_starts(weeks)
    found = [
        replace(one, space=next((s for at, place, s, _ in ways if (at, place) == (one.at, one.place)), None))
        for one in standing.sessions
        for ways in [sorted(usual.get((one.unit, one.pattern_key), ()), key=str)]
    ]
    return StandingTimetable(tuple(found))


def _layout(problem: Problem) -> tuple[frozenset[tuple[str, str]], ...]:
    """For each day the kinds that it is of, place by place."""
    found: dict[str, set[tuple[str, str]]] = {day.id: set() for day in problem.days}
    for unit in units_of(problem):
        for start in problem.starts_of(unit.id):
            found[start.day].add((start.place, start.pattern_key or ""))
    return tuple(frozenset(keys) for keys in found.values())


def _usual_starts(weeks: Sequence[TermWeek]) -> dict[tuple[str, str], Ways]:
    """By unit and kind of day, what it can do on most days of that kind."""
    seen: dict[tuple[str, str], Counter[Ways]] = {}
    for week in weeks:
        problem = week.problem
        for unit in units_of(problem):
            days: dict[tuple[str, str], set[tuple[int, str, str | None, int | None]]] = {}
            for start in problem.starts_of(unit.id):
                way = start.at, start.place, start.space, start.minutes
                days.setdefault((start.day, start.pattern_key or ""), set()).add(way)
            for (_, key), ways in days.items():
                seen.setdefault((unit.id, key), Counter())[frozenset(ways)] += 1
    return {key: max(counts, key=lambda ways: (counts[ways], len(ways))) for key, counts in seen.items()}


def _starts(
    unit: str, usual: Mapping[tuple[str, str], Ways], days: Mapping[tuple[str, str], str]
) -> tuple[Start, ...]:
    found = [
        Start(days[place, key], at, place, space, key, minutes)
        for (one, key), ways in usual.items()
        if one == unit
        for at, place, space, minutes in ways
        if (place, key) in days
    ]
    return tuple(sorted(found, key=lambda start: (start.day, start.at, start.place, start.space or "")))

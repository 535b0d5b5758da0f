"""Invented terms, the same for the same seed: one week of ``benchmarks.weeks``, and what a calendar does to it.

Eighteen weeks with five closed days (no two in one week), four closings of single buildings, two shortened days,
two services that begin and one that ends. With ``rotations`` one building has a six-day rotation and one has A and
B weeks; the gyms of these are free by their own kinds of day.
"""

import datetime as dt
import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from benchmarks.weeks import DAY_NAMES, WeekShape, generate_week
from schedule.planner.problem import Problem, Service, Start
from schedule.planner.term.term import Term, TermWeek, UnusualDay

FIRST_MONDAY = dt.date(2026, 8, 31)
CYCLE = 6
ROTATING, LETTERED = "b0", "b1"
EARLY_END = 12 * 60 + 30


@dataclass(frozen=True, slots=True)
class TermShape:
    """How big a term is, and how irregular."""

    sessions: int = 40
    buildings: int = 8
    weeks: int = 18
    closed_days: int = 5
    closings: int = 4
    shortened: int = 2
    beginning: int = 2
    ending: int = 1
    rotations: bool = False


@dataclass(frozen=True, slots=True)
class _Calendar:
    """What is unusual: (week, day) without school, closed buildings, shortened days; first and last weeks."""

    closed: frozenset[tuple[int, int]]
    closings: frozenset[tuple[int, int, str]]
    shortened: frozenset[tuple[int, int]]
    first: Mapping[str, int] = field(default_factory=dict)
    last: Mapping[str, int] = field(default_factory=dict)


def generate_term(shape: TermShape, seed: int) -> Term:
    """One term. Every week owes the same of a service, however short the week is."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    plain = generate_week(WeekShape(shape.sessions, shape.buildings), seed)
    calendar = _calendar(shape, plain, rng)
    gyms = _gyms(plain, rng) if shape.rotations else {}
    weeks: list[TermWeek] = []
    cycle_day = 0
    for number in range(shape.weeks):
        open_days = [day for day in range(5) if (number, day) not in calendar.closed]
        cycle = {day: (cycle_day + nth) % CYCLE + 1 for nth, day in enumerate(open_days)}
        cycle_day += len(open_days)
        keys = _Keys(number, cycle, shape.rotations)
        weeks.append(_week(plain, calendar, number, keys, gyms))
    return Term(tuple(weeks))


@dataclass(frozen=True, slots=True)
class _Keys:
    """What the days of a week are called, building by building."""

    week: int
    cycle: Mapping[int, int]
    rotations: bool

    def of(self, place: str, day: int) -> str:
        if self.rotations and place == ROTATING:
            return f"Day {self.cycle[day]}" if day in self.cycle else ""
        if self.rotations and place == LETTERED:
            return f"{'AB'[self.week % 2]} {DAY_NAMES[day]}"
        return DAY_NAMES[day]


def _calendar(shape: TermShape, plain: Problem, rng: random.Random) -> _Calendar:
    closed = [(week, rng.randrange(5)) for week in rng.sample(range(shape.weeks), shape.closed_days)]
    rest = [(week, day) for week in range(shape.weeks) for day in range(5) if (week, day) not in closed]
    rng.shuffle(rest)
    closings = [(*one, rng.choice(plain.places).id) for one in rest[: shape.closings]]
    shortened = rest[shape.closings : shape.closings + shape.shortened]
    changing = rng.sample([service.id for service in plain.services], shape.beginning + shape.ending)
    late = {unit: rng.randint(3, shape.weeks - 4) for unit in changing[: shape.beginning]} if changing else {}
    early = {unit: rng.randint(4, shape.weeks - 3) for unit in changing[shape.beginning :]}
    return _Calendar(frozenset(closed), frozenset(closings), frozenset(shortened), late, early)


def _gyms(plain: Problem, rng: random.Random) -> dict[tuple[str, str], tuple[int, ...]]:
    """Minutes at which each service of the two buildings can be held, by kind of day."""
    kinds = {
        ROTATING: [f"Day {day}" for day in range(1, CYCLE + 1)],
        LETTERED: [f"{letter} {day}" for letter in "AB" for day in DAY_NAMES],
    }
    gyms: dict[tuple[str, str], tuple[int, ...]] = {}
    for service in plain.services:
        place = service.starts[0].place
        bells = sorted({start.at for start in service.starts} | {bar.at for bar in service.barred})
        for kind in kinds.get(place, ()):
            usable = len({start.at for start in service.starts if start.day == service.starts[0].day})
            gyms[service.id, kind] = tuple(sorted(rng.sample(bells, usable)))
    return gyms


def _week(
    plain: Problem, calendar: _Calendar, number: int, keys: _Keys, gyms: Mapping[tuple[str, str], tuple[int, ...]]
) -> TermWeek:
    monday = FIRST_MONDAY + dt.timedelta(weeks=number)
    dates = {f"d{day}": (monday + dt.timedelta(days=day)).isoformat() for day in range(5)}
    open_days = [day for day in range(5) if (number, day) not in calendar.closed]
    services = tuple(
        _service(service, calendar, keys, dates, gyms)
        for service in plain.services
        if calendar.first.get(service.id, 0) <= number <= calendar.last.get(service.id, 10**6)
    )
    days = tuple(replace(plain.days[day], id=dates[f"d{day}"]) for day in open_days)
    problem = replace(plain, days=days, services=services, title=f"Week of {monday.isoformat()}")
    return TermWeek(monday.isoformat(), problem, tuple(_unusual(plain, calendar, keys)))


def _service(
    service: Service,
    calendar: _Calendar,
    keys: _Keys,
    dates: Mapping[str, str],
    gyms: Mapping[tuple[str, str], tuple[int, ...]],
) -> Service:
    starts: list[Start] = []
    place, space = service.starts[0].place, service.starts[0].space
    for day in range(5):
        closed = (keys.week, day) in calendar.closed or (keys.week, day, place) in calendar.closings
        if closed:
            continue
        kind = keys.of(place, day)
        usual = tuple(start.at for start in service.starts if start.day == f"d{day}")
        end = EARLY_END if (keys.week, day) in calendar.shortened else 24 * 60
        starts += [
            Start(dates[f"d{day}"], at, place, space, kind)
            for at in gyms.get((service.id, kind), usual)
            if at + service.minutes <= end
        ]
    return replace(service, starts=tuple(starts), barred=())


def _unusual(plain: Problem, calendar: _Calendar, keys: _Keys) -> Iterable[UnusualDay]:
    for place in plain.places:
        for day in range(5):
            kind = keys.of(place.id, day)
            if not kind:
                continue
            if (keys.week, day) in calendar.closed:
                yield UnusualDay(place.id, kind, "no school")
            elif (keys.week, day, place.id) in calendar.closings:
                yield UnusualDay(place.id, kind, f"{place.name} is closed")
            elif (keys.week, day) in calendar.shortened:
                yield UnusualDay(place.id, kind, "school ends early", closed=False)

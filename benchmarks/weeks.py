"""Invented weeks of any size, the same for the same seed: buildings with their own bells, gyms, roads."""

import math
import random
from dataclasses import dataclass

from schedule.planner.problem import (
    Barred,
    Block,
    Day,
    LongestStretch,
    Lunch,
    Place,
    Preparation,
    Problem,
    Service,
    Start,
)
from schedule.planner.week.construct import fill
from schedule.planner.week.model import Model
from schedule.planner.week.state import WeekState

DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday")


@dataclass(frozen=True, slots=True)
class WeekShape:
    """How big a week is. ``starts_a_day`` is the usual number of usable starts of a service on a day.

    ``grid``: where it isn't 0, sessions may begin every so many minutes, in place of twelve times a day at most.
    ``stretch``: the longest stretch that is wished for, 0 for none.
    """

    sessions: int = 25
    buildings: int = 8
    days: int = 5
    starts_a_day: int = 8
    lunch: bool = True
    preparation_a_day: int = 0
    meetings: bool = False
    grid: int = 0
    stretch: int = 0


def cheapest_insertion(model: Model) -> WeekState:
    """Plain cheapest insertion: always the cheapest session of all next. The yardstick of the search."""
    state = WeekState(model)
    fill(state, regret=False)
    return state


def generate_week(shape: WeekShape, seed: int) -> Problem:
    """One week. Drives take 5 to 25 minutes, parking 2 to 4, packing 1 to 3."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    places = tuple(
        Place(f"b{n}", f"Building {n}", rng.randint(2, 4), rng.randint(1, 3)) for n in range(shape.buildings)
    )
    days = tuple(_day(shape, rng, n) for n in range(shape.days))
    bells = [_bells(shape, rng) for _ in places]
    services = _services(shape, rng, bells)
    return Problem(
        places=places,
        drive_minutes=_drives(rng, places),
        days=days,
        services=services,
        preparation=Preparation(0, 20) if shape.preparation_a_day else None,
        longest_stretch=LongestStretch(shape.stretch, 10) if shape.stretch else None,
        title=f"{shape.sessions} sessions, seed {seed}",
    )


def _day(shape: WeekShape, rng: random.Random, index: int) -> Day:
    name = DAY_NAMES[index % 5] + ("" if index < 5 else f" {index // 5 + 1}")
    meeting = shape.meetings and index % 5 == rng.randrange(5)
    return Day(
        id=f"d{index}",
        label=name,
        start=7 * 60 + 30,
        end=15 * 60 + 30,
        lunch=Lunch(30, 10 * 60 + 45, 13 * 60 + 30) if shape.lunch else None,
        blocks=(Block(15 * 60, 15 * 60 + 30, None, "Team meeting"),) if meeting else (),
        preparation_minutes=shape.preparation_a_day,
    )


def _bells(shape: WeekShape, rng: random.Random) -> list[int]:
    first = 7 * 60 + 40 + 5 * rng.randint(0, 8)
    if shape.grid:
        return list(range(first, 14 * 60 + 50, shape.grid))
    step = rng.choice((35, 40, 43, 45, 50))
    return [first + step * n for n in range(12) if first + step * n + 30 <= 15 * 60 + 20]


def _drives(rng: random.Random, places: tuple[Place, ...]) -> dict[str, dict[str, int]]:
    points = {place.id: (rng.uniform(0, 18), rng.uniform(0, 18)) for place in places}
    return {a: {b: 0 if a == b else _minutes(points[a], points[b], rng) for b in points} for a in points}


def _minutes(a: tuple[float, float], b: tuple[float, float], rng: random.Random) -> int:
    return max(5, min(25, round(math.dist(a, b) + 3 + rng.uniform(-1, 1))))


def _services(shape: WeekShape, rng: random.Random, bells: list[list[int]]) -> tuple[Service, ...]:
    services: list[Service] = []
    left = shape.sessions
    while left > 0:
        count = min(left, rng.choice((1, 2, 2, 2, 3)), shape.days)
        left -= count
        place = rng.randrange(len(bells))
        services.append(_service(shape, rng, len(services), count, place, bells[place]))
    return tuple(services)


def _service(
    shape: WeekShape, rng: random.Random, number: int, count: int, place: int, bells: list[int]
) -> Service:
    minutes = rng.choice((20, 25, 30, 30))
    starts: list[Start] = []
    barred: list[Barred] = []
    for day in range(shape.days):
        usable = sorted(rng.sample(bells, min(len(bells), shape.starts_a_day)))
        for at in bells:
            if at in usable:
                starts.append(Start(f"d{day}", at, f"b{place}", "gym", DAY_NAMES[day % 5]))
            else:
                barred.append(_barred(day, at, place))
    return Service(
        id=f"s{number}",
        label=f"Class {number}",
        minutes=minutes,
        sessions=count,
        starts=tuple(starts),
        students=(f"p{number}",),
        barred=tuple(barred),
    )


def _barred(day: int, at: int, place: int) -> Barred:
    return Barred(
        f"d{day}", at, f"b{place}", "space-in-use", "the gym is in use", f"the principal of building {place}"
    )

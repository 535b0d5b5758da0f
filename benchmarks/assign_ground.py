"""Generated districts: teachers' homes, buildings in towns, students with weekly services. Invented throughout.

A county of towns: each has some buildings near one another, and roads between towns take longer. Students, sessions
and lengths are drawn as they occur on such caseloads (common practice, no source): most have one or two sessions of
30 minutes a week. Last year's teachers come from an older district: bases as now, caseloads by hand.
"""

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass

from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.days import Day, Lunch, Place

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri")
FIELD = "adapted physical education"
SIDE = 40.0
MINUTES_A_STEP = 1.35
"""Minutes for one step of the map: about 45 miles an hour on roads a quarter longer than the crow flies."""

SESSIONS = (*[(1, 30)] * 8, (2, 30), (2, 20), *[(1, 20)] * 5)
"""Sessions a week and their minutes, each as likely as it stands here."""


@dataclass(frozen=True, slots=True)
class DistrictShape:
    """How large a district is."""

    teachers: int = 12
    sites: int = 60
    students: int = 500
    towns: int = 9
    keeps: int = 4


SMALL = DistrictShape(teachers=3, sites=12, students=110, towns=4, keeps=1)


def generate_district(shape: DistrictShape, seed: int) -> Staffing:
    """The same district for the same seed."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    towns = [(rng.uniform(0, SIDE), rng.uniform(0, SIDE)) for _ in range(shape.towns)]
    where = {f"b{n:02}": _near(rng, rng.choice(towns), 3.5) for n in range(shape.sites)}
    homes = {f"h{n:02}": _near(rng, rng.choice(towns), 5.0) for n in range(shape.teachers)}
    drives = _drives({**where, **homes})
    weights = [rng.choice((1, 2, 2, 3, 4)) for _ in where]
    placed = rng.choices(list(where), weights, k=shape.students)
    services = tuple(_service(rng, n, place, homes, drives) for n, place in enumerate(placed))
    teachers = _teachers(shape, homes, services)
    return Staffing(
        teachers=teachers,
        sites=tuple(_site(rng, one) for one in where),
        services=services,
        drive_minutes=drives,
        bases=tuple(Place(one) for one in homes),
    )


def _near(rng: random.Random, center: tuple[float, float], spread: float) -> tuple[float, float]:
    return rng.gauss(center[0], spread), rng.gauss(center[1], spread)


def _drives(points: dict[str, tuple[float, float]]) -> dict[str, dict[str, int]]:
    """By road: rounded up and never quicker by a detour (shortest ways over all pairs)."""
    names = list(points)
    table = {
        one: {to: 2 + math.ceil(MINUTES_A_STEP * math.dist(points[one], points[to])) for to in names if to != one}
        for one in names
    }
    for middle in names:
        for one in names:
            for to in names:
                if len({one, to, middle}) == 3:
                    table[one][to] = min(table[one][to], table[one][middle] + table[middle][to])
    return table


def _site(rng: random.Random, name: str) -> Site:
    """An elementary, middle or high school's hours; sessions begin every 5, 10 or 15 minutes."""
    opens, closes, step = rng.choice(((485, 870, 5), (470, 855, 10), (510, 915, 5), (455, 840, 15)))
    return Site(Place(name, name, 4, 3), opens, closes, tuple(range(opens, closes - 15, step)))


def _service(
    rng: random.Random, number: int, place: str, homes: Mapping[str, object], drives: dict[str, dict[str, int]]
) -> YearService:
    sessions, minutes = rng.choice(SESSIONS)
    near = sorted(homes, key=lambda home: drives[home][place])[:3]
    last = rng.choice([near[0], near[0], *near]).replace("h", "t")
    return YearService(f"s{number:03}", place, FIELD, minutes, sessions, (f"p{number:03}",), last=last)


def _teachers(
    shape: DistrictShape, homes: dict[str, tuple[float, float]], services: tuple[YearService, ...]
) -> tuple[Itinerant, ...]:
    """Every fourth one has three days; some keep a student of last year."""
    found: list[Itinerant] = []
    for number, home in enumerate(homes):
        days = WEEKDAYS if number % 4 != 3 else WEEKDAYS[:3]
        mine = [one.students[0] for one in services if one.last == f"t{number:02}"]
        found.append(
            Itinerant(
                id=f"t{number:02}",
                name=f"Teacher {number}",
                base=home,
                days=tuple(_day(one, home) for one in days),
                fields=frozenset({FIELD}),
                keeps=frozenset(mine[:1] if number < shape.keeps else ()),
            )
        )
    return tuple(found)


def _day(name: str, home: str) -> Day:
    return Day(name, 435, 930, name, home, home, Lunch(30, 660, 780), preparation_minutes=40)

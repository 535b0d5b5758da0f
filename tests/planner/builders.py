"""Short ways to write tiny problems. Invented places and people only."""

import random
from dataclasses import replace
from typing import Any

from schedule.planner.problem import (
    DEFAULT_GOALS,
    Block,
    Day,
    Goal,
    Group,
    LongestStretch,
    Lunch,
    Pin,
    Place,
    Preparation,
    Problem,
    Service,
    Session,
    Start,
)

NO_SAMENESS = tuple(goal for goal in DEFAULT_GOALS if goal is not Goal.SAMENESS)


def tiny(*services: Service, **changes: Any) -> Problem:
    """One day from 8:00 to 12:00 in places a and b, 10 minutes apart, nothing else asked."""
    asked: dict[str, Any] = {
        "places": (Place("a", "North School"), Place("b", "South School")),
        "drive_minutes": {"a": {"b": 10}, "b": {"a": 10}},
        "days": (Day("mon", 480, 720, "Monday"),),
        "services": services,
        "goals": NO_SAMENESS,
    }
    return Problem(**{**asked, **changes})


def service(name: str, *starts: Start, minutes: int = 30, sessions: int = 1, **more: Any) -> Service:
    """A service with its starts."""
    return Service(name, minutes, sessions, tuple(starts), **more)


def at(minute: int, place: str = "a", day: str = "mon", **more: Any) -> Start:
    """A start."""
    return Start(day, minute, place, **more)


def random_tiny_week(seed: int, *, triangle: bool = True) -> Problem:
    """A week small enough to try every plan of it, each rule switched on or off at random.

    All times are multiples of 5 minutes, so that trying every fifth minute tries all that matters.
    """
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    names = ["a", "b", "c"][: rng.randint(2, 3)]
    days = tuple(_day(rng, n, names) for n in range(rng.randint(1, 3)))
    services = tuple(_service(rng, n, names, days) for n in range(rng.randint(2, 3)))
    groups = _groups(rng, services)
    problem = Problem(
        places=tuple(Place(n, n, 5 * rng.randint(0, 1), 5 * rng.randint(0, 1)) for n in names),
        drive_minutes=_drives(rng, names, triangle),
        days=days,
        services=services,
        groups=groups,
        setup_minutes=rng.choice((0, 0, 5)),
        preparation=rng.choice((None, Preparation(0, 15), Preparation(rng.choice((60, 150, 240)), 20))),
        longest_stretch=rng.choice((None, None, LongestStretch(60, 10), LongestStretch(90, 15))),
        goals=_goals(rng),
    )
    problem = replace(problem, current=_current(rng, problem))
    return _pinned(rng, problem)


def _goals(rng: random.Random) -> tuple[Goal, ...]:
    others = list(NO_SAMENESS[1:])
    if rng.random() < 0.4:
        rng.shuffle(others)
    return (Goal.UNPLACED, *others)


def _day(rng: random.Random, index: int, names: list[str]) -> Day:
    start = 480
    end = start + rng.choice((150, 210, 240))
    lunch = Lunch(rng.choice((20, 30)), start + 60, end - 30) if rng.random() < 0.6 else None
    blocks: tuple[Block, ...] = ()
    if rng.random() < 0.4:
        begin = start + 5 * rng.randint(0, 20)
        blocks = (Block(begin, begin + 20, rng.choice([None, *names]), "duty"),)
    return Day(
        id=f"d{index}",
        start=start,
        end=end,
        start_place=rng.choice([None, None, *names]),
        end_place=rng.choice([None, None, *names]),
        lunch=lunch,
        blocks=blocks,
        preparation_minutes=rng.choice((0, 0, 40, 80)),
    )


def _drives(rng: random.Random, names: list[str], triangle: bool) -> dict[str, dict[str, int]]:
    low, high = (3, 6) if triangle else (1, 8)
    return {a: {b: 0 if a == b else 5 * rng.randint(low, high) for b in names} for a in names}


def _service(rng: random.Random, number: int, names: list[str], days: tuple[Day, ...]) -> Service:
    starts = {
        (rng.choice(days).id, 480 + 5 * rng.randint(0, 36), rng.choice(names)) for _ in range(rng.randint(1, 4))
    }
    apart = rng.choice((0, 1, 1, 2))
    return Service(
        id=f"s{number}",
        minutes=rng.choice((20, 30)),
        sessions=rng.randint(1, 2),
        starts=tuple(
            Start(day, minute, place, None, None, rng.choice((None, None, 15)))
            for day, minute, place in sorted(starts)
        ),
        days_apart=apart,
        weight=rng.choice((1, 1, 2)),
    )


def _groups(rng: random.Random, services: tuple[Service, ...]) -> tuple[Group, ...]:
    if rng.random() < 0.6:
        return ()
    first, second = services[:2]
    starts = tuple(replace(start, minutes=None) for start in first.starts[:2])
    return (Group("g0", (first.id, second.id), 35, starts),)


def _current(rng: random.Random, problem: Problem) -> tuple[Session, ...] | None:
    if rng.random() < 0.5:
        return None
    found: list[Session] = []
    for one in problem.services:
        start = rng.choice(one.starts)
        found.append(Session(one.id, start.day, start.at, start.place))
    return tuple(found)


def _pinned(rng: random.Random, problem: Problem) -> Problem:
    if rng.random() < 0.7:
        return problem
    one = rng.choice(problem.services)
    start = rng.choice(one.starts)
    if rng.random() < 0.5:
        return replace(problem, pins=(Pin(one.id, start.day, start.at, start.place),))
    # The same moment in other places, which the pin leaves open, once with a session of another length.
    others = [replace(start, place=place.id, minutes=rng.choice((None, 40))) for place in problem.places]
    more = replace(one, starts=tuple(dict.fromkeys((*one.starts, *others[:2]))))
    services = tuple(more if service is one else service for service in problem.services)
    return replace(problem, services=services, pins=(Pin(one.id, start.day, start.at),))

"""Tiny terms: weeks of two short days in two places."""

from dataclasses import replace
from typing import Any

from schedule.planner.problem import Day, Goal, Problem, Service, Start
from schedule.planner.term.term import TermWeek, UnusualDay
from tests.planner.builders import service, tiny

KEYS = {"mon": "monday", "tue": "tuesday"}


def at(minute: int, place: str = "a", day: str = "mon", **more: Any) -> Start:
    """A start that bears its weekday."""
    return Start(day, minute, place, pattern_key=more.pop("pattern_key", KEYS[day]), **more)


def ann(*starts: Start, sessions: int = 1, name: str = "ann", **more: Any) -> Service:
    """A service of half an hour."""
    return service(name, *starts, sessions=sessions, label=name.title(), **more)


def week(number: int, *services: Service, unusual: tuple[UnusualDay, ...] = (), **changes: Any) -> TermWeek:
    """A week of Monday and Tuesday, 8:00 to 12:00 at the latest, its days named by date."""
    days = changes.pop("days", (Day("mon", 480, 720, "Monday"), Day("tue", 480, 720, "Tuesday")))
    problem = tiny(*services, days=days, goals=tuple(Goal), **changes)
    return TermWeek(f"2026-09-{7 * number:02}", dated(problem, number), unusual)


def dated(problem: Problem, number: int) -> Problem:
    """The same week with days of other names."""
    names = {day.id: f"{day.id} {number}" for day in problem.days}
    return replace(
        problem,
        days=tuple(replace(day, id=names[day.id]) for day in problem.days),
        services=tuple(
            replace(one, starts=tuple(replace(start, day=names[start.day]) for start in one.starts))
            for one in problem.services
        ),
        groups=tuple(
            replace(one, starts=tuple(replace(start, day=names[start.day]) for start in one.starts))
            for one in problem.groups
        ),
    )

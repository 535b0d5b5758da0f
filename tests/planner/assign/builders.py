"""Short ways to write tiny districts. Invented places and people only."""

from dataclasses import replace
from typing import Any

from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.days import Day, Lunch, Place

APE = "adapted physical education"
VISION = "vision"

LINE = {"home a": 0, "a": 5, "b": 15, "c": 30, "home c": 40}
"""A road along which everything lies, by minutes from its west end."""


def day(
    name: str, base: str, *, start: int = 480, end: int = 720, lunch: Lunch | None = None, prepare: int = 0
) -> Day:
    """A morning from and to the base."""
    return Day(name, 480, end, name, base, base, lunch, preparation_minutes=prepare)


def teacher(name: str, base: str, *, days: int = 2, **more: Any) -> Itinerant:
    """A teacher with mornings, licensed for adapted physical education."""
    names = ("mon", "tue", "wed", "thu", "fri")[:days]
    asked: dict[str, Any] = {
        "days": tuple(day(one, base) for one in names),
        "fields": frozenset({APE}),
    }
    return Itinerant(name, name.title(), base, **{**asked, **more})


def owed(name: str, place: str, *, minutes: int = 30, sessions: int = 1, **more: Any) -> YearService:
    """One student's service, the student named after it."""
    asked: dict[str, Any] = {"students": (f"student of {name}",), "field": APE}
    return YearService(name, place, minutes=minutes, sessions=sessions, **{**asked, **more})


def district(*services: YearService, teachers: tuple[Itinerant, ...] | None = None, **changes: Any) -> Staffing:
    """Three schools on a road, a teacher's home at each end of it."""
    drives = {one: {to: abs(LINE[one] - LINE[to]) for to in LINE if to != one} for one in LINE}
    whole = Staffing(
        teachers=teachers or (teacher("ames", "home a"), teacher("cole", "home c")),
        sites=tuple(Site(Place(one, f"School {one.upper()}"), 480, 720) for one in "abc"),
        services=services,
        drive_minutes=drives,
        bases=(Place("home a"), Place("home c")),
    )
    return replace(whole, **changes)

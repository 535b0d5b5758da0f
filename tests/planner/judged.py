"""Short ways to write an itinerary by hand, for the judge."""

from typing import Any

from schedule.planner.problem import Day, Start
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from tests.planner.builders import at

WEEK = tuple(Day(name, 480, 720) for name in ("mon", "tue", "wed", "thu", "fri"))


def session(unit: str, start: int, place: str = "a", minutes: int = 30, **more: Any) -> Item:
    """A session."""
    return Item(ItemKind.SESSION, start, start + minutes, place, unit=unit, **more)


def drive(start: int, origin: str = "a", to: str = "b", minutes: int = 15, wheel: int = 10) -> Item:
    """A drive from door to door."""
    return Item(ItemKind.DRIVE, start, start + minutes, origin, to_place=to, drive_minutes=wheel)


def item(kind: ItemKind, start: int, end: int, place: str | None = None) -> Item:
    """Anything else."""
    return Item(kind, start, end, place)


def week(*held: tuple[str, Item]) -> Itinerary:
    """Five days with these items."""
    return Itinerary(tuple(DayPlan(day.id, tuple(one for name, one in held if name == day.id)) for day in WEEK))


def all_week(minute: int = 500) -> list[Start]:
    """That minute on every day."""
    return [at(minute, day=day.id) for day in WEEK]

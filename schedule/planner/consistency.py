"""Whether the parts of a problem fit together: every id is known, every drive is given, pins are possible.

Each function raises ``ProblemError`` with the place in the problem and the remedy.
"""

from collections import Counter
from typing import TYPE_CHECKING

from schedule.planner.pins import require_a_start
from schedule.planner.requirements import require, require_minutes
from schedule.planner.times import MINUTES_PER_DAY

if TYPE_CHECKING:
    from schedule.planner.problem import Group, Problem, Service


def require_consistent(problem: "Problem") -> None:
    """Raise ``ProblemError`` at the first contradiction."""
    _check_goals(problem)
    _check_drives(problem)
    _check_days(problem)
    for service in problem.services:
        _check_starts(problem, service)
    for group in problem.groups:
        _check_starts(problem, group)
        _check_members(problem, group)
    _check_pins(problem)
    _check_pin_counts(problem)


def _check_goals(problem: "Problem") -> None:
    goals = problem.goals
    require(bool(goals), "goals", "There is no goal.", "Name at least one goal.")
    require(len(set(goals)) == len(goals), "goals", "A goal is named twice.", "Name each goal once.")
    require(
        goals[0].value == "unplaced",
        "goals",
        "The first goal is not 'unplaced'.",
        "Put 'unplaced' first: owed minutes come before all else.",
    )


def _check_drives(problem: "Problem") -> None:
    ids = [place.id for place in problem.places]
    for origin, row in problem.drive_minutes.items():
        _require_place(problem, origin, f"drive_minutes[{origin}]")
        for to in row:
            _require_place(problem, to, f"drive_minutes[{origin}][{to}]")
    for origin in ids:
        row = problem.drive_minutes.get(origin, {})
        for to in ids:
            if origin == to:
                continue
            name = f"drive_minutes[{origin}][{to}]"
            require(to in row, name, "The drive is missing.", "Give the minutes for every ordered pair.")
            require_minutes(row[to], name)


def _check_days(problem: "Problem") -> None:
    for day in problem.days:
        _require_place(problem, day.start_place, f"days[{day.id}].start_place")
        _require_place(problem, day.end_place, f"days[{day.id}].end_place")
        if day.lunch is not None:
            _require_place(problem, day.lunch.place, f"days[{day.id}].lunch")
        for block in day.blocks:
            _require_place(problem, block.place, f"days[{day.id}].blocks")


def _require_place(problem: "Problem", place_id: str | None, field_name: str) -> None:
    require(
        place_id is None or problem.has_place(place_id),
        field_name,
        f"There is no place {place_id!r}.",
        "Use the id of one of the places.",
    )


def _require_day(problem: "Problem", day_id: str, field_name: str) -> None:
    require(
        problem.has_day(day_id),
        field_name,
        f"There is no day {day_id!r}.",
        "Use the id of one of the days.",
    )


def _check_starts(problem: "Problem", unit: "Service | Group") -> None:
    name = f"{unit.id}.starts"
    for start in problem.starts_of(unit.id):
        _require_day(problem, start.day, name)
        _require_place(problem, start.place, name)
        require(
            start.at + problem.minutes_of(unit.id, start) <= MINUTES_PER_DAY,
            name,
            "A session would run past midnight.",
            "Start it earlier.",
        )


def _check_members(problem: "Problem", group: "Group") -> None:
    services = {service.id for service in problem.services}
    for member in group.members:
        require(
            member in services,
            f"{group.id}.members",
            f"There is no service {member!r}.",
            "Use the ids of services.",
        )


def _check_pins(problem: "Problem") -> None:
    for pin in problem.pins:
        name = f"pins[{pin.unit}]"
        require(problem.has_unit(pin.unit), name, "There is no such service or group.", "Remove the pin.")
        _require_day(problem, pin.day, name)
        require_a_start(problem, pin)


def _check_pin_counts(problem: "Problem") -> None:
    pinned = Counter(member for pin in problem.pins for member in problem.members(pin.unit))
    for service in problem.services:
        require(
            pinned[service.id] <= service.sessions,
            f"pins[{service.id}]",
            f"{pinned[service.id]} sessions are pinned but {service.sessions} are owed.",
            "Remove a pin.",
        )

"""Pins: the starts that each may hold.

A pin may leave out its place and space. Where that leaves starts that differ in place or length, all of them stay
open: the session is held at that day and time, and which of them is best is the planner's to find.
"""

from dataclasses import replace
from typing import TYPE_CHECKING

from schedule.planner.requirements import require
from schedule.planner.times import clock

if TYPE_CHECKING:
    from schedule.planner.problem import Pin, Problem, Start


def fitting_starts(problem: "Problem", pin: "Pin") -> "tuple[Start, ...]":
    """The starts of the pin's unit at its day and time, in its place and space as far as it names them."""
    return tuple(
        start
        for start in problem.starts_of(pin.unit)
        if (start.day, start.at) == (pin.day, pin.at)
        and pin.place in {None, start.place}
        and pin.space in {None, start.space}
    )


def pinned_start(problem: "Problem", pin: "Pin") -> "Start | None":
    """The start that the pin holds, or ``None`` if the unit has no such start."""
    return next(iter(fitting_starts(problem, pin)), None)


def pinned_starts(problem: "Problem", pin: "Pin") -> "tuple[Start, ...]":
    """The starts that the pin leaves open, one for each place and length, the space of the week in force first.

    Starts that differ in their space alone are equally good for every goal, so nothing is lost by the choice.
    """
    held = {(one.day, one.at, one.place, one.space) for one in problem.current or () if one.unit == pin.unit}
    fitting = fitting_starts(problem, pin)
    kept = [one for one in fitting if (one.day, one.at, one.place, one.space) in held]
    found: dict[tuple[str, int], Start] = {}
    for start in (*kept, *fitting):
        found.setdefault((start.place, problem.minutes_of(pin.unit, start)), start)
    return tuple(found.values())


def require_a_start(problem: "Problem", pin: "Pin") -> None:
    """Raise ``ProblemError`` unless the pin fits a start."""
    when = f"{clock(pin.at)} on {pin.day}"
    require(
        bool(fitting_starts(problem, pin)),
        f"pins[{pin.unit}]",
        f"It has no start at {when}.",
        "Pin one of its starts, or add the start.",
    )


def completed(problem: "Problem", pin: "Pin") -> "Pin":
    """The pin with its place and space filled in as far as they are the same in all that it leaves open."""
    starts = pinned_starts(problem, pin)
    if len({start.place for start in starts}) > 1:
        return pin
    return replace(pin, place=starts[0].place, space=starts[0].space if len(starts) == 1 else pin.space)

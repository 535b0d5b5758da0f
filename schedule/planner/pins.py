"""Pins: the one start that each holds.

A pin may leave out its place and space. Where that leaves starts that differ in place or length it is refused: the
plan would be proved for one of them only, and which one is the teacher's to say.
"""

from collections.abc import Sequence
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


def require_one_start(problem: "Problem", pin: "Pin") -> None:
    """Raise ``ProblemError`` unless the pin fits starts, all of one place and one length."""
    name = f"pins[{pin.unit}]"
    starts = fitting_starts(problem, pin)
    when = f"{clock(pin.at)} on {pin.day}"
    require(bool(starts), name, f"It has no start at {when}.", "Pin one of its starts, or add the start.")
    lengths = {(start.place, problem.minutes_of(pin.unit, start)) for start in starts}
    require(
        len(lengths) == 1,
        name,
        f"At {when} it could be {_listed(problem, pin, starts)}.",
        _remedy(starts),
    )


def _listed(problem: "Problem", pin: "Pin", starts: "Sequence[Start]") -> str:
    words = (
        f"{problem.minutes_of(pin.unit, start)} minutes in {start.place!r}"
        + (f" ({start.space!r})" if start.space else "")
        for start in starts
    )
    return " or ".join(dict.fromkeys(words))


def _remedy(starts: "Sequence[Start]") -> str:
    if len({start.place for start in starts}) > 1:
        return "Name the pin's place."
    if len({start.space for start in starts}) > 1:
        return "Name the pin's space."
    return "Leave all but one of these starts out."


def completed(problem: "Problem", pin: "Pin") -> "Pin":
    """The pin with its place and space filled in, the space of the week in force before any other.

    Starts that differ in their space alone are equally good for every goal, so nothing is lost by the choice.
    """
    starts = fitting_starts(problem, pin)
    held = {(one.day, one.at, one.place, one.space) for one in problem.current or () if one.unit == pin.unit}
    kept = (one for one in starts if (one.day, one.at, one.place, one.space) in held)
    start = next(kept, starts[0])
    return replace(pin, place=start.place, space=start.space)

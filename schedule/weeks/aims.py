"""What a plan puts first, usual times or little driving, and what the other choice would give: figures and words.

Pure. Both choices place what is owed and meet the contract's wishes before anything else.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from schedule.planner.problem import DRIVING_FIRST, USUAL_TIMES_FIRST, Goal
from schedule.planner.result import OtherOrder, Result, Status


class Aim(StrEnum):
    """What comes first once owed minutes are placed and the contract's wishes are met."""

    USUAL_TIMES = "usual_times"
    LEAST_DRIVING = "least_driving"


AIM_WORDS = {Aim.USUAL_TIMES: "Keep usual times", Aim.LEAST_DRIVING: "Drive least"}
AIM_GOALS = {Aim.USUAL_TIMES: USUAL_TIMES_FIRST, Aim.LEAST_DRIVING: DRIVING_FIRST}
FIRST = {Aim.USUAL_TIMES: Goal.CHANGE, Aim.LEAST_DRIVING: Goal.DRIVING}
OTHER = {Aim.USUAL_TIMES: Aim.LEAST_DRIVING, Aim.LEAST_DRIVING: Aim.USUAL_TIMES}


class Against(StrEnum):
    """What the sessions are compared with."""

    USUAL = "usual"
    IN_FORCE = "in_force"
    NOTHING = "nothing"


class OtherKnown(StrEnum):
    """How much is known of the other choice. ``FOUND``: the best that was met, a better week may exist."""

    PROVED = "proved"
    FOUND = "found"
    NOT_WORKED_OUT = "not_worked_out"
    NO_DIFFERENCE = "no_difference"


@dataclass(frozen=True, slots=True)
class AimedWeek:
    """What a planned week gives by its choice, and by the other one.

    ``kept`` of ``sessions`` stay where ``against`` says that they were: at their usual day and time, or as in the
    week in force; each student of a small group counts. ``proved``: no week is better in what comes first by the
    choice. The other choice's figures are ``None`` unless they were
    found by planning (``other_known``).
    """

    monday: dt.date
    aim: str
    aim_label: str
    against: str
    kept: int
    sessions: int
    drive_minutes: int
    proved: bool
    other_aim: str
    other_label: str
    other_known: str
    other_kept: int | None
    other_drive_minutes: int | None
    sentences: tuple[str, ...]


def _other_known(other: OtherOrder | None, sessions: int) -> OtherKnown:
    """What is known of the other choice."""
    if other is not None:
        return OtherKnown.PROVED if other.proved else OtherKnown.FOUND
    return OtherKnown.NOT_WORKED_OUT if sessions else OtherKnown.NO_DIFFERENCE


def aims_json(result: Result, aim: Aim, *, in_force: bool) -> dict[str, Any]:
    """The figures of both choices as a run keeps them; raises ``ValueError`` for a result without a plan."""
    if result.figures is None:
        raise ValueError("A result without a plan has no figures.")
    sessions, other = result.current_sessions, result.other
    against = (Against.IN_FORCE if in_force else Against.USUAL) if sessions else Against.NOTHING
    known = _other_known(other, sessions)
    return {
        "aim": aim.value,
        "against": against.value,
        "sessions": sessions,
        "kept": sessions - result.figures.change,
        "drive_minutes": result.figures.driving,
        "proved": any(one.goal is FIRST[aim] and one.status is Status.OPTIMAL for one in result.stages),
        "other_known": known.value,
        "other_kept": sessions - other.figures.change if other else None,
        "other_drive_minutes": other.figures.driving if other else None,
    }


def aimed_week(monday: dt.date, kept: Mapping[str, Any]) -> AimedWeek:
    """What was kept, with its words."""
    aim = Aim(kept["aim"])
    values = {key: value for key, value in kept.items() if key != "aim"}
    return AimedWeek(
        monday=monday,
        aim=aim.value,
        aim_label=AIM_WORDS[aim],
        other_aim=OTHER[aim].value,
        other_label=AIM_WORDS[OTHER[aim]],
        sentences=(_mine(kept), _other(AIM_WORDS[OTHER[aim]], kept)),
        **values,
    )


# ---- words -----------------------------------------------------------------------------------------------


STAY = {
    Against.USUAL: ("keeps its usual day and time", "keep their usual day and time"),
    Against.IN_FORCE: ("stays as in the week in force", "stay as in the week in force"),
}


def _mine(kept: Mapping[str, Any]) -> str:
    label = AIM_WORDS[Aim(kept["aim"])]
    against = Against(kept["against"])
    drive = f"{_minutes(kept['drive_minutes'])} at the wheel"
    better = "" if kept["proved"] else " A better week may exist: the search used all of its time."
    if against is Against.NOTHING:
        return f"Planned by “{label}”: {drive}. There is no earlier week whose times could be kept.{better}"
    one, more = STAY[against]
    sessions = "session" if kept["sessions"] == 1 else "sessions"
    verb = one if kept["kept"] == 1 else more
    return f"Planned by “{label}”: {kept['kept']} of {kept['sessions']} {sessions} {verb}, {drive}.{better}"


def _other(label: str, kept: Mapping[str, Any]) -> str:
    known = OtherKnown(kept["other_known"])
    if known is OtherKnown.NO_DIFFERENCE:
        return f"“{label}” would plan the same week."
    if known is OtherKnown.NOT_WORKED_OUT:
        return (
            f"What “{label}” would give was not worked out: the search for this week took the time. Plan it again "
            "with more time to see it."
        )
    figures = f"keep {kept['other_kept']} and take {_minutes(kept['other_drive_minutes'])} at the wheel"
    difference = _difference(kept["other_drive_minutes"] - kept["drive_minutes"])
    if known is OtherKnown.FOUND:
        return (
            f"“{label}” would {figures}, going by the best week found in the time{difference}. It may "
            "find a better one."
        )
    return f"“{label}” would {figures}{difference}."


def _difference(minutes: int) -> str:
    if not minutes:
        return ", the same"
    return f", {abs(minutes)} {'fewer' if minutes < 0 else 'more'}"


def _minutes(count: int) -> str:
    return "1 minute" if count == 1 else f"{count} minutes"

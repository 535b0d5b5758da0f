"""What a progress report is made of, in figures. Pure; texts are as the district and the plan word them."""

import datetime as dt
import statistics
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

LEVEL_POINTS = 3
"""Of so many last data points the one in the middle is the present level (common practice, no source)."""


class Direction(StrEnum):
    """Where a goal's data went in the dates of a report."""

    TOWARD = "toward"
    AWAY = "away"
    NEITHER = "neither"
    TOO_FEW = "too_few"


@dataclass(frozen=True, slots=True)
class MinutesFacts:
    """One service's minutes in whole periods from the report's first day on."""

    service: str
    owed: int
    delivered: int
    made_up: int
    missed: int
    still_open: int


@dataclass(frozen=True, slots=True)
class AttendanceFacts:
    """Planned sessions that are logged, those of them in which minutes were given, and why others were missed."""

    planned: int = 0
    given: int = 0
    reasons: tuple[tuple[str, int], ...] = ()
    unlogged: int = 0


@dataclass(frozen=True, slots=True)
class GoalFacts:
    """One goal as written, its figures in the goal's own unit, and what its data say in sentences.

    `level`: the present one. Without a `measure` nobody has said how the goal is measured: it has no figures.
    """

    goal_id: int
    text: str
    is_objective: bool
    by: dt.date
    measure: str = ""
    trials: int | None = None
    unit: str = ""
    levels: tuple[str, ...] = ()
    baseline: float | None = None
    criterion: float | None = None
    level: float | None = None
    points: int = 0
    last_seen: dt.date | None = None
    direction: Direction = Direction.TOO_FEW
    is_reached: bool = False
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """All that a report says in figures."""

    full_name: str
    first_name: str
    school: str
    grade: str
    first: dt.date
    last: dt.date
    counted_from: dt.date
    minutes: tuple[MinutesFacts, ...]
    attendance: AttendanceFacts
    goals: tuple[GoalFacts, ...]

    @property
    def sums(self) -> MinutesFacts:
        """All services together."""
        names = ("owed", "delivered", "made_up", "missed", "still_open")
        return MinutesFacts("", *(sum(getattr(one, name) for one in self.minutes) for name in names))


def present_level(seen: Iterable[tuple[dt.date, float]]) -> float | None:
    """Of the last three data points, by day, the one in the middle; of two the lower one; None without any."""
    last = [value for _, value in sorted(seen, key=lambda one: one[0])[-LEVEL_POINTS:]]
    return statistics.median_low(last) if last else None


def reasons_counted(words: Iterable[str]) -> tuple[tuple[str, int], ...]:
    """Each reason once with how often, the most frequent first."""
    found: dict[str, int] = {}
    for one in words:
        found[one] = found.get(one, 0) + 1
    return tuple(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))


def facts_from_json(plain: dict[str, Any]) -> ReportFacts:
    """Facts from what was kept when a report was signed (``dataclasses.asdict`` as JSON)."""
    reasons = tuple((words, count) for words, count in plain["attendance"]["reasons"])
    read: dict[str, Any] = {
        **{name: dt.date.fromisoformat(plain[name]) for name in ("first", "last", "counted_from")},
        "minutes": tuple(MinutesFacts(**one) for one in plain["minutes"]),
        "attendance": AttendanceFacts(**{**plain["attendance"], "reasons": reasons}),
        "goals": tuple(_goal(one) for one in plain["goals"]),
    }
    return ReportFacts(**{**plain, **read})


def _goal(plain: dict[str, Any]) -> GoalFacts:
    last = plain["last_seen"]
    return GoalFacts(
        **{
            **plain,
            "last_seen": dt.date.fromisoformat(last) if last else None,
            "by": dt.date.fromisoformat(plain["by"]),
            "direction": Direction(plain["direction"]),
            "levels": tuple(plain["levels"]),
            "said": tuple(plain["said"]),
        }
    )

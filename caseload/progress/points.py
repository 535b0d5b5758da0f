"""How the last data of a goal lie to its aim line, by the rule that a district chose, and to its criterion. Pure.

Nothing here judges a child: it says where points lie, and what is commonly asked then.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from caseload.progress.measures import Wanted
from caseload.progress.trend import Seen


class DecisionRule(StrEnum):
    """Which of the last data are looked at."""

    THREE_DAYS = "three_days"
    FOUR_POINTS = "four_points"


DECISION_WORDS = {
    DecisionRule.THREE_DAYS: "Three days in a row",
    DecisionRule.FOUR_POINTS: "The last four points",
}
DECISION_SOURCES = {
    DecisionRule.THREE_DAYS: "White and Haring, Exceptional Teaching, 1980",
    DecisionRule.FOUR_POINTS: "common practice",
}
"""Where each rule comes from; the book is cited from memory."""
LOOKED_AT = {DecisionRule.THREE_DAYS: 3, DecisionRule.FOUR_POINTS: 4}

DAYS_WITHOUT_DATA = 14
"""Two weeks: common practice, no source."""


class Lie(StrEnum):
    """Where all of the last points lie."""

    BETTER = "better"
    WORSE = "worse"
    AROUND = "around"
    TOO_FEW = "too_few"


@dataclass(frozen=True, slots=True)
class Decision:
    """Where the last points lie to the aim line; of too few, how many more are wanted."""

    lie: Lie
    wanted: int = 0


@dataclass(frozen=True, slots=True)
class AimLine:
    """From the baseline on a goal's first day to its criterion on its last."""

    start: dt.date
    baseline: float
    end: dt.date
    criterion: float

    def on(self, day: dt.date) -> float:
        """Its value on a date; flat before its start and after its end."""
        length = (self.end - self.start).days
        part = min(max((day - self.start).days / length, 0), 1) if length else 1
        return self.baseline + part * (self.criterion - self.baseline)


def daily(seen: Sequence[Seen]) -> list[Seen]:
    """One point a day, the mean of the day's, in the order of days."""
    ordered = sorted(seen, key=lambda one: one.day)
    days = [(day, [one.value for one in each]) for day, each in groupby(ordered, key=lambda one: one.day)]
    return [Seen(day, sum(values) / len(values)) for day, values in days]


def decision_of(rule: DecisionRule, seen: Sequence[Seen], aim: AimLine, wanted: Wanted) -> Decision:
    """By a rule, where the last points lie: three days with data in a row, or four points.

    Only points from the goal's first day on: those before belong to the baseline. On the line is neither better
    nor worse.
    """
    after = sorted((one for one in seen if one.day >= aim.start), key=lambda one: one.day)
    points = daily(after) if rule is DecisionRule.THREE_DAYS else after
    needed = LOOKED_AT[rule]
    if len(points) < needed:
        return Decision(Lie.TOO_FEW, needed - len(points))
    return Decision(_lie_of([one.value - aim.on(one.day) for one in points[-needed:]], wanted))


def _lie_of(over: Sequence[float], wanted: Wanted) -> Lie:
    """By how much each point lies above the line."""
    beyond, short = (all(one > 0 for one in over), all(one < 0 for one in over))
    if wanted is Wanted.LESS:
        beyond, short = short, beyond
    if beyond:
        return Lie.BETTER
    return Lie.WORSE if short else Lie.AROUND


@dataclass(frozen=True, slots=True)
class Criterion:
    """What a goal asks for, and in how many sessions: `sessions` in a row, or among the last `sessions_of`."""

    value: float
    wanted: Wanted
    sessions: int = 1
    sessions_of: int | None = None

    def meets(self, value: float) -> bool:
        """Whether one session's figure is at the criterion or beyond."""
        return value >= self.value if self.wanted is Wanted.MORE else value <= self.value


def met_on(seen: Sequence[Seen], criterion: Criterion) -> dt.date | None:
    """The first day on which so many of the sessions up to it were at the criterion; None: not yet.

    A day with data is a session; of several points in one day, their mean counts.
    """
    days = daily(seen)
    width = criterion.sessions_of or criterion.sessions
    for end in range(criterion.sessions, len(days) + 1):
        among = days[max(end - width, 0) : end]
        if (
            criterion.meets(among[-1].value)
            and sum(criterion.meets(one.value) for one in among) >= criterion.sessions
        ):
            return among[-1].day
    return None

"""A goal's chart, drawn on the server: where each thing stands across the page and down it. Pure.

Across the page goes time, upward the goal's own unit, as in charts of single-case designs: data of one phase are
joined, a phase change is a broken line across, what was missed is marked at the foot. `across` is in percent, so
that the drawing stretches with the page and its letters don't; `down` is in pixels.
"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from caseload.progress.points import AimLine
from caseload.progress.trend import Seen, Trend, phases_of

LEFT, RIGHT = 13.0, 97.5
TOP, BOTTOM, HEIGHT = 14.0, 226.0, 268
AHEAD_DAYS = 28
MOST_TICKS = 5


@dataclass(frozen=True, slots=True)
class ChartSpot:
    """A point of the drawing."""

    across: float
    down: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line of the drawing."""

    start: ChartSpot
    end: ChartSpot


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis, with its words."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class GoalChart:
    """Everything of the drawing; what a goal doesn't have is None or empty."""

    points: tuple[ChartSpot, ...]
    joins: tuple[Stroke, ...]
    aim: Stroke | None
    baseline: Stroke | None
    criterion: float | None
    trend: Stroke | None
    phases: tuple[Tick, ...]
    missed: tuple[float, ...]
    days: tuple[Tick, ...]
    figures: tuple[Tick, ...]
    left: float = LEFT
    right: float = RIGHT
    top: float = TOP
    bottom: float = BOTTOM
    height: int = HEIGHT


@dataclass(frozen=True, slots=True)
class ChartFacts:
    """What is drawn. `least` and `most`: the measure's own ends, where it has them."""

    start: dt.date
    end: dt.date
    today: dt.date
    seen: Sequence[Seen] = ()
    aim: AimLine | None = None
    baseline: float | None = None
    criterion: float | None = None
    trend: Trend | None = None
    phases: Sequence[dt.date] = ()
    missed: Sequence[dt.date] = ()
    least: float = 0
    most: float | None = None


@dataclass(frozen=True, slots=True)
class _Frame:
    """Days and figures between which the drawing lies."""

    first: dt.date
    last: dt.date
    least: float
    most: float

    def across(self, day: dt.date) -> float:
        part = (day - self.first).days / max((self.last - self.first).days, 1)
        return round(LEFT + part * (RIGHT - LEFT), 2)

    def down(self, value: float) -> float:
        part = (value - self.least) / max(self.most - self.least, 1e-9)
        return round(BOTTOM - min(max(part, 0), 1) * (BOTTOM - TOP), 1)

    def spot(self, day: dt.date, value: float) -> ChartSpot:
        return ChartSpot(self.across(day), self.down(value))

    def holds(self, day: dt.date) -> bool:
        return self.first <= day <= self.last


def goal_chart(facts: ChartFacts) -> GoalChart:
    """The drawing of a goal, from its first day or data to four weeks after today or its last day."""
    frame = _frame_of(facts)
    ordered = sorted(facts.seen, key=lambda one: one.day)
    return GoalChart(
        points=tuple(frame.spot(one.day, one.value) for one in ordered),
        joins=_joins(frame, ordered, facts.phases),
        aim=_aim_stroke(frame, facts.aim),
        baseline=_baseline_stroke(frame, facts),
        criterion=None if facts.criterion is None else frame.down(facts.criterion),
        trend=_trend_stroke(frame, facts.trend),
        phases=_phase_ticks(frame, facts.phases),
        missed=tuple(frame.across(day) for day in facts.missed if frame.holds(day)),
        days=tuple(_month_ticks(frame)),
        figures=tuple(Tick(frame.down(value), f"{value:g}") for value in figure_ticks(frame.least, frame.most)),
    )


def _joins(frame: _Frame, ordered: Sequence[Seen], phases: Sequence[dt.date]) -> tuple[Stroke, ...]:
    """Between points that follow each other in one phase."""
    pairs = [pair for phase in phases_of(ordered, phases) for pair in pairwise(phase)]
    return tuple(Stroke(frame.spot(a.day, a.value), frame.spot(b.day, b.value)) for a, b in pairs)


def _phase_ticks(frame: _Frame, phases: Sequence[dt.date]) -> tuple[Tick, ...]:
    numbered = enumerate(sorted(phases), 1)
    return tuple(Tick(frame.across(day), str(number)) for number, day in numbered if frame.holds(day))


def _frame_of(facts: ChartFacts) -> _Frame:
    days = [one.day for one in facts.seen]
    first = min([facts.start, *days])
    shown = max([facts.today, *days]) + dt.timedelta(days=AHEAD_DAYS)
    last = max([min(shown, facts.end), *days, first + dt.timedelta(days=AHEAD_DAYS)])
    if facts.most is not None:
        return _Frame(first, last, facts.least, facts.most)
    known = [one for one in (facts.baseline, facts.criterion) if one is not None]
    values = [*known, *(one.value for one in facts.seen), facts.least + 1]
    ticks = figure_ticks(facts.least, max(values))
    return _Frame(first, last, facts.least, max(*values, ticks[-1]))


def figure_ticks(least: float, most: float) -> list[float]:
    """At most six round figures from the least to the first that is at the most or beyond."""
    rough = (most - least) / MOST_TICKS
    size = 10 ** math.floor(math.log10(rough)) if rough > 0 else 1.0
    step = next(size * one for one in (1, 2, 5, 10) if size * one * MOST_TICKS >= most - least - 1e-9)
    if step < 1:
        step = 1.0 if most - least >= 1 else step
    count = math.ceil((most - least) / step - 1e-9)
    return [round(least + step * one, 6) for one in range(count + 1)]


def _aim_stroke(frame: _Frame, aim: AimLine | None) -> Stroke | None:
    if aim is None:
        return None
    first, last = max(aim.start, frame.first), min(aim.end, frame.last)
    return Stroke(frame.spot(first, aim.on(first)), frame.spot(last, aim.on(last)))


def _baseline_stroke(frame: _Frame, facts: ChartFacts) -> Stroke | None:
    """Across the first part of the drawing, where the aim line begins."""
    if facts.baseline is None:
        return None
    begin = frame.spot(frame.first, facts.baseline)
    return Stroke(begin, ChartSpot(round(LEFT + (RIGHT - LEFT) / 6, 2), begin.down))


def _trend_stroke(frame: _Frame, trend: Trend | None) -> Stroke | None:
    if trend is None:
        return None
    return Stroke(frame.spot(trend.first, trend.on(trend.first)), frame.spot(trend.last, trend.on(trend.last)))


def _month_ticks(frame: _Frame) -> list[Tick]:
    """The first of each month, every other one where there are many."""
    month = frame.first.replace(day=1)
    found = []
    while month <= frame.last:
        if month >= frame.first:
            found.append(Tick(frame.across(month), f"{month:%b}"))
        month = (month + dt.timedelta(days=31)).replace(day=1)
    return found[:: math.ceil(len(found) / 6)] if found else []

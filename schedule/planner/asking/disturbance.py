"""After a change: how much driving each session that stays where it is costs, so that a person picks the point.

Between the week that moves least and the week that drives least lie others. Those on the way from one to the other
are tried first (``relink``). Then they are bettered and proved from the driving end by the epsilon-constraint
method (Haimes, Lasdon and Wismer 1971): at most so many sessions moved, least driving; then, at that driving,
fewest moved; then fewer still. Every point is a plan that the judge has passed.
"""

import random
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations

from schedule.planner.asking.replan import KnownDay, replan
from schedule.planner.check import check
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import GoalFigures, Itinerary, Result, Status
from schedule.planner.solve import JudgeError, solve
from schedule.planner.week.layout import build_model
from schedule.planner.week.relink import Archive
from schedule.planner.week.routes import plan_of
from schedule.planner.week.takeover import state_of
from schedule.planner.week.work import UNITS_A_SECOND, Work

MOST_POINTS = 8
MOST_SECONDS = 90.0
MOST_EFFORT = 30.0
"""Seconds of work: what most weeks need is less, and a busy machine has as much within the other."""

LEAST_SECONDS = 0.1
BOTH_ENDS = 0.5
RELINKING = 0.15
"""Of the time allowed, the most that the two ends take, and the search for weeks on the way between them."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One week on the curve. ``moved``: sessions of the week in force that it doesn't keep; ``driving`` in minutes.

    ``proved``: no week that moves as few drives less, and none that drives as little moves fewer.
    """

    moved: int
    driving: int
    plan: Itinerary
    figures: GoalFigures
    proved: bool


@dataclass(frozen=True, slots=True)
class Curve:
    """Points from fewest moved to least driving; each drives less than the one before and moves more.

    ``complete``: no point lies between two of them, proved. ``message`` says so where there is no curve.
    """

    points: tuple[CurvePoint, ...]
    complete: bool
    message: str = ""
    work: float = 0.0
    """Seconds of work that it took (``week.work``)."""

    @property
    def price_of_staying(self) -> int:
        """Minutes of driving that moving as little as possible costs against driving least."""
        return self.points[0].driving - self.points[-1].driving if self.points else 0


def curve_of(
    problem: Problem,
    *,
    seed: int = 0,
    most_points: int = MOST_POINTS,
    time_limit: float = MOST_SECONDS,
    effort: float = MOST_EFFORT,
    workers: int = 2,
    progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Curve:
    """Driving against sessions moved. Goals that stand before both (owed minutes, wishes) are never given up.

    ``effort``: seconds of work, counted in steps (``week.work``), which decide how far each part goes, so that the
    same seed, effort and workers give the same curve on a busy machine and on an idle one. ``time_limit`` only ends
    it early. ``progress(done, of)`` is called as it goes. Raises ``JudgeError`` if the judge refuses a point.
    """
    search = _Search(problem, _before(problem), seed, workers, effort, time_limit, monotonic, stop, progress)
    search.began = monotonic()
    ends = search.ends()
    if isinstance(ends, str):
        return Curve((), False, ends, search.work.seconds)
    search.relink()
    complete = search.prove_between(*ends, most_points - 2)
    points = _front(search.points, search.before)
    chosen = _spread(points, most_points)
    proved = complete and chosen == points and all(point.proved for point in points)
    return Curve(chosen, proved, work=search.work.seconds)


def _before(problem: Problem) -> tuple[Goal, ...]:
    """The goals that stand before driving and change in the problem."""
    first = min(problem.goals.index(goal) for goal in (Goal.DRIVING, Goal.CHANGE) if goal in problem.goals)
    return problem.goals[:first]


def _point_of(result: Result) -> CurvePoint:
    if result.plan is None or result.figures is None:
        raise ValueError("A result without a plan is no point.")
    figures = result.figures
    return CurvePoint(figures.change, figures.driving, result.plan, figures, result.status is Status.OPTIMAL)


def _front(points: Iterable[CurvePoint], before: Sequence[Goal]) -> tuple[CurvePoint, ...]:
    """Of the points with the best values of the goals before, those that no other beats; by sessions moved."""
    points = list(points)
    least = min(tuple(point.figures.of(goal) for goal in before) for point in points)
    found: list[CurvePoint] = []
    for point in sorted(points, key=lambda one: (one.moved, one.driving, not one.proved)):
        if tuple(point.figures.of(goal) for goal in before) != least:
            continue
        if not found or point.driving < found[-1].driving:
            found.append(point)
    return tuple(found)


def _spread(points: Sequence[CurvePoint], most: int) -> tuple[CurvePoint, ...]:
    """At most so many points: those left out are the ones without which the steps of the curve change least."""
    kept = list(points)
    while len(kept) > max(2, most):
        loss = [
            ((b.driving - c.driving) * (b.moved - a.moved), number)
            for number, (a, b, c) in enumerate(zip(kept, kept[1:], kept[2:], strict=False), 1)
        ]
        kept.pop(min(loss)[1])
    return tuple(kept)


@dataclass(slots=True)
class _Search:
    """The points of a curve: its ends, what lies on the way from one to the other, then proof where time allows."""

    problem: Problem
    before: tuple[Goal, ...]
    seed: int
    workers: int
    effort: float
    time_limit: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None
    progress: Callable[[int, int], None] | None
    began: float = 0.0
    points: list[CurvePoint] = field(default_factory=list)
    known_days: tuple[KnownDay, ...] = ()
    work: Work = field(default_factory=Work)

    def remaining(self) -> float:
        """Seconds left of work or on the clock, whichever is less; 0 once a person has stopped it."""
        return min(self.clock_left(), max(0.0, self.effort - self.work.seconds))

    def clock_left(self) -> float:
        """Seconds left on the clock; 0 once a person has stopped it."""
        if self.stop is not None and self.stop():
            return 0.0
        return max(0.0, self.time_limit - (self.monotonic() - self.began))

    def said(self) -> None:
        """Tell how far the search is."""
        if self.progress is not None:
            self.progress(int(self.monotonic() - self.began), max(1, int(self.time_limit)))

    # ---- the ends ----------------------------------------------------------------------------------------

    def ends(self) -> tuple[CurvePoint, CurvePoint] | str:
        """The week that moves fewest and the week that drives least, or why there is none."""
        staying = self._end(Goal.CHANGE, Goal.DRIVING)
        driving = self._end(Goal.DRIVING, Goal.CHANGE)
        if staying.plan is None or driving.plan is None:
            return staying.message or driving.message or "The time was too short for any week."
        ends = _point_of(staying), _point_of(driving)
        self.points += ends
        self.said()
        return ends

    def _end(self, *goals: Goal) -> Result:
        asked = replace(self.problem, goals=(*self.before, *goals))
        found = solve(
            asked,
            seed=self.seed,
            effort=max(LEAST_SECONDS, min(BOTH_ENDS / 2 * self.effort, self.effort - self.work.seconds)),
            time_limit=max(LEAST_SECONDS, min(BOTH_ENDS / 2 * self.time_limit, self.clock_left())),
            workers=self.workers,
            stop=self.stop,
            monotonic=self.monotonic,
        )
        self.work.add(int(found.work * UNITS_A_SECOND))
        return found

    # ---- on the way --------------------------------------------------------------------------------------

    def relink(self) -> None:
        """Weeks on the way from each end to the other, one session after the other."""
        model = build_model(replace(self.problem, goals=(*self.before, Goal.DRIVING, Goal.CHANGE)))
        model.work = self.work
        least = min(self._given(point) for point in self.points)
        archive = Archive(self.before, least)
        until, enough = self.monotonic() + RELINKING * self.time_limit, self.work.seconds + RELINKING * self.effort

        def halted() -> bool:
            return self.remaining() <= 0 or self.work.seconds > enough or self.monotonic() > until

        weeks = [state_of(model, point.plan) for point in self.points]
        ends = [week for week in weeks if week is not None]
        for origin, target in permutations(ends, 2):
            archive.walk(origin, target, halted)
        archive.search(random.Random(self.seed), halted)  # noqa: S311 - a search needs no secret
        self.points += [self._judged(plan_of(model, list(week.routes)), proved=False) for week in archive.front()]
        self.said()

    def _given(self, point: CurvePoint) -> tuple[int, ...]:
        return tuple(point.figures.of(goal) for goal in self.before)

    # ---- proof -------------------------------------------------------------------------------------------

    def prove_between(self, staying: CurvePoint, driving: CurvePoint, most: int) -> bool:
        """Points from the driving end down, each the least driving for its moves; whether none was skipped."""
        if self._given(staying) != self._given(driving):
            return False
        complete, at, found = True, driving, 0
        while at.moved - 1 > staying.moved:
            if found >= most or self.remaining() <= 0:
                return False
            step = max(1, (at.moved - staying.moved) // (most - found + 1))
            complete = complete and step == 1
            point = self._capped(staying, at.moved - step, self.remaining() / (most - found))
            complete = complete and point.proved
            self.points.append(point)
            found += 1
            self.said()
            if point.driving >= staying.driving:
                break
            at = point
        return complete

    def _capped(self, staying: CurvePoint, cap: int, longest: float) -> CurvePoint:
        """Least driving with at most ``cap`` sessions moved, then fewest moved at that driving."""
        fitting = [one for one in self.points if one.moved <= cap and self._given(one) == self._given(staying)]
        start = min(fitting, key=lambda one: (one.driving, one.moved))
        enough = self.work.seconds + longest
        found = replan(
            self.problem,
            start.plan,
            (Goal.DRIVING, Goal.CHANGE),
            remaining=lambda: min(self.remaining(), max(0.0, enough - self.work.seconds)),
            work=self.work,
            clock_left=self.clock_left,
            held={**{goal: staying.figures.of(goal) for goal in self.before}, Goal.CHANGE: cap},
            known_days=self.known_days,
            seed=self.seed,
            workers=self.workers,
        )
        if found is None:
            return start
        self.known_days = found.known_days
        return self._judged(found.plan, proved=found.proved)

    def _judged(self, plan: Itinerary, *, proved: bool) -> CurvePoint:
        verdict = check(self.problem, plan)
        if not verdict.holds:
            raise JudgeError("; ".join(violation.text for violation in verdict.violations))
        return CurvePoint(verdict.figures.change, verdict.figures.driving, plan, verdict.figures, proved)

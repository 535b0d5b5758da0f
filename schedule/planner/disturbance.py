"""After a change: how much driving each session that stays where it is costs, so that a person picks the point.

Between the week that moves least and the week that drives least lie others. They are found from the driving end by
the epsilon-constraint method (Haimes, Lasdon and Wismer 1971): at most so many sessions moved, least driving; then,
at that driving, fewest moved; then fewer still. Every point is a plan that the judge has passed.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from schedule.planner.check import check
from schedule.planner.exact import Exact
from schedule.planner.model import Model, build_model
from schedule.planner.objective import figures_of
from schedule.planner.problem import Goal, Problem, Session
from schedule.planner.result import Figures, Plan, Result, Status
from schedule.planner.routes import Route, plan_of
from schedule.planner.solve import JudgeError, floor_of, solve
from schedule.planner.takeover import state_of

MOST_POINTS = 8
MOST_SECONDS = 60.0
BOTH_ENDS = 0.6
"""Of the time allowed, the most that the two ends take."""


@dataclass(frozen=True, slots=True)
class Point:
    """One week on the curve. ``moved``: sessions of the week in force that it doesn't keep; ``driving`` in minutes.

    ``proved``: no week that moves as few drives less, and none that drives as little moves fewer.
    """

    moved: int
    driving: int
    plan: Plan
    figures: Figures
    proved: bool


@dataclass(frozen=True, slots=True)
class Curve:
    """Points from fewest moved to least driving; each drives less than the one before and moves more.

    ``complete``: no point lies between two of them, proved. ``message`` says so where there is no curve.
    """

    points: tuple[Point, ...]
    complete: bool
    message: str = ""

    @property
    def price_of_staying(self) -> int:
        """Minutes of driving that moving as little as possible costs against driving least."""
        return self.points[0].driving - self.points[-1].driving if self.points else 0


def moved_sessions(problem: Problem, plan: Plan) -> tuple[Session, ...]:
    """The sessions of the week in force that a plan doesn't hold at the same day, time and place."""
    now = {(member, one.day, one.at, one.place) for one in plan.sessions for member in problem.members(one.unit)}
    return tuple(
        one
        for one in problem.current or ()
        if problem.has_unit(one.unit)
        and any((member, one.day, one.at, one.place) not in now for member in problem.members(one.unit))
    )


def curve_of(
    problem: Problem,
    *,
    seed: int = 0,
    most_points: int = MOST_POINTS,
    time_limit: float = MOST_SECONDS,
    workers: int = 2,
    progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Curve:
    """Driving against sessions moved. Goals that stand before both (owed minutes, wishes) are never given up.

    ``progress(points, most)`` is called at each point. Raises ``JudgeError`` if the judge refuses a point.
    """
    until = monotonic() + time_limit
    before = _before(problem)

    def one_end(*goals: Goal) -> Result:
        seconds = max(0.1, min(BOTH_ENDS / 2 * time_limit, until - monotonic()))
        asked = replace(problem, goals=(*before, *goals))
        return solve(asked, seed=seed, time_limit=seconds, workers=workers, stop=stop)

    staying, driving = one_end(Goal.CHANGE, Goal.DRIVING), one_end(Goal.DRIVING, Goal.CHANGE)
    if staying.plan is None or driving.plan is None:
        return Curve((), False, staying.message or driving.message)
    ends = (_point_of(staying), _point_of(driving))
    search = _Search(problem, before, workers, until, monotonic, stop)
    between, complete = search.between(*ends, most_points - 2, progress)
    points = _front([*ends, *between], before)
    return Curve(points, complete and all(point.proved for point in points))


def _before(problem: Problem) -> tuple[Goal, ...]:
    """The goals that stand before driving and change in the problem."""
    first = min(problem.goals.index(goal) for goal in (Goal.DRIVING, Goal.CHANGE) if goal in problem.goals)
    return problem.goals[:first]


def _point_of(result: Result) -> Point:
    if result.plan is None or result.figures is None:
        raise ValueError("A result without a plan is no point.")
    figures = result.figures
    return Point(figures.change, figures.driving, result.plan, figures, result.status is Status.OPTIMAL)


def _front(points: Sequence[Point], before: Sequence[Goal]) -> tuple[Point, ...]:
    """Of the points with the best values of the goals before, those that no other beats; by sessions moved."""
    least = min(tuple(point.figures.of(goal) for goal in before) for point in points)
    found: list[Point] = []
    for point in sorted(points, key=lambda one: (one.moved, one.driving, not one.proved)):
        if tuple(point.figures.of(goal) for goal in before) != least:
            continue
        if not found or point.driving < found[-1].driving:
            found.append(point)
    return tuple(found)


@dataclass(slots=True)
class _Search:
    """Points between two ends."""

    problem: Problem
    before: tuple[Goal, ...]
    workers: int
    until: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None

    def remaining(self) -> float:
        """Seconds left; 0 once a person has stopped it."""
        if self.stop is not None and self.stop():
            return 0.0
        return max(0.0, self.until - self.monotonic())

    def between(
        self, staying: Point, driving: Point, most: int, progress: Callable[[int, int], None] | None
    ) -> tuple[list[Point], bool]:
        """Points from the driving end down, and whether none was skipped."""
        model = build_model(self.problem)
        state = state_of(model, staying.plan)
        if state is None or any(staying.figures.of(goal) != driving.figures.of(goal) for goal in self.before):
            return [], False
        found: list[Point] = []
        complete, at = True, driving
        while at.moved - 1 > staying.moved:
            if len(found) >= most or self.remaining() <= 0:
                return found, False
            step = max(1, (at.moved - staying.moved) // (most - len(found) + 1))
            complete = complete and step == 1
            point = self._capped(model, list(state.routes), at.moved - step)
            complete = complete and point.proved
            if point.driving >= staying.driving:
                break
            found.append(point)
            at = point
            if progress is not None:
                progress(len(found), most)
        return found, complete

    def _capped(self, model: Model, routes: list[Route], cap: int) -> Point:
        """Least driving with at most ``cap`` sessions moved, then fewest moved at that driving."""
        best = list(routes)
        exact = Exact(model, self.workers, self.remaining, lambda _: None, lambda _: None)
        exact.learn(dict.fromkeys(routes))
        figures = figures_of(model, routes)
        held = {goal: figures.of(goal) for goal in self.before}
        fewest = exact.prove(Goal.DRIVING, {**held, Goal.CHANGE: cap}, best, floor_of(model, Goal.DRIVING))
        held[Goal.DRIVING] = fewest.value
        least = exact.prove(Goal.CHANGE, held, fewest.routes, floor_of(model, Goal.CHANGE))
        return self._judged(model, least.routes, proved=fewest.closed and least.closed)

    def _judged(self, model: Model, routes: list[Route], *, proved: bool) -> Point:
        plan = plan_of(model, routes)
        verdict = check(self.problem, plan)
        if not verdict.holds:
            raise JudgeError("; ".join(violation.text for violation in verdict.violations))
        return Point(verdict.figures.change, verdict.figures.driving, plan, verdict.figures, proved)

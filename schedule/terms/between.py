"""A week between the one that moves fewest sessions and the one that drives least: most saved for what moves. Pure.

Where both ends lie far apart, a week on the way from one to the other can have most of the driving saved for a few
moves. Of the points known (``curve_of``) the one is taken that, measured by the whole distance between the ends in
moves and in minutes, lies nearest to having both.
"""

import time
from collections.abc import Callable, Sequence

from schedule.planner.asking.disturbance import Curve, CurvePoint, curve_of
from schedule.planner.problem import Problem
from schedule.planner.result import Ended, Result, Status


def week_between(
    problem: Problem,
    *,
    seed: int,
    effort: float,
    time_limit: float,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Result:
    """The week in between as a result without stages; one of the ends where nothing lies between them.

    Optimal means: none that moves as few drives less, and none that drives as little moves fewer. ``effort`` in
    seconds of work, ``time_limit`` in seconds of the clock.
    """
    curve = curve_of(problem, seed=seed, effort=effort, time_limit=time_limit, stop=stop, monotonic=monotonic)
    if not curve.points:
        return Result(Status.UNKNOWN, None, None, (), ended=Ended.EFFORT, message=curve.message, work=curve.work)
    chosen = _bend(curve.points)
    return Result(
        Status.OPTIMAL if chosen.proved else Status.FEASIBLE,
        chosen.plan,
        chosen.figures,
        (),
        ended=_ended(curve, stop),
        work=curve.work,
    )


def _ended(curve: Curve, stop: Callable[[], bool] | None) -> Ended:
    if curve.complete:
        return Ended.PROOF
    return Ended.PERSON if stop is not None and stop() else Ended.EFFORT


def _bend(points: Sequence[CurvePoint]) -> CurvePoint:
    """The point at which least of both distances together is left; of equal ones that which moves fewer."""
    first, last = points[0], points[-1]
    moves, driving = max(1, last.moved - first.moved), max(1, first.driving - last.driving)

    def left(one: CurvePoint) -> tuple[int, int]:
        return (one.moved - first.moved) * driving + (one.driving - last.driving) * moves, one.moved

    return min(points, key=left)

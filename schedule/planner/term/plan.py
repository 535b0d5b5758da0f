"""Plan a term: a standing timetable, and every dated week as near to it as the calendar allows."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from schedule.planner.problem import Goal, Problem
from schedule.planner.result import GoalFigures, Itinerary, Result, Stage, Status
from schedule.planner.solve import solve
from schedule.planner.term.alike import kind_of_week, on_days_of
from schedule.planner.term.departures import departures_of, not_kept
from schedule.planner.term.expected import against, expected_in
from schedule.planner.term.standing import with_rest
from schedule.planner.term.term import PlannedWeek, StandingTimetable, Term, TermResult, TermWeek

OPTIMUM = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)
KEEPING = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)
ONE_WEEK = 0.2
"""Of the time that is left, the most that one week takes."""

LEAST_SECONDS = 0.3

type TermProgress = Callable[[float, str, int, int], None]
"""Seconds, what is being done, how many weeks are done, of how many."""


def plan_term(
    term: Term,
    *,
    seed: int = 0,
    time_limit: float = 120.0,
    workers: int = 2,
    progress: TermProgress | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> TermResult:
    """A timetable for the term, or the weeks of the one in force. Seconds; ``stop`` is polled.

    Every week of the answer has passed the judge; one that no search had time for is planned by the first plan
    alone. Raises ``JudgeError`` if the judge refuses a week, ``NoWeekError`` where the hard rules of one can't be
    met.
    """
    run = _Run(term, seed, time_limit, workers, progress, stop, monotonic)
    run.began = monotonic()
    return run.plan()


class NoWeekError(ValueError):
    """The hard rules of a week contradict each other. ``week`` is its id."""

    def __init__(self, week: str, message: str) -> None:
        super().__init__(message)
        self.week = week


@dataclass(slots=True)
class _Run:
    term: Term
    seed: int
    time_limit: float
    workers: int
    progress: TermProgress | None
    stop: Callable[[], bool] | None
    monotonic: Callable[[], float]
    began: float = 0.0
    stopped: bool = False
    solved: dict[str, Result] = field(default_factory=dict)

    def elapsed(self) -> float:
        """Seconds since the run began."""
        return self.monotonic() - self.began

    def remaining(self) -> float:
        """Seconds left; 0 once a person has stopped it."""
        left = 0.0 if self.stop is not None and self.stop() else max(0.0, self.time_limit - self.elapsed())
        self.stopped = self.stopped or left <= 0
        return left

    def tell(self, message: str, done: int) -> None:
        """Report progress."""
        if self.progress is not None:
            self.progress(self.elapsed(), message, done, len(self.term.weeks))

    def plan(self) -> TermResult:
        """The weeks' own optima, the timetable, then every week against it."""
        best = [self._best(week, done) for done, week in enumerate(self.term.weeks)]
        standing = self.term.standing or self._standing(best)
        weeks = tuple(
            self._kept(week, standing, own, done)
            for done, (week, own) in enumerate(zip(self.term.weeks, best, strict=True))
        )
        self.tell("done", len(weeks))
        return TermResult(
            standing,
            weeks,
            bound=sum(week.least_driving for week in weeks),
            bound_unplaced=sum(own.stages[0].bound for own in best),
            stopped=self.stopped,
            seconds=self.elapsed(),
        )

    def _best(self, week: TermWeek, done: int) -> Result:
        """The week for itself: the yardstick of the term."""
        self.tell(f"the week of {week.id} for itself", done)
        problem = replace(week.problem, current=None, goals=OPTIMUM)
        return self._solve(week.id, kind_of_week(problem, with_pattern=False))

    def _solve(self, week: str, kind: Problem) -> Result:
        key = repr(kind)
        if key not in self.solved:
            result = solve(
                kind,
                seed=self.seed,
                time_limit=max(LEAST_SECONDS, ONE_WEEK * self.remaining()),
                workers=self.workers,
                stop=self.stop,
                monotonic=self.monotonic,
            )
            self.stopped = self.stopped or result.stopped
            self.solved[key] = result
        found = self.solved[key]
        if found.plan is None:
            raise NoWeekError(week, found.message)
        return found

    def _standing(self, best: list[Result]) -> StandingTimetable:
        """The plainest week's sessions; then, kind after kind, what the days of other weeks hold beside them."""
        kinds: dict[str, list[int]] = {}
        for number, week in enumerate(self.term.weeks):
            kinds.setdefault(repr(kind_of_week(week.problem, with_pattern=True)), []).append(number)
        standing = StandingTimetable()
        for numbers in sorted(kinds.values(), key=lambda mine: (-len(mine), mine[0])):
            week = self.term.weeks[numbers[0]]
            if week.unusual:
                continue
            standing = self._with_rest(week, standing, best[numbers[0]])
        return standing if standing.sessions else self._with_rest(self.term.weeks[0], standing, best[0])

    def _with_rest(self, week: TermWeek, standing: StandingTimetable, own: Result) -> StandingTimetable:
        found = self._keeping(week, standing) if standing.sessions else own
        return with_rest(week, standing, on_days_of(_plan_of(found), week.problem))

    def _keeping(self, week: TermWeek, standing: StandingTimetable) -> Result:
        problem = replace(against(week, standing), goals=KEEPING)
        return self._solve(week.id, kind_of_week(problem, with_pattern=True))

    def _kept(self, week: TermWeek, standing: StandingTimetable, own: Result, done: int) -> PlannedWeek:
        self.tell(f"the week of {week.id}", done)
        found = self._keeping(week, standing)
        plan = on_days_of(_plan_of(found), week.problem)
        expected = expected_in(week, standing)
        missing = not_kept(week.problem, expected, plan)
        least = own.stages[-1]
        return PlannedWeek(
            week.id,
            plan,
            _figures_of(found),
            departures_of(week, standing, plan, saving=False),
            expected=len(expected),
            open=sum(one.open for one in expected),
            kept=len(expected) - len(missing),
            least_driving=least.bound if _same_before(own.stages) else 0,
            proved=found.status is Status.OPTIMAL,
        )


def _same_before(stages: tuple[Stage, ...]) -> bool:
    """Whether the goals before driving are proved, so that its bound holds for every week that does as well."""
    return all(stage.status is Status.OPTIMAL for stage in stages[:-1])


def _plan_of(result: Result) -> Itinerary:
    if result.plan is None:
        raise ValueError("A result without a plan.")
    return result.plan


def _figures_of(result: Result) -> GoalFigures:
    if result.figures is None:
        raise ValueError("A result without figures.")
    return result.figures

"""The weeks of a term, each question asked once: its own optimum, and the week nearest to a timetable."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from schedule.planner.asking.disturbance import curve_of
from schedule.planner.check import check
from schedule.planner.jsonform import problem_digest
from schedule.planner.problem import Goal, Pin, Problem
from schedule.planner.result import Ended, GoalFigures, Itinerary, Result, Stage, Status
from schedule.planner.solve import JudgeError, solve
from schedule.planner.term.alike import kind_of_week, on_days_of
from schedule.planner.term.budget import Budget
from schedule.planner.term.expected import against
from schedule.planner.term.memory import TermMemory
from schedule.planner.term.term import StandingTimetable, TermWeek
from schedule.planner.week.work import UNITS_A_SECOND

OPTIMUM = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)
KEEPING = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)

ONE_WEEK = 0.25
"""Of the effort that is left, the most that a question alone takes where it isn't known how many follow."""

TWICE = 2.0
"""A question takes up to so many times its equal share of the effort left: most take far less."""

LEAST_SECONDS = 0.3
CLOCK_TIMES, LEAST_CLOCK_TIMES = 3.0, 10.0
"""A question takes up to so many times its share of what the clock leaves, a small one so many times its work: a
busy machine is slower."""

PLACING_TIMES, PLACING_SHARE = 4.0, 0.25
"""A week takes up to so many times its share while it leaves minutes that aren't known to have no place, and at
most this share of what is left for those asked with it: they have to be planned too."""

POINTS = 6
"""Points of the curve between keeping usual times and driving least, where leaving them may be worth it."""


class NoWeekError(ValueError):
    """The hard rules of a week contradict each other. ``week`` is its id."""

    def __init__(self, week: str, message: str) -> None:
        super().__init__(message)
        self.week = week


@dataclass(frozen=True, slots=True)
class Found:
    """A plan of a week on its own days, judged. ``saving``: usual times were left to save driving."""

    plan: Itinerary
    figures: GoalFigures
    proved: bool
    saving: bool = False


@dataclass(frozen=True, slots=True)
class Least:
    """What no week of a problem goes below, as far as is proved."""

    unplaced: int = 0
    driving: int = 0


@dataclass(slots=True)
class Weeks:
    """The questions of a term and what is known of each."""

    budget: Budget
    seed: int
    workers: int
    memory: TermMemory = field(default_factory=TermMemory)
    to_ask: int = 0
    """Questions that are still to be asked, where that is known."""
    times: float = TWICE
    """Up to so many times its equal share of what there is for these a question takes."""
    until: float = math.inf
    """Seconds of work by which they are to be answered."""
    curves: dict[str, list[Found]] = field(default_factory=dict)

    def best(self, week: TermWeek, share: float | None = None, *, until_placed: bool = False) -> Result:
        """The week for itself, on the days of some week that is alike. ``share``: of the effort left."""
        return self._solved(week.id, _own(week), share, until_placed=until_placed)

    def best_again(self, week: TermWeek) -> None:
        """Look once more for a week by itself that places more, from what is known of it."""
        known, own = self._own_answer(week), _own(week)
        if known is None or known.plan is None:
            return
        found = self._asked(own, self._share(), known.plan, known.stages, until_placed=True)
        if found.plan is not None:
            self.memory.answer(problem_digest(own), found)

    def places_all(self, week: TermWeek) -> bool:
        """Whether it is known that no week places more than the best one for itself."""
        known = self._own_answer(week)
        return known is not None and known.stages[0].status is Status.OPTIMAL

    def expect(self, questions: int, share: float = 1.0, times: float = TWICE) -> None:
        """So many questions are to be asked from now on, in a share of the effort left.

        What is asked again doesn't count. Each takes up to ``times`` its equal share.
        """
        self.to_ask, self.times = questions, times
        self.until = self.budget.work.seconds + share * self.budget.effort_left()

    def least(self, week: TermWeek) -> Least:
        """The bounds of the week for itself."""
        if self.budget.remaining() <= 0 and self._own_answer(week) is None:
            return Least()
        stages = self.best(week).stages
        return Least(stages[0].bound, stages[-1].bound if _all_proved(stages[:-1]) else 0)

    def least_with(self, week: TermWeek, pins: Iterable[Pin], unplaced: int) -> int:
        """Minutes that the week drives at least if it holds these and leaves so many minutes without a place.

        0 where that isn't known, or such a week can leave fewer.
        """
        if self.budget.remaining() <= 0:
            return 0
        # A pin of the question may say more of a session (its space) than one of these does: it is one session.
        own = {(one.unit, one.day, one.at) for one in week.problem.pins}
        added = {(one.unit, one.day, one.at): one for one in pins}
        pinned = (*week.problem.pins, *(one for key, one in added.items() if key not in own))
        held = replace(week.problem, pins=pinned)
        stages = self.best(replace(week, problem=held)).stages
        return stages[-1].bound if _all_proved(stages[:-1]) and stages[0].bound == unplaced else 0

    def _least_known(self, week: TermWeek) -> int:
        """Minutes that the week drives for itself: as proved, or in the best week known."""
        bound, own = self.least(week).driving, self._own_answer(week)
        return bound if own is None or own.figures is None else max(bound, own.figures.driving)

    def _own_answer(self, week: TermWeek) -> Result | None:
        return self.memory.answers.get(problem_digest(_own(week)))

    def nearest(
        self,
        week: TermWeek,
        standing: StandingTimetable,
        worth: int,
        begun: Itinerary | None = None,
        *,
        until_placed: bool = True,
    ) -> Found:
        """The week that leaves fewest usual times; others leave one only for ``worth`` minutes of driving.

        ``begun`` is a week of this kind that is near the timetable already, on this week's days. ``until_placed``:
        where minutes are left that aren't known to have no place, the search takes ``PLACING_TIMES`` its share.
        """
        problem = replace(against(week, standing), goals=KEEPING)
        kind = kind_of_week(problem, with_pattern=True)
        before, known = self._known_of(week, kind, begun)
        result = self._solved(week.id, kind, begun=before, known=known, until_placed=until_placed)
        if result.plan is None or result.figures is None:
            raise NoWeekError(week.id, result.message)
        plan = on_days_of(result.plan, week.problem)
        found = Found(plan, result.figures, result.status is Status.OPTIMAL)
        # Nothing to gain by leaving, which may take a proof to know, or no time to find out.
        driving = found.figures.driving
        if self.budget.remaining() <= 0 or driving < worth or driving - self._least_known(week) < worth:
            return found
        return self._on_curve(problem, problem_digest(kind), found, worth)

    def _known_of(
        self, week: TermWeek, kind: Problem, begun: Itinerary | None
    ) -> tuple[Itinerary | None, tuple[Stage, ...]]:
        """Where a search for the nearest week begins: the nearer of two plans, and what is proved of the week."""
        own = self._own_answer(week)
        plans = [plan for plan in (begun, None if own is None else own.plan) if plan is not None]
        before = min((on_days_of(plan, kind) for plan in plans), key=partial(_rank, kind), default=None)
        return before, () if own is None else own.stages

    def _on_curve(self, problem: Problem, key: str, staying: Found, worth: int) -> Found:
        """The point of the week's curve at which driving and sessions that leave, so much each, weigh least.

        Of those that weigh the same the one that drives least: leaving that saves just so much is worth it. ``key``
        is the digest of the week's kind.
        """
        if key not in self.curves:
            curve = curve_of(
                problem,
                seed=self.seed,
                most_points=POINTS,
                effort=max(LEAST_SECONDS, ONE_WEEK * self.budget.effort_left()),
                time_limit=max(LEAST_SECONDS, min(1.0, CLOCK_TIMES * ONE_WEEK) * self.budget.clock_left()),
                workers=self.workers,
                stop=self.budget.stop,
                monotonic=self.budget.monotonic,
            )
            self.budget.work.add(int(curve.work * UNITS_A_SECOND))
            self.curves[key] = [Found(one.plan, one.figures, one.proved, saving=True) for one in curve.points]
        points = [one for one in self.curves[key] if one.figures.unplaced == staying.figures.unplaced]

        def weight(one: Found) -> tuple[int, int, bool]:
            figures = one.figures
            return figures.driving + worth * figures.change, figures.driving, one.saving

        chosen = min([staying, *points], key=weight)
        return replace(chosen, plan=on_days_of(chosen.plan, problem))

    def _solved(
        self,
        week: str,
        kind: Problem,
        share: float | None = None,
        begun: Itinerary | None = None,
        known: tuple[Stage, ...] = (),
        *,
        until_placed: bool = False,
    ) -> Result:
        key = problem_digest(kind)
        if key not in self.memory.answers:
            share = self._share() if share is None else share
            self.memory.answer(key, self._asked(kind, share, begun, known, until_placed=until_placed))
        found = self.memory.answers[key]
        if found.plan is None:
            raise NoWeekError(week, found.message)
        return found

    def _share(self) -> float:
        """Of the effort left, what the next question may take."""
        questions, self.to_ask = self.to_ask, max(0, self.to_ask - 1)
        left = self.budget.effort_left()
        if questions <= 0 or left <= 0:
            return ONE_WEEK
        mine = max(0.0, min(left, self.until - self.budget.work.seconds)) / left
        return min(mine, self.times * mine / questions)

    def _asked(
        self,
        kind: Problem,
        share: float,
        begun: Itinerary | None,
        known: tuple[Stage, ...],
        *,
        until_placed: bool,
    ) -> Result:
        effort = max(LEAST_SECONDS, share * self.budget.effort_left())
        clock_left = max(LEAST_SECONDS, self.budget.clock_left())
        clock = min(clock_left, max(LEAST_CLOCK_TIMES * effort, CLOCK_TIMES * share * clock_left))
        more = PLACING_SHARE * (min(self.until, self.budget.effort) - self.budget.work.seconds - effort)
        placing = max(0.0, min(PLACING_TIMES * effort, more, clock / 2)) if until_placed else 0.0
        result = solve(
            kind,
            seed=self.seed,
            effort=effort,
            time_limit=clock - placing,
            placing_limit=placing,
            workers=self.workers,
            stop=self.budget.stop,
            monotonic=self.budget.monotonic,
            begun=begun,
            known=known,
        )
        self.budget.work.add(int(result.work * UNITS_A_SECOND))
        self.budget.stopped = self.budget.stopped or result.stopped
        self.budget.by_clock = self.budget.by_clock or result.ended is Ended.CLOCK
        return result


def judged(problem: Problem, plan: Itinerary) -> Found:
    """A plan that no proof stands behind; ``JudgeError`` if the judge refuses it."""
    verdict = check(problem, plan)
    if not verdict.holds:
        raise JudgeError("; ".join(violation.text for violation in verdict.violations))
    return Found(plan, verdict.figures, proved=False)


def _rank(problem: Problem, plan: Itinerary) -> tuple[bool, list[int]]:
    """What a plan of a week comes to, the best one least; one that the judge refuses last."""
    verdict = check(problem, plan)
    return not verdict.holds, [verdict.figures.of(goal) for goal in problem.goals]


def _own(week: TermWeek) -> Problem:
    return kind_of_week(replace(week.problem, current=None, goals=OPTIMUM), with_pattern=False)


def _all_proved(stages: Sequence[Stage]) -> bool:
    """Whether the goals before driving are proved, so that its bound holds for every week that does as well."""
    return all(stage.status is Status.OPTIMAL for stage in stages)

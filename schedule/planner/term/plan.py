"""Plan a term: a standing timetable, and every dated week as near to it as the calendar allows."""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.problem import Problem
from schedule.planner.requirements import require
from schedule.planner.result import Itinerary
from schedule.planner.solve import JudgeError
from schedule.planner.term.alike import on_days_of
from schedule.planner.term.budget import Budget, TermProgress
from schedule.planner.term.choice.exchange import Exchange, Standing
from schedule.planner.term.choice.spare import without_spare
from schedule.planner.term.choice.weighed import Weighed, standing_sessions, weighed_week
from schedule.planner.term.choice.whole import WholeTerm, better, planned_week
from schedule.planner.term.expected import against, barred_in
from schedule.planner.term.following import changes_only, standing_in, timetables_of
from schedule.planner.term.judge import check_term
from schedule.planner.term.kinds import OPTIMUM, Found, Weeks, judged
from schedule.planner.term.kinds import NoWeekError as NoWeekError
from schedule.planner.term.memory import TermMemory
from schedule.planner.term.plain import one_layout, plain_week, with_spaces
from schedule.planner.term.ready import make_ready
from schedule.planner.term.rotation.rotated import Rotated, rotated_timetable
from schedule.planner.term.rotation.whole import Whole, WholeWeeks
from schedule.planner.term.search import NO_LIMIT, complete
from schedule.planner.term.shared import AlikeWeeks, TermState, kinds_of
from schedule.planner.term.template.chains import find_template
from schedule.planner.term.term import LaterTimetable, StandingSession, StandingTimetable, Term, TermResult
from schedule.planner.week.routes import plan_of
from schedule.planner.week.state import WeekState
from schedule.planner.week.work import UNITS_A_SECOND

LEAST_AGAIN = 0.1
"""Of its time, what a run has at least once it goes on after an interruption."""

PLAIN_SHARE, WISHED_SHARE = 0.06, 0.01
WEIGHED_SHARE = 0.15
SEARCH_SHARE = 0.12
EXCHANGE_SHARE = 0.25
"""Of the effort that is left, the most that the plain week, its choice and the two searches take."""

TIMES_AS_MUCH = 2.0
"""Another timetable is planned whole where so many times the work is left that the one before took."""

ROTATION_SHARE = 0.5
"""Where days rotate, of the effort left: for the pattern and what stands beside it. The weeks take little after."""

QUESTIONS_OF_EACH = 5
"""Where days rotate, how often a kind of week is planned about: in a chain, against each timetable, for itself."""

COMPARED_UNTIL = 0.4
"""Of the effort left, what is kept back when several timetables are planned exactly to take the best of them."""

BETTER_SHARE, BETTERED = 0.15, 2
"""Of the effort left, what one search from whole weeks takes, and how many there are one after the other."""


def plan_term(
    term: Term,
    *,
    seed: int = 0,
    time_limit: float = 120.0,
    effort: float | None = None,
    workers: int = 2,
    progress: TermProgress | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
    memory: TermMemory | None = None,
) -> TermResult:
    """A timetable for the term, or the weeks of the one in force. ``stop`` is polled, and the best so far is kept.

    ``effort``: seconds of work, counted in steps (``week.work``), as many as ``time_limit`` where none are given.
    How far each part goes follows from it, so that the same seed, effort and workers give the same answer as long
    as the clock leaves as much; where the clock or a person ended it early, ``ended`` says so.

    Every week of the answer has passed the judge. ``memory`` is told what is found; what it holds already isn't
    looked for again. Raises ``JudgeError`` if the judge refuses the answer, ``NoWeekError`` where the hard rules of
    a week can't be met.
    """
    make_ready()
    budget = Budget(time_limit, monotonic, stop, progress, time_limit if effort is None else effort)
    memory = memory or TermMemory()
    budget.began = monotonic() - min(memory.had, time_limit * (1 - LEAST_AGAIN))
    budget.work.add(int(UNITS_A_SECOND * min(memory.had, budget.effort * (1 - LEAST_AGAIN))))
    return _judged(term, _Run(term, seed, workers, budget, Weeks(budget, seed, workers, memory)).plan())


def plan_curve(
    term: Term,
    worths: Sequence[int],
    *,
    seed: int = 0,
    time_limit: float = 120.0,
    effort: float | None = None,
    workers: int = 2,
    progress: TermProgress | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> tuple[TermResult, ...]:
    """The weeks of one timetable by each of several worths of a usual time, what they share worked out once.

    ``effort``, seconds of work, and ``time_limit``, seconds of the clock, are for all of them, as in ``plan_term``.
    What isn't looked at once either is used up, or ``stop`` says so, is left out, but for the first. Raises as
    ``plan_term`` does, ``ProblemError`` where no timetable is given.
    """
    require(term.standing is not None, "standing", "No timetable is given.", "Plan the term first.")
    make_ready()
    budget = Budget(time_limit, monotonic, stop, progress, time_limit if effort is None else effort)
    budget.began = monotonic()
    weeks, found = Weeks(budget, seed, workers), list[TermResult]()
    for worth in worths:
        if found and budget.remaining() <= 0:
            break
        asked = replace(term, worth=worth)
        found.append(_judged(asked, _Run(asked, seed, workers, budget, weeks).plan()))
    return tuple(found)


def _judged(term: Term, result: TermResult) -> TermResult:
    """The answer, if the judge lets it pass."""
    broken = check_term(term, result)
    if broken:
        raise JudgeError("; ".join(violation.text for violation in broken))
    return result


@dataclass(slots=True)
class _Run:
    term: Term
    seed: int
    workers: int
    budget: Budget
    weeks: Weeks
    kinds: list[AlikeWeeks] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    """For each week the number of its kind."""

    inserted: dict[int, WeekState] = field(default_factory=dict)
    """By kind, the week that insertion alone makes of the timetable."""

    first_term_seconds: float | None = None
    rotated: Rotated | None = None
    """Where days rotate: the timetable found for them, and what is known of its driving."""

    def plan(self) -> TermResult:
        """The timetable, every week against it, and what the weeks could do for themselves."""
        self._find_kinds()
        whole = self._by_force() or self._best()
        (standing, *later), stands, found = whole.timetables, whole.stands, whole.found
        self._tell("what the weeks could do for themselves", len(found))
        self.weeks.expect(len(self.kinds))
        least = [self.weeks.least(week) for week in self.term.weeks]
        planned = tuple(map(planned_week, self.term.weeks, stands, found, least))
        one = None if later else self.rotated
        kinds = list(zip(self.numbers, planned, strict=True))
        bound = None if one is None else one.bound(self.weeks, self.term.weeks, standing.standing, kinds)
        self.budget.tell("done", len(planned), len(planned))
        return TermResult(
            standing.standing,
            planned,
            later=tuple(later),
            bound=sum(week.least_driving for week in planned),
            bound_unplaced=sum(
                min(one.unplaced, week.figures.unplaced) for one, week in zip(least, planned, strict=True)
            ),
            bound_with_rotation=bound,
            stopped=self.budget.stopped,
            ended=self.budget.ended,
            seconds=self.budget.elapsed(),
            first_term_seconds=self.first_term_seconds,
        )

    def _in_force(self) -> tuple[LaterTimetable, ...]:
        """The timetables in force, or settled before an interruption, with a first term of the first; or none."""
        memory = self.weeks.memory
        standing, later = self.term.standing, self.term.later
        if standing is None:
            standing, later = memory.standing, memory.later
        if standing is None:
            return ()
        state = self._state_of(standing.sessions)
        self.inserted = dict(enumerate(state.filled()))
        self._see_first(state)
        return LaterTimetable(self.term.weeks[0].id, standing), *later

    def _state_of(self, sessions: Iterable[StandingSession]) -> TermState:
        state = TermState(self.kinds, self.term.worth)
        for one in sessions:
            state.put(replace(one, space=None))
        return state

    def _find_kinds(self) -> None:
        self.kinds, self.numbers = kinds_of(self.term.weeks)
        for kind in self.kinds:
            if kind.empty.broken_days:
                # Pins, blocks and lunch can't all be kept: what the planner says of such a week is raised.
                self.weeks.best(kind.week)

    # ---- the timetable -----------------------------------------------------------------------------------

    def _by_force(self) -> WholeTerm | None:
        """The term by the timetables in force, if there are any."""
        in_force = self._in_force()
        if not in_force:
            return None
        self.weeks.memory.settle(in_force[0].standing, in_force[1:])
        return self._whole(in_force)

    def _best(self) -> WholeTerm:
        """The term by each of the timetables found, as many as the work allows; the better one."""
        terms: list[WholeTerm] = []
        for standing in self._candidates():
            before = self.budget.work.seconds
            if one_layout(self.term.weeks):
                self.inserted = dict(enumerate(self._state_of(standing.sessions).filled()))
            terms.append(self._whole((LaterTimetable(self.term.weeks[0].id, standing),)))
            followed = self._followed(standing)
            if len(followed) > 1:
                terms.append(self._whole(followed))
            took = self.budget.work.seconds - before
            if self.budget.remaining() <= 0 or self.budget.effort_left() < TIMES_AS_MUCH * took:
                break
        best = better(terms, self.term.worth)
        self.weeks.memory.settle(best.timetables[0].standing, best.timetables[1:])
        return best

    def _candidates(self) -> Sequence[StandingTimetable]:
        """The timetables to compare; those that were found before an interruption aren't looked for again."""
        memory = self.weeks.memory
        if memory.candidates:
            self._see_first(self._state_of(memory.candidates[0].sessions))
        else:
            memory.compare(self._timetables())
        return memory.candidates

    def _whole(self, timetables: tuple[LaterTimetable, ...]) -> WholeTerm:
        """Every week at its nearest to the timetable that stands in it."""
        standing, *later = timetables
        self.weeks.expect(2 * len(self.kinds))
        stands = tuple(standing_in(week.id, standing.standing, later) for week in self.term.weeks)
        found = tuple(self._nearest(number, one) for number, one in enumerate(stands))
        barred = sum(map(barred_in, self.term.weeks, stands))
        return WholeTerm(timetables, stands, found, barred)

    def _followed(self, standing: StandingTimetable) -> tuple[LaterTimetable, ...]:
        """The timetable, and what takes its place from a week in which a service begins or ends."""
        weeks = self.term.weeks
        if self.budget.remaining() <= 0:
            return (LaterTimetable(weeks[0].id, standing),)
        self._tell("the timetable from each week in which a service begins or ends", 0)
        worth = self.term.worth
        found = timetables_of(weeks, standing, lambda week, before: self.weeks.nearest(week, before, worth))
        return changes_only(replace(one, standing=with_spaces(one.standing, weeks)) for one in found)

    def _timetables(self) -> list[StandingTimetable]:
        """The plain week at its best, then by what days rotate or not; the timetable that promises most first."""
        self._tell("the plain week", 0)
        plain = plain_week(self.term.weeks)
        problem = replace(plain.problem, goals=OPTIMUM)
        wished = not one_layout(self.term.weeks) and any(kind.model.uses_wishes for kind in self.kinds)
        own = self.weeks.best(plain, WISHED_SHARE if wished else PLAIN_SHARE)
        plan = Itinerary(()) if own.plan is None else on_days_of(own.plan, problem)
        state = self._standing_as(standing_sessions(problem, plan))
        self._see_first(state)
        patterns = self._patterns()
        if patterns or wished:
            return [self._by_whole_weeks(patterns)]
        weighed = self._weighed(problem, plan)
        found = self._searched([state, *(self._standing_as(one) for one in weighed.timetables)])
        if not one_layout(self.term.weeks):
            return [self._as_timetable(found)]
        self._tell("a timetable that suits the weeks which the calendar disturbs", 0)
        exchange = Exchange(
            self.kinds, AlikeWeeks.of(plain, 0), self.term.worth, self.seed, self.budget.work, weighed.days
        )
        start = min([found, *weighed.timetables], key=exchange.cost)
        effort = EXCHANGE_SHARE * self.budget.effort_left()
        ends = dict.fromkeys([exchange.bettered(start, effort, self.budget.clock_left), tuple(sorted(found))])
        return [self._as_timetable(one) for one in ends]

    def _as_timetable(self, sessions: Standing) -> StandingTimetable:
        return with_spaces(without_spare(self._standing_as(sessions)).timetable(), self.term.weeks)

    def _searched(self, states: list[TermState]) -> Standing:
        """What the search over the term makes of the best of these."""
        self._tell("a timetable that suits every week", 0)
        starts: list[TermState] = sorted(states, key=lambda one: one.cost(NO_LIMIT))
        best = find_template(
            self.kinds,
            starts,
            worth=self.term.worth,
            seed=self.seed,
            workers=self.workers,
            effort=SEARCH_SHARE * self.budget.effort_left(),
            remaining=self.budget.clock_left,
        )
        self.budget.work.add(best.units)
        self.budget.stopped = self.budget.stopped or not best.complete
        return best.sessions

    def _by_whole_weeks(self, patterns: Sequence[StandingTimetable]) -> StandingTimetable:
        """Of the patterns of rotating sessions the best one, bettered; or weeks one after the other, for wishes."""
        whole = WholeWeeks(self.kinds, self.term.weeks, self.weeks, self.term.worth)
        self.weeks.expect(QUESTIONS_OF_EACH * len(self.kinds))
        self._tell("weeks nearest to each other", 0)
        found = self._best_rotated(whole, patterns) if patterns else whole.chained()
        self._tell("a timetable that suits every week", 0)
        for round_of_it in range(BETTERED if patterns else 0):
            found = whole.bettered(
                found,
                seed=self.seed + round_of_it,
                workers=self.workers,
                effort=BETTER_SHARE * self.budget.effort_left(),
                remaining=self.budget.clock_left,
            )
        return StandingTimetable(found.sessions)

    def _best_rotated(self, whole: WholeWeeks, patterns: Sequence[StandingTimetable]) -> Whole:
        """The best of the timetables found, as many of them planned exactly as the work allows."""
        kept_back = COMPARED_UNTIL * self.budget.effort_left()
        return whole.best_of(
            (one.sessions for one in patterns),
            lambda: min(self.budget.effort_left() - kept_back, self.budget.clock_left()) <= 0,
        )

    def _patterns(self) -> Sequence[StandingTimetable]:
        """Timetables where days rotate, with what else has to stand so that every week can hold as much as it owes.

        Those of a run that was interrupted are kept; what bounds them isn't.
        """
        memory = self.weeks.memory
        if not memory.patterns:
            self.rotated = self._rotated()
            if self.rotated is not None:
                found = (self._standing_as(one).timetable() for one in self.rotated.timetables)
                memory.try_patterns(found)
        return memory.patterns

    def _rotated(self) -> Rotated | None:
        """The timetable where days rotate, if there is one in which everything has a standing time."""
        if one_layout(self.term.weeks):
            return None
        self._tell("where the rotating sessions stand", 0)
        return rotated_timetable(
            self.kinds,
            lambda sessions: self._standing_as(sessions).cost(NO_LIMIT),
            seed=self.seed,
            workers=self.workers,
            effort=ROTATION_SHARE * self.budget.effort_left(),
            work=self.budget.work,
            clock_left=self.budget.clock_left,
        )

    def _weighed(self, problem: Problem, plan: Itinerary) -> Weighed:
        """More timetables to begin with, chosen by what their days cost over the term."""
        if not one_layout(self.term.weeks):
            return Weighed()
        self._tell("plain weeks that suit the others", 0)
        return weighed_week(
            problem,
            plan,
            self.kinds,
            workers=self.workers,
            effort=WEIGHED_SHARE * self.budget.effort_left(),
            work=self.budget.work,
            clock_left=self.budget.clock_left,
        )

    def _standing_as(self, sessions: Iterable[StandingSession]) -> TermState:
        state = self._state_of(sessions)
        complete(state)
        return state

    def _see_first(self, state: TermState) -> None:
        """A whole term by insertion alone: the first that a person could have."""
        for kind, full in zip(self.kinds, state.filled(), strict=True):
            judged(kind.week.problem, plan_of(full.model, full.routes))
        self.first_term_seconds = self.budget.elapsed()
        self._tell("a first term, checked", len(self.term.weeks))

    # ---- the weeks ---------------------------------------------------------------------------------------

    def _nearest(self, number: int, standing: StandingTimetable) -> Found:
        """The week at its nearest to the timetable; by insertion alone where no time is left."""
        week, kind = self.term.weeks[number], self.numbers[number]
        self._tell(f"the week of {week.id}", number)
        begun = None
        if kind in self.inserted:
            full = self.inserted[kind]
            begun = on_days_of(plan_of(full.model, full.routes), week.problem)
        if begun is None or self.budget.remaining() > 0:
            return self.weeks.nearest(week, standing, self.term.worth, begun)
        return judged(against(week, standing), begun)

    def _tell(self, message: str, done: int) -> None:
        self.budget.tell(message, done, len(self.term.weeks))

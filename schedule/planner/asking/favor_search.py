"""The search for favors that help: the best week without any, quick probes, bundles, then one by one."""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.asking.favor_kinds import EXCUSED, MEETING_MOVED, Favor, granted, granted_together
from schedule.planner.asking.favor_order import (
    all_bundled,
    best_of_kinds,
    bundles_of,
    is_bundled,
    others_of_meeting,
)
from schedule.planner.asking.favor_probes import Probe, Prober
from schedule.planner.asking.replan import KnownDay, is_near, replan
from schedule.planner.check import check
from schedule.planner.problem import Goal, Problem
from schedule.planner.proving.columns import drives_are_short_cuts
from schedule.planner.result import GoalFigures, ItemKind, Itinerary, Result, Status
from schedule.planner.solve import JudgeError, solve
from schedule.planner.week.improve import improve
from schedule.planner.week.layout import build_model
from schedule.planner.week.routes import plan_of
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import closest_state, state_of

SHARE_FOR_BASE = 0.4
SHARE_FOR_SEARCH = 0.02
"""Of the time allowed, the most that the week without favors, and the search from probes, may take."""

SHARE_TO_SETTLE = 0.8
"""The most that goes into the week without favors where it isn't settled by then: no favor is priced before."""

SECONDS_A_SOLVE = 40.0
MOST_SEARCHED = 12
ROUNDS_WITHOUT = 60

type Tell = Callable[[int, int, int], None]
"""(done, of, favors found so far that help)"""


@dataclass(frozen=True, slots=True)
class JudgedWeek:
    """A week that the judge has passed. ``proved``: its problem has no better one.

    ``near``: proved in all goals before driving, and no week drives less by more than ``replan.NEAR`` of it.
    """

    plan: Itinerary
    figures: GoalFigures
    proved: bool = False
    near: bool = False

    @property
    def settled(self) -> bool:
        """Whether another week may be priced against it."""
        return self.proved or self.near


@dataclass(slots=True)
class FavorSearch:
    """The search for favors that help: the best week without any, the best found with each, what is dismissed."""

    problem: Problem
    favors: Sequence[Favor]
    seed: int
    workers: int
    most_solved: int
    time_limit: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None
    tell: Tell | None
    began: float = 0.0
    base: JudgedWeek | None = None
    weeks: dict[Favor, JudgedWeek] = field(default_factory=dict)
    tried: set[Favor] = field(default_factory=set)
    dismissed: set[Favor] = field(default_factory=set)
    known_days: tuple[KnownDay, ...] = ()
    bounds: dict[Favor, tuple[int, ...]] = field(default_factory=dict)
    solved: int = 0
    halted: bool = False

    # ---- clock and order ---------------------------------------------------------------------------------

    def left(self) -> float:
        """Seconds left; 0 once a person has stopped it."""
        if self.stop is not None and self.stop():
            self.halted = True
            return 0.0
        seconds = self.time_limit - (self.monotonic() - self.began)
        self.halted = self.halted or seconds <= 0
        return max(0.0, seconds)

    def rank(self, figures: GoalFigures) -> tuple[int, ...]:
        """Less is better."""
        return figures.in_order(self.problem.goals)

    def helps(self, favor: Favor) -> bool:
        """Whether a week with the favor is better than the best known without it."""
        week = self.weeks.get(favor)
        return week is not None and self.base is not None and self.rank(week.figures) < self.rank(self.base.figures)

    def said(self) -> None:
        """Tell how far the search is."""
        if self.tell is not None:
            helpful = sum(self.helps(favor) for favor in self.weeks)
            spent = (self.monotonic() - self.began) / self.time_limit
            decided = (len(self.tried) + len(self.dismissed)) / max(1, len(self.favors))
            self.tell(min(100, int(100 * max(spent, decided))), 100, helpful)

    # ---- solving -----------------------------------------------------------------------------------------

    def solve(self, problem: Problem, start: Itinerary | None, longest: float) -> JudgedWeek | None:
        """The best week of a problem, from a week that is known already; ``None`` where no time is left."""
        until = self.monotonic() + min(longest, self.left())
        at_hand = self.judged(problem, start) if start is not None else None
        if self.monotonic() >= until:
            return None
        if at_hand is not None and self._only_drives(at_hand):
            return self._replanned(problem, at_hand, until)
        # Change is no goal here: a week in force is only where the search begins.
        asked = replace(problem, current=start.sessions if start is not None else None)
        seconds = until - self.monotonic()
        result = solve(
            asked,
            seed=self.seed,
            time_limit=seconds,
            workers=self.workers,
            stop=self.stop,
            monotonic=self.monotonic,
        )
        return self.better(_week_of(result), at_hand)

    def _only_drives(self, week: JudgedWeek) -> bool:
        """Whether nothing but driving is left to be bettered in a week."""
        return not any(
            value
            for goal, value in zip(self.problem.goals, self.rank(week.figures), strict=True)
            if goal is not Goal.DRIVING
        )

    def _replanned(self, problem: Problem, at_hand: JudgedWeek, until: float) -> JudgedWeek:
        found = replan(
            problem,
            at_hand.plan,
            self.problem.goals,
            remaining=lambda: min(self.left(), max(0.0, until - self.monotonic())),
            known_days=self.known_days,
            seed=self.seed,
            workers=self.workers,
        )
        if found is None:
            return at_hand
        week = self.judged(problem, found.plan)
        if week is None or self.rank(week.figures) != self.rank(found.figures):
            raise JudgeError(f"The judge refuses or counts otherwise what was found as {found.figures}.")
        self.known_days = found.known_days
        return self.better(replace(week, proved=found.proved, near=found.near), at_hand) or at_hand

    def judged(self, problem: Problem, plan: Itinerary) -> JudgedWeek | None:
        """A plan as a week of a problem, if the judge lets it pass."""
        verdict = check(replace(problem, current=None), _bare(plan))
        return JudgedWeek(plan, verdict.figures) if verdict.holds else None

    def better(self, one: JudgedWeek | None, other: JudgedWeek | None) -> JudgedWeek | None:
        """The better of two weeks of one problem, the first if they are equal."""
        if one is None or other is None:
            return one or other
        return other if self.rank(other.figures) < self.rank(one.figures) else one

    def know(self, favor: Favor, week: JudgedWeek | None) -> None:
        """Keep a week found with a favor. One that needs no favor is a week without one."""
        if week is None:
            return
        kept = self.better(week, self.weeks.get(favor))
        if kept is not None:
            self.weeks[favor] = replace(kept, proved=kept.proved or (kept.figures == week.figures and week.proved))
        self.know_base(self.judged(self.problem, week.plan))

    def know_base(self, week: JudgedWeek | None) -> None:
        """Keep a week without any favor, if it is the best so far."""
        if week is None or self.base is None:
            return
        if self.rank(week.figures) < self.rank(self.base.figures):
            self.base = replace(week, near=self.base.near)

    # ---- the steps ---------------------------------------------------------------------------------------

    def find_base(self, known: Itinerary | None) -> None:
        """The best week without a favor."""
        start = self._possible(self.problem, known) if known is not None else None
        self.base = self.solve(self.problem, start, SHARE_FOR_BASE * self.time_limit)
        if self.base is not None and not self.base.settled:
            longest = SHARE_TO_SETTLE * self.time_limit - (self.monotonic() - self.began)
            again = self.solve(self.problem, self.base.plan, longest)
            self.base = self.better(again, self.base)

    def retimed(self, known: Itinerary) -> JudgedWeek | None:
        """The week at hand with its days timed as drives are now; ``None`` where they can't be."""
        state = state_of(build_model(self.problem), known)
        return None if state is None else self.judged(self.problem, plan_of(state.model, state.routes))

    def probe_all(self) -> list[Favor]:
        """Quick probes of every favor; the favors in the order of what they promise."""
        if self.base is None:
            return []
        prober = Prober(self.problem, self.base.plan, self.favors)
        probes: list[Probe] = []
        for favor in self.favors:
            if self.left() <= 0:
                break
            probe = prober.probe(favor)
            if probe is not None:
                probes.append(probe)
        probes.sort(key=lambda one: one.rank)
        rng = random.Random(self.seed)  # noqa: S311 - a search needs no secret
        until = self.monotonic() + SHARE_FOR_SEARCH * self.time_limit

        def halted() -> bool:
            return self.left() <= 0 or self.monotonic() > until

        probes[:MOST_SEARCHED] = [prober.searched(one, rng, halted) for one in probes[:MOST_SEARCHED]]
        for probe in probes:
            self.know(probe.favor, self.judged(granted(self.problem, probe.favor), probe.plan))
        order = [probe.favor for probe in sorted(probes, key=lambda one: one.rank)]
        return [*order, *(favor for favor in self.favors if favor not in set(order))]

    def solve_one(self, favor: Favor) -> None:
        """Grant one favor and plan the whole week again."""
        if self.base is None or not self._may_try(favor):
            return
        problem = granted(self.problem, favor)
        start = self.weeks[favor].plan if self.helps(favor) else self.base.plan
        week = self.solve(problem, self._possible(problem, start), SECONDS_A_SOLVE)
        if week is None and self.left() <= 0:
            return
        self.solved += 1
        self.tried.add(favor)
        if week is None:  # The favor leaves no week at all: a meeting moved to where it clashes.
            return
        self.know(favor, week)
        if week.proved and not self.helps(favor) and favor.only_adds:
            self.know_proved(week)
        self._without(favor)
        self.said()

    def _may_try(self, favor: Favor) -> bool:
        return favor not in self.tried and not self._closed(favor) and self.solved < self.most_solved

    def _closed(self, favor: Favor) -> bool:
        """Whether a week with it is as good as the best week with it and others: then that is its best, proved."""
        week = self.weeks.get(favor)
        if week is None or self.bounds.get(favor) != self.rank(week.figures):
            return False
        self.weeks[favor] = replace(week, proved=True)
        self.tried.add(favor)
        return True

    def know_proved(self, week: JudgedWeek) -> None:
        """A problem that allows more has no better week than this: if the base is as good, it is proved."""
        if self.base is not None and self.rank(week.figures) == self.rank(self.base.figures):
            self.base = replace(self.base, proved=True)

    def _possible(self, problem: Problem, plan: Itinerary) -> Itinerary:
        """The plan where the problem allows it, else the nearest that it does."""
        if self.judged(problem, plan) is not None:
            return plan
        state = closest_state(WeekState(build_model(problem)), plan)
        return plan if state is None else plan_of(state.model, state.routes)

    def _without(self, favor: Favor) -> None:
        """Where the base isn't proved: whether what was found with the favor can be had without it as well."""
        if self.base is None or self.base.proved or not self.helps(favor):
            return
        state = closest_state(WeekState(build_model(self.problem)), self.weeks[favor].plan)
        if state is None:
            return
        rng = random.Random(self.seed)  # noqa: S311 - a search needs no secret
        state = improve(state, rng, ROUNDS_WITHOUT, lambda: self.left() <= 0, lambda _: None)
        self.know_base(self.judged(self.problem, plan_of(state.model, state.routes)))

    def solve_bundle(self, bundle: Sequence[Favor]) -> list[Favor]:
        """Grant favors all at once. Those that the best week then uses; all are dismissed if it gives nothing."""
        open_ones = [one for one in self._untried(bundle) if one not in self.dismissed]
        if self.base is None or not open_ones or self.solved >= self.most_solved:
            return []
        if len(open_ones) == 1:
            self.solve_one(open_ones[0])
            return []
        week = self.solve(granted_together(self.problem, open_ones), self.base.plan, SECONDS_A_SOLVE)
        if week is None:
            return []
        self.solved += 1
        return self._used(week, open_ones)

    def _untried(self, bundle: Sequence[Favor]) -> list[Favor]:
        return [one for one in bundle if one not in self.tried]

    def _used(self, week: JudgedWeek, open_ones: list[Favor]) -> list[Favor]:
        """The favors that a week of all of them uses, once it is known what that week says of each."""
        if week.proved:
            self.bounds.update(dict.fromkeys(open_ones, self.rank(week.figures)))
        self.know_base(self.judged(self.problem, week.plan))
        if self.base is not None and self.rank(week.figures) >= self.rank(self.base.figures):
            if week.proved:
                self.dismissed.update(open_ones)
                self.know_proved(week)
            self.said()
            return []
        return [one for one in open_ones if self._needs(week, open_ones, one)] or open_ones[:1]

    def _needs(self, week: JudgedWeek, bundle: Sequence[Favor], favor: Favor) -> bool:
        """Whether a week of a bundle is lost, or worth less, without one favor of it."""
        others = [one for one in bundle if one is not favor]
        without = self.judged(granted_together(self.problem, others), week.plan)
        return without is None or self.rank(without.figures) > self.rank(week.figures)

    def solve_helpful(self, order: Sequence[Favor], *, small: bool) -> None:
        """Those that are known to help, one by one; where there are several, first what they give together."""
        helpful = best_of_kinds([one for one in order if self.helps(one)])
        for bundle in [all_bundled(order)] if small else bundles_of(order):
            if small or sum(one in bundle for one in helpful) > 1:
                self.solve_bundle(bundle)
        for favor in helpful:
            self.solve_one(favor)

    def solve_bundles(self, order: Sequence[Favor], *, small: bool) -> None:
        """Favors at once, then one by one those that would be used, until none is left that helps.

        Those of one place at a time; if the problem is ``small``, first all of them.
        """
        waiting = ([all_bundled(order)] if small else []) + bundles_of(order)
        while waiting and self.left() > 0 and self.solved < self.most_solved:
            bundle = waiting.pop(0)
            used = self.solve_bundle(bundle)
            for favor in used:
                self.solve_one(favor)
            if self._untried(used):
                break
            if used:
                waiting.append(self._untried(bundle))

    def solve_excused(self, order: Sequence[Favor]) -> None:
        """Being excused from a meeting. Where that gives nothing, proved, moving the meeting doesn't either."""
        meetings = [one for one in order if not is_bundled(one)]
        short = drives_are_short_cuts(build_model(self.problem))
        for favor in [one for one in meetings if one.code == EXCUSED]:
            self.solve_one(favor)
            if short and self._gives_nothing(favor):
                self.dismissed.update(others_of_meeting(meetings, favor))

    def _gives_nothing(self, favor: Favor) -> bool:
        """Whether a favor was tried and is proved not to help."""
        week = self.weeks.get(favor)
        return favor in self.tried and week is not None and week.proved and not self.helps(favor)

    def solve_moved(self, order: Sequence[Favor]) -> None:
        """Meetings on other days, one by one."""
        for favor in order:
            if favor.code == MEETING_MOVED and favor not in self.dismissed:
                self.solve_one(favor)


def _week_of(result: Result) -> JudgedWeek | None:
    if result.plan is None or result.figures is None:
        return None
    known = [(stage.goal, stage.value, stage.bound) for stage in result.stages]
    return JudgedWeek(result.plan, result.figures, result.status is Status.OPTIMAL, is_near(known))


def _bare(plan: Itinerary) -> Itinerary:
    """Without what only fills time: where nothing else lies at the ends of a longer day, it isn't used."""
    kinds = tuple(kind for kind in ItemKind if kind not in {ItemKind.PREPARATION, ItemKind.FREE})
    return Itinerary(tuple(replace(day, items=day.of_kind(*kinds)) for day in plan.days))

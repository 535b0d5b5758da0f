"""One run of the planner: its clock, its limits, the best week so far and who is told of it."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from schedule.planner.problem import Goal
from schedule.planner.proving.proof import Proof
from schedule.planner.result import Ended, GoalFigures, Stage
from schedule.planner.week.model import Model
from schedule.planner.week.objective import figures_of, rank
from schedule.planner.week.routes import Route

type Progress = Callable[[float, str, str, GoalFigures | None], None]
type Bounded = Callable[[Goal, int], None]


@dataclass(slots=True)
class Run:
    """One run: its clock, its limits, the best week so far."""

    model: Model
    time_limit: float
    monotonic: Callable[[], float]
    progress: Progress | None
    stop: Callable[[], bool] | None
    bounded: Bounded | None = None
    placing_limit: float = 0.0
    effort: float = math.inf
    """Seconds of work, as far as the clock allows; placing has up to ``placing_limit`` of them more."""
    found: Callable[[list[Route]], None] | None = None
    """Told of each week that is better than all before it."""
    began: float = 0.0
    stage: str = "first plan"
    best: list[Route] = field(default_factory=list)
    best_figures: GoalFigures | None = None
    first_plan_seconds: float | None = None
    by_hand: bool = False
    """Whether a person stopped it."""
    known: tuple[Stage, ...] = ()
    """What is proved already of the same week with other goals after its first."""
    labels: int = 0
    least_unplaced: int = 0
    placed_after: tuple[float, float] | None = None
    """When it was known, in seconds and in seconds of work, that no week places more than the best one."""
    by_clock: bool = False
    """Whether the clock ever left less than the effort: another machine might then find another week."""

    def elapsed(self) -> float:
        """Seconds since the run began."""
        return self.monotonic() - self.began

    def remaining(self) -> float:
        """Seconds left; 0 once a person has stopped the run."""
        if self.stop is not None and self.stop():
            self.by_hand = True
            return 0.0
        effort, clock = self.effort_left(), self.clock_left()
        self.by_clock = self.by_clock or clock < effort
        return max(0.0, min(clock, effort))

    def late(self, more: float) -> Callable[[], bool]:
        """Says whether so many seconds have passed since the run was first found to be over."""
        over: list[float] = []

        def is_late() -> bool:
            if not over and self.remaining() > 0:
                return False
            over.append(self.monotonic())
            return over[-1] - over[0] > more

        return is_late

    def clock_left(self) -> float:
        """Seconds left on the clock; 0 once a person has stopped the run."""
        if self.stop is not None and self.stop():
            self.by_hand = True
            return 0.0
        return max(0.0, self.allowed() - self.elapsed())

    def effort_left(self) -> float:
        """Seconds of work left; infinite where effort isn't limited."""
        placed = None if self.placed_after is None else self.placed_after[1]
        return max(0.0, self._allowed(self.effort, placed) - self.model.work.seconds)

    @property
    def by_work(self) -> bool:
        """Whether the run is measured in work."""
        return not math.isinf(self.effort)

    def share_spent(self) -> float:
        """How much of what the run may take it has taken, by clock or by work, whichever is further."""
        placed = None if self.placed_after is None else self.placed_after[1]
        by_clock = _share(self.elapsed(), self.allowed())
        return max(by_clock, _share(self.model.work.seconds, self._allowed(self.effort, placed)))

    def spent(self) -> float:
        """Seconds taken so far: of work where that is limited, else of the clock."""
        return self.model.work.seconds if self.by_work else self.elapsed()

    def ended(self, proof: Proof) -> Ended:
        """What kept a goal open: time, or the limit of the method that was met last.

        Where none is known, the walks had too many labels to give a bound at all.
        """
        time_is_up = self.remaining() <= 0 or proof.timed_out
        if self.by_hand or time_is_up:
            return self.ended_by_time()
        return proof.met[-1] if proof.met else Ended.LABELS

    def ended_by_time(self) -> Ended:
        """Who or what ended a run that is over: a person, the clock, or what it may take of work."""
        if self.by_hand:
            return Ended.PERSON
        return Ended.CLOCK if self.by_clock else Ended.EFFORT

    def is_placing(self) -> bool:
        """Whether the run may still go on because it isn't known yet that no week places more."""
        return self.placed_after is None and self.spent() < self.placing_limit

    def allowed(self) -> float:
        """Seconds from the beginning that the run may take, as far as is known now.

        Placing has what it needs up to its own limit; the goals after it have the usual time from then on.
        """
        return self._allowed(self.time_limit, None if self.placed_after is None else self.placed_after[0])

    def _allowed(self, limit: float, placed_after: float | None) -> float:
        if self.is_placing():
            return max(limit, self.placing_limit)
        return limit + min(self.placing_limit, self.placing_limit if placed_after is None else placed_after)

    def _look_at_placed(self) -> None:
        known = self.best_figures is not None and self.best_figures.unplaced <= self.least_unplaced
        if known and self.placed_after is None:
            self.placed_after = self.elapsed(), self.model.work.seconds

    def known_bound(self, goal: Goal, held: Mapping[Goal, int]) -> int:
        """The bound known of a goal with the goals before it at these values; 0 where none is."""
        before: dict[Goal, int] = {}
        for stage in self.known:
            if stage.goal is goal and before == held:
                return stage.bound
            before[stage.goal] = stage.value
        return 0

    def tell(self, message: str) -> None:
        """Report progress."""
        if self.progress is not None:
            self.progress(self.elapsed(), self.stage, message, self.best_figures)

    def bound(self, goal: Goal, bound: int) -> None:
        """Tell what no week can go below in the goal that is being minimized with those before it held."""
        if goal is Goal.UNPLACED:
            self.least_unplaced = max(self.least_unplaced, bound)
            self._look_at_placed()
        if self.bounded is not None and self.stage == goal:
            self.bounded(goal, bound)

    def offer(self, routes: list[Route]) -> None:
        """Keep a week if it is the best so far, and say so."""
        figures = figures_of(self.model, routes)
        goals = self.model.problem.goals
        if self.best_figures is None or rank(figures, goals) < rank(self.best_figures, goals):
            self.best, self.best_figures = list(routes), figures
            self._look_at_placed()
            if self.found is not None:
                self.found(self.best)
            self.tell("a better week")


def _share(spent: float, allowed: float) -> float:
    return spent / allowed if allowed > 0 else 1.0

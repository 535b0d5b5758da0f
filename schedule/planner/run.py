"""One run of the planner: its clock, its limits, the best week so far and who is told of it."""

from collections.abc import Callable
from dataclasses import dataclass, field

from schedule.planner.problem import Goal
from schedule.planner.proving.proof import Proof
from schedule.planner.result import Ended, GoalFigures
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
    found: Callable[[list[Route]], None] | None = None
    """Told of each week that is better than all before it."""
    began: float = 0.0
    stage: str = "first plan"
    best: list[Route] = field(default_factory=list)
    best_figures: GoalFigures | None = None
    first_plan_seconds: float | None = None
    by_hand: bool = False
    """Whether a person stopped it."""
    labels: int = 0
    least_unplaced: int = 0
    placed_after: float | None = None
    """When it was known, in seconds, that no week places more than the best one."""

    def elapsed(self) -> float:
        """Seconds since the run began."""
        return self.monotonic() - self.began

    def remaining(self) -> float:
        """Seconds left; 0 once a person has stopped the run."""
        if self.stop is not None and self.stop():
            self.by_hand = True
            return 0.0
        return max(0.0, self.allowed() - self.elapsed())

    def ended(self, proof: Proof) -> Ended:
        """What kept a goal open: time, or the limit of the method that was met last.

        Where none is known, the walks had too many labels to give a bound at all.
        """
        time_is_up = self.remaining() <= 0 or proof.timed_out
        if self.by_hand:
            return Ended.PERSON
        if time_is_up:
            return Ended.CLOCK
        return proof.met[-1] if proof.met else Ended.LABELS

    def is_placing(self) -> bool:
        """Whether the run may still go on because it isn't known yet that no week places more."""
        return self.placed_after is None and self.elapsed() < self.placing_limit

    def allowed(self) -> float:
        """Seconds from the beginning that the run may take, as far as is known now.

        Placing has what it needs up to its own limit; the goals after it have the usual time from then on.
        """
        if self.is_placing():
            return max(self.time_limit, self.placing_limit)
        placed_after = self.placing_limit if self.placed_after is None else self.placed_after
        return self.time_limit + min(self.placing_limit, placed_after)

    def _look_at_placed(self) -> None:
        known = self.best_figures is not None and self.best_figures.unplaced <= self.least_unplaced
        if known and self.placed_after is None:
            self.placed_after = self.elapsed()

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

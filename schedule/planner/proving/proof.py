"""What is known of a goal while it is proved, how its time is shared, what its proof leaves to later goals."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from schedule.planner.problem import Goal
from schedule.planner.proving.generation import Root
from schedule.planner.result import Ended
from schedule.planner.week.routes import Route

STAGE_SHARES = {Goal.UNPLACED: 0.6, Goal.WISHES: 0.4, Goal.DRIVING: 0.8, Goal.CHANGE: 0.7, Goal.SAMENESS: 0.7}
"""Of the time left, the most that the proof of one goal may take from the goals after it."""

GENERATION_SHARE = 0.6
"""Of a goal's time, the most that column generation may take from choosing among the columns."""

FEEDING_SHARE = 0.4
"""Of a goal's time, the most that is spent on columns alone."""

PRESSING_SHARE = 0.6
"""Of what is left of a goal's time, the most that goes into more columns before they are chosen among."""

CHOOSING_SHARE = 0.25
"""Of a goal's time, the most for one integer problem over the columns met so far."""

BESIDE = {
    Goal.UNPLACED: {Goal.UNPLACED: 3.0, Goal.WISHES: 1.0},
    Goal.WISHES: {Goal.WISHES: 3.0},
}
"""Driving minutes charged for a minute unplaced or missed while columns are sought for that goal.

Minutes unplaced or missed alone make many routes equally good; driving tells them apart.
"""

SETTLING = frozenset({Goal.DRIVING, Goal.CHANGE})
"""Goals whose proof leaves few columns for the goals after them."""

NEARBY = (3.0, 6.0, 12.0)
MOST_NEARBY = 20_000
"""Columns within so many driving minutes of the blend's bound join those met so far, unless they are too many."""

ROUNDS_OF_MEDIANS = 3

EASILY_CHOSEN = 12_000
"""Fewer columns than this are searched for any better plan, more of them only for plans within the width."""


@dataclass(slots=True)
class Proof:
    """What is known of one goal: the best value with its routes, and a true lower bound.

    ``met``: the limits that were met on the way to proving it, of which the last one kept it open, unless it was
    time that it lacked (``timed_out``).
    """

    value: int
    bound: int
    routes: list[Route]
    met: list[Ended] = field(default_factory=list)
    timed_out: bool = False

    def end(self, misfit: Ended | None) -> None:
        """Ended on the way: because a day can't be walked, else by time."""
        self.met += [misfit] if misfit is not None else []
        self.timed_out = misfit is None

    def closed(self) -> bool:
        """Whether value and bound meet by now."""
        return self.value <= self.bound


@dataclass(frozen=True, slots=True)
class Settled:
    """A goal brought to its best, with the root that it was proved from.

    ``held``: its value and those of the goals that were held. Every plan that keeps them is made of columns whose
    reduced costs lie within ``width``.
    """

    goal: Goal
    held: Mapping[Goal, int]
    root: Root
    width: float

    def holds_in(self, held: Mapping[Goal, int]) -> bool:
        """Whether all of it is held, at these values or better ones."""
        return all(goal in held and held[goal] <= value for goal, value in self.held.items())

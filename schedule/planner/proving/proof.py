"""What is known of a goal while it is proved, and what its proof leaves to those that come after it."""

from collections.abc import Mapping
from dataclasses import dataclass

from schedule.planner.problem import Goal
from schedule.planner.proving.generation import Root
from schedule.planner.week.routes import Route


@dataclass(slots=True)
class Proof:
    """What is known of one goal: the best value with its routes, and a true lower bound."""

    value: int
    bound: int
    routes: list[Route]

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

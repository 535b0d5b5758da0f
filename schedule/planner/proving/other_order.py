"""What another order of the same goals would give, worked out from where the asked order ended.

Both orders begin with the same goals (what is owed, what the contract wishes). Their values are held, so that only
the goals on which the orders differ are asked anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from schedule.planner.problem import Goal
from schedule.planner.proving.exact import Exact
from schedule.planner.result import Stage, Status
from schedule.planner.week.floors import floor_of
from schedule.planner.week.model import Model
from schedule.planner.week.objective import figures_of
from schedule.planner.week.routes import Route


@dataclass(frozen=True, slots=True)
class OtherWeek:
    """A week in the other order. ``proved``: in that order there is none better, sameness left aside."""

    routes: list[Route]
    proved: bool


def in_other_order(
    model: Model, exact: Exact, best: Sequence[Route], stages: Sequence[Stage], goals: tuple[Goal, ...]
) -> OtherWeek | None:
    """The best week in the order of ``goals``, ``stages`` being what is known in the problem's own order.

    ``None`` where nothing is proved and no week was met that is better in that order than the one at hand: what
    that order gives isn't known then. Sameness is left aside: it says nothing of moves and driving.
    """
    wanted = tuple(goal for goal in goals if goal is not Goal.SAMENESS)
    shared = _shared(wanted, tuple(stage.goal for stage in stages))
    held = {stage.goal: stage.value for stage in stages[:shared]}
    proved = all(stage.status is Status.OPTIMAL for stage in stages[:shared])
    routes = list(best)
    for goal in wanted[shared:]:
        proof = exact.prove(goal, held, routes, floor_of(model, goal))
        routes, proved = list(proof.routes), proved and proof.closed()
        held[goal] = proof.value
    ours, theirs = figures_of(model, best), figures_of(model, routes)
    if not proved and theirs.in_order(wanted) >= ours.in_order(wanted):
        return None
    return OtherWeek(routes, proved)


def _shared(one: tuple[Goal, ...], other: tuple[Goal, ...]) -> int:
    """How many goals both orders begin with."""
    differ = (number for number, (a, b) in enumerate(zip(one, other, strict=False)) if a is not b)
    return next(differ, min(len(one), len(other)))

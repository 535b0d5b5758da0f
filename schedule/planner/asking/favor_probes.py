"""Quick search for what a favor could give: a week that uses it, made from the best week known.

A probe puts a session at an opened start, takes out what is in its way, puts that back elsewhere, and (where time
is given) searches on from there. A better week found so is a true one; that none was found says nothing.
"""

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from schedule.planner.asking.favor_kinds import Favor, granted, granted_together
from schedule.planner.problem import Problem
from schedule.planner.result import Itinerary
from schedule.planner.week.forcing import weeks_with
from schedule.planner.week.improve import improve
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import Node
from schedule.planner.week.routes import plan_of
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import closest_state

ROUNDS = 60
"""Rounds of large neighborhood search from a probe's week."""

type NodeKey = tuple[str, int, int, int]


@dataclass(slots=True)
class Probe:
    """The best week found with a favor. ``rank`` as in ``State.rank``: less is better."""

    favor: Favor
    state: WeekState

    @property
    def rank(self) -> int:
        """All goals in order as one integer."""
        return self.state.rank

    @property
    def plan(self) -> Itinerary:
        """The week as a plan of the problem with the favor granted. Not yet judged."""
        return plan_of(self.state.model, self.state.routes)


class Prober:
    """Probes favors against one best week. One model holds all starts of those favors that only open some."""

    def __init__(self, problem: Problem, plan: Itinerary, favors: Sequence[Favor]) -> None:
        self.problem = problem
        self.plan = plan
        simple = [favor for favor in favors if _is_simple(favor)]
        own = build_model(problem)
        self.known = [{_key(node) for node in day.nodes} for day in own.days]
        self.union = build_model(granted_together(problem, simple))
        empty = WeekState(self.union)
        self.every_node = empty.by_service
        self.base = closest_state(self._narrowed(empty, ()), plan)

    def probe(self, favor: Favor) -> Probe | None:
        """The best week found by one insertion each; ``None`` where no week can be laid out."""
        if not _is_simple(favor):
            return self._laid_out(favor)
        if self.base is None:
            return None
        nodes = list(self._nodes_of(favor))
        start = self._narrowed(self.base, nodes)
        best: WeekState | None = None
        for day, node in nodes:
            for trial in weeks_with(start, day, node):
                if best is None or trial.rank < best.rank:
                    best = trial
        return None if best is None else Probe(favor, best)

    def searched(self, probe: Probe, rng: random.Random, halted: Callable[[], bool], rounds: int = ROUNDS) -> Probe:
        """The probe after some rounds of search from its week."""
        found = improve(probe.state, rng, rounds, halted, lambda _: None, patience=rounds, bold=False)
        return Probe(probe.favor, found)

    def _laid_out(self, favor: Favor) -> Probe | None:
        state = closest_state(WeekState(build_model(granted(self.problem, favor))), self.plan)
        return None if state is None else Probe(favor, state)

    def _nodes_of(self, favor: Favor) -> Iterable[tuple[int, int]]:
        """(day, node) of the starts that the favor opens, in the model of all."""
        for unit, start in favor.opened:
            day = self.union.problem.day_index(start.day)
            for number, node in enumerate(self.union.days[day].nodes):
                same = (node.unit, node.start) == (unit, start.at)
                if same and self.union.place_ids[node.place] == start.place and _key(node) not in self.known[day]:
                    yield day, number

    def _narrowed(self, state: WeekState, opened: Sequence[tuple[int, int]]) -> WeekState:
        """A copy that may use only the starts that there are without a favor, and these."""
        more = set(opened)
        twin = state.copy()
        twin.by_service = [
            [
                [n for n in nodes if (day, n) in more or _key(self.union.days[day].nodes[n]) in self.known[day]]
                for nodes in services
            ]
            for day, services in enumerate(self.every_node)
        ]
        return twin


def _is_simple(favor: Favor) -> bool:
    """Whether it opens starts and does nothing else."""
    return not favor.closed and not favor.days


def _key(node: Node) -> NodeKey:
    return node.unit or "", node.start, node.end, node.place

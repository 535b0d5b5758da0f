"""The tour of one day by dynamic programming: exact, lunch and all, where the sets of visits are few enough.

Dynamic programming over sets of services held, in order of time, with the elimination of states from which
some service can no longer be reached: Y. Dumas, J. Desrosiers, E. Gelinas and M. M. Solomon (1995), "An optimal
algorithm for the traveling salesman problem with time windows", Operations Research 43.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from itertools import pairwise, product
from operator import or_

from schedule.planner.proving.columns import DayGraph
from schedule.planner.proving.labels import ARC_DRIVE, TO, WITH_LUNCH
from schedule.planner.week.model import Model
from schedule.planner.week.routes import Route, timed_route
from schedule.planner.week.work import STATE, HaltedError

LOOK_EVERY = 256

type Key = tuple[int, int]
"""Services held (a bit each), and 1 once lunch is had."""


@dataclass(slots=True)
class TourState:
    """The cheapest way found to a node with the same services held."""

    cost: int
    node: int
    key: Key
    parent: "TourState | None"
    lunch_here: bool


class StatesRanOutError(Exception):
    """More states than allowed, or the time is up. Raised and caught inside the search only."""


def tour_by_states(model: Model, most: int, halted: Callable[[], bool]) -> Route | None:
    """The day of least driving with everything placed; ``None`` where no such day exists.

    Raises ``StatesRanOutError`` after ``most`` states, or once ``halted`` says that the time is up.
    """
    try:
        search = _Search(model, halted)
    except HaltedError as error:
        raise StatesRanOutError from error
    end = search.run(most, halted)
    return None if end is None else search.route(end)


class _Search:
    """The states of one day, node by node in order of time."""

    def __init__(self, model: Model, halted: Callable[[], bool]) -> None:
        self.graph = DayGraph(model.days[0], every_start=False, halted=halted)
        self.day = model.days[0]
        nodes = [self.day.nodes[n] for n in self.graph.nodes]
        self.nodes = nodes
        self.last = len(nodes) - 1
        self.bits = [sum(1 << service for service in node.services) for node in nodes]
        self.everything = (1 << len(model.owed)) - 1
        steps = list(map(tuple, self.graph.arcs[:, [TO, WITH_LUNCH, ARC_DRIVE]].tolist()))
        self.steps: list[list[tuple[int, int, int]]] = [
            steps[begin:end] for begin, end in pairwise(self.graph.graph.arc_from.tolist())
        ]
        self.reach = self._reach(model)
        self.work = model.work

    def _reach(self, model: Model) -> list[int]:
        """For each node the services that can still follow it.

        Where going by way of another visit is never quicker than going straight, what can't be reached
        straight can't be reached at all, but for what lies behind a visit that every day holds; else only the
        clock counts.
        """
        if not _straight_is_quickest(model, min((n.end - n.start for n in self.nodes[1:-1]), default=0)):
            return [reduce(or_, self.bits[i + 1 : self.last], 0) for i in range(len(self.nodes))]
        required = {at for at, number in enumerate(self.graph.nodes) if number in set(self.day.required)}
        found = [0] * len(self.nodes)
        for at in reversed(range(self.last)):
            behind = (found[to] if to in required else 0 for to, _, _ in self.steps[at])
            found[at] = reduce(or_, behind, reduce(or_, (self.bits[to] for to, _, _ in self.steps[at]), 0))
        return found

    def run(self, most: int, halted: Callable[[], bool]) -> TourState | None:
        """The cheapest state at the end of the day with everything held."""
        waiting: list[dict[Key, TourState]] = [{} for _ in self.nodes]
        first: Key = (0, 0 if self.day.day.lunch is not None else 1)
        waiting[0][first] = TourState(0, 0, first, None, False)
        seen: dict[tuple[int, int, Key], tuple[int, int]] = {}
        made = looked = 0
        for number in range(self.last):
            for state in waiting[number].values():
                if self._beaten(state, seen):
                    continue
                made += self._extend(state, waiting)
                if made >= looked + LOOK_EVERY:
                    self.work.add(STATE * (made - looked))
                    looked = made
                    if made > most or halted():
                        raise StatesRanOutError
            waiting[number] = {}
        return min(waiting[self.last].values(), key=lambda state: state.cost, default=None)

    def _beaten(self, state: TourState, seen: dict[tuple[int, int, Key], tuple[int, int]]) -> bool:
        """Whether the same visits ending with the same service were had sooner at no more cost."""
        node = self.nodes[state.node]
        where = (self.bits[state.node], node.place, state.key)
        best = seen.get(where)
        if best is not None and best[0] <= state.cost and best[1] <= node.end:
            return True
        if best is None or state.cost < best[0]:
            seen[where] = (state.cost, node.end)
        return False

    def _extend(self, state: TourState, waiting: list[dict[Key, TourState]]) -> int:
        held, lunch = state.key
        if self.everything & ~held & ~self.reach[state.node]:
            return 0
        made = 0
        for to, with_lunch, drive in self.steps[state.node]:
            if held & self.bits[to] or lunch + with_lunch > 1:
                continue
            key = (held | self.bits[to], lunch + with_lunch)
            if to == self.last and key != (self.everything, 1):
                continue
            known = waiting[to].get(key)
            if known is None or state.cost + drive < known.cost:
                waiting[to][key] = TourState(state.cost + drive, to, key, state, bool(with_lunch))
                made += 1
        return made

    def route(self, end: TourState) -> Route:
        """The route of a state at the end of the day, timed afresh."""
        path: list[TourState] = []
        state: TourState | None = end
        while state is not None:
            path.append(state)
            state = state.parent
        path.reverse()
        lunch = next((n for n, one in enumerate(path[1:]) if one.lunch_here), -1)
        return timed_route(self.day, tuple(self.graph.nodes[one.node] for one in path[1:-1]), lunch)


def _straight_is_quickest(model: Model, shortest_visit: int) -> bool:
    every = range(len(model.place_ids))
    return all(
        model.leg[a][c] <= model.leg[a][b] + shortest_visit + model.leg[b][c]
        for a, b, c in product(every, repeat=3)
        if len({a, b, c}) == 3
    )

"""Whole days as columns: the day's graph, and the walks over it that find routes worth having."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np

from schedule.planner.proving.arcs import Bits, Steps, arrays_of, into_nodes, remembered_near, usable_nodes
from schedule.planner.proving.completions import backward, ways_in
from schedule.planner.proving.labels import (
    ARC_DRIVE,
    ARC_PREPARED,
    BY,
    EPSILON,
    FOLLOWING,
    INSIDE,
    LUNCH,
    NEXT,
    NODE,
    PARENT,
    THEN,
    TO,
    WITH_LUNCH,
    Charge,
    Costs,
    Floats,
    Graph,
    Ints,
    Rules,
    Suffixes,
    Walk,
)
from schedule.planner.proving.walks import enumerate_all, forward
from schedule.planner.result import Ended
from schedule.planner.week.model import DayModel, Model, off_times
from schedule.planner.week.routes import Route, best_route, timed_route
from schedule.planner.week.work import ARC, LABEL, ROUTE, UNITS_A_SECOND

MOST_BITS = 62
"""Services (counted as often as they may be held on one day) that one day's mask can tell apart."""

MOST_ARCS = 4_000_000
"""Steps of all days together; some 80 bytes each."""

MOST_ROUTES = 60_000
"""Whole days of one day: more of them can't be chosen among."""

NO_LIMIT = 10**12
"""Labels where work isn't limited."""

WORK_A_LABEL = 400
"""Steps a walk may take for each label it may make; a few nanoseconds each."""

MOST_SUFFIXES = 150_000
"""Labels of a backward walk at most."""

REMEMBERED = 5
"""Services near a place that the backward walk remembers from the start; more as cycles are seen."""

REMEMBERED_ON_THE_WAY = 3
"""Services near a place that the bound on the way there remembers."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What a route is charged with in one walk, from the duals of the master.

    Its reduced cost is ``drive`` a minute at the wheel, plus ``missed`` a minute of a wish missed, less
    ``prepared`` a minute of preparation, less ``kept`` a session held as in the week in force, less each
    service's prize (``prizes``, one a service) a session of it, less ``convexity``, which the day asks of any
    route. The first four are never negative.
    """

    drive: float
    missed: float
    prepared: float
    kept: float
    prizes: Floats
    convexity: float


@dataclass(frozen=True, slots=True)
class Relaxed:
    """An ng-route, which may hold a service twice: for bounds, never for plans. ``path``: the graph's numbers."""

    route: Route
    path: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Bounded:
    """A day under certain weights: its arcs' costs, completion bounds and the least reduced cost.

    ``share`` and ``prepared``: what each minute of the day's wished preparation was charged in advance, as a share
    of a missed minute's charge and in the master's units. ``least`` is true as far down as the walk was asked to
    look; days above that are left out, so it may be infinite.
    """

    weights: Weights
    share: float
    prepared: float
    arc_cost: Floats
    suffixes: Suffixes
    least: float


@dataclass(frozen=True, slots=True)
class PricedRoutes:
    """Routes found, and whether the walk was complete; ``too_many``: it was, but they aren't made."""

    routes: list[Route]
    complete: bool
    too_many: bool = False


def drives_are_short_cuts(model: Model) -> bool:
    """Whether driving straight is never longer than driving by way of a third place."""
    every = range(len(model.place_ids))
    return all(
        model.drive[a][c] <= model.drive[a][b] + model.drive[b][c]
        and model.leg[a][c] <= model.leg[a][b] + model.leg[b][c]
        for a, b, c in product(every, repeat=3)
        if len({a, b, c}) == 3
    )


class DayGraph:
    """One day as arrays. ``every_start``: keep arcs to every start, not only to the earliest reachable.

    Raises ``HaltedError`` once ``halted`` says that the time is up.
    """

    def __init__(self, day: DayModel, *, every_start: bool, halted: Callable[[], bool] = lambda: False) -> None:
        self.day = day
        self.model = day.model
        self.labels = 0
        """Labels made by all forward walks so far."""
        self.work = 0
        """Units of work of the walks since somebody counted them (``Walkers.each``)."""
        self.most_labels = NO_LIMIT
        self.was_cut = False
        """Whether a walk ended because it had made as many labels as the work left allows."""
        self.nodes = usable_nodes(day)
        self.skip = drives_are_short_cuts(self.model)
        self.bits = Bits.of(day, self.nodes)
        rows: Ints | None = None
        if self.bits.count <= MOST_BITS:
            most = MOST_ARCS // len(self.model.days)
            rows = Steps(day, self.nodes).rows(every_start=every_start, most=most, halted=halted)
        self.misfit = (Ended.SERVICES if self.bits.count > MOST_BITS else Ended.STARTS) if rows is None else None
        """Why the day can't be walked, where it can't."""
        self.halt = np.zeros(1, np.int64)
        """Set its only value, from any thread, to end a walk that is under way: see ``Graph``."""
        if rows is not None:
            nearest = remembered_near(day, self.nodes, self.bits, REMEMBERED_ON_THE_WAY)
            near = remembered_near(day, self.nodes, self.bits, REMEMBERED)
            self.graph = arrays_of(day, self.nodes, self.bits, rows, near, nearest, self.halt)
            self.light = self.graph._replace(near=nearest)  # noqa: SLF001 - a method of every named tuple
            self.arcs = self.graph.arcs
            self.work += ARC * len(rows)
            self.into_from, self.into = into_nodes(rows, len(self.nodes))

    def use_times(self, times: Mapping[int, int]) -> None:
        """Count a session of these services by its minutes off the time given here, the others as they are."""
        for number, node in enumerate(self.nodes):
            one = self.day.nodes[node]
            self.graph.off[number] = one.off + off_times(one, times)

    # ---- walking -----------------------------------------------------------------------------------------

    def may_take(self, seconds: float) -> None:
        """From now on walks take so many seconds of work at most."""
        self.most_labels, self.was_cut = round(min(seconds * UNITS_A_SECOND / LABEL, NO_LIMIT)), False

    def _made(self, labels: int, most: int, *, complete: bool) -> None:
        """Count the labels of a walk that could make ``most`` but for the work left."""
        self.was_cut = self.was_cut or (not complete and self.most_labels < most)
        self.work += LABEL * labels
        self.most_labels -= labels

    def arc_costs(self, weights: Weights) -> Floats:
        """The reduced cost of every arc, prizes of its end taken off."""
        nodes = [self.day.nodes[n] for n in self.nodes]
        ends = np.array(
            [-sum(weights.prizes[s] for s in node.services) - weights.kept * node.kept for node in nodes]
        )
        arcs = self.arcs
        cost = weights.drive * arcs[:, ARC_DRIVE] - weights.prepared * arcs[:, ARC_PREPARED]
        return np.asarray(cost + ends[arcs[:, TO]], np.float64)

    def bounded(self, weights: Weights, share: float, gap: float, *, no_miss: bool) -> Bounded:
        """The backward walk under certain weights, as far as days of a reduced cost of at most ``gap`` need it.

        ``share`` of the wished preparation is charged in advance: of a missed minute's charge, or of a driven
        minute's where none may be missed. Any share that is not negative (and not above 1 where minutes may be
        missed) gives a true bound (``Charge``); ``generation.Shares`` seeks the one that gives the best.
        """
        want = self.day.day.preparation_minutes
        prepared = share * (max(weights.drive, 1.0) if no_miss else weights.missed) if want else 0.0
        arc_cost = self.arc_costs(weights)
        charge = Charge(arc_cost - prepared * self.arcs[:, ARC_PREPARED], prepared, weights.missed, no_miss)
        before = ways_in(self.graph, charge, self.lunch == 1)
        limit = weights.convexity - prepared * want + gap + 10 * EPSILON
        suffixes = self._backward(self.graph, charge, before, limit)
        if not suffixes.complete:
            # Early weights can make every day look worth having: remembering less bounds them just as truly.
            suffixes = self._backward(self.light, charge, before, limit)
        least = self._least(suffixes) + prepared * want - weights.convexity if suffixes.complete else -math.inf
        return Bounded(weights, share, prepared, arc_cost, suffixes, least)

    def _backward(self, graph: Graph, charge: Charge, before: Floats, limit: float) -> Suffixes:
        most = max(0, min(MOST_SUFFIXES, self.most_labels))
        found = backward(graph, self.into_from, self.into, charge, self.model.stretch, before, limit, most)
        self.work += ARC * len(self.arcs)
        self._made(found.cost.shape[0] if found.complete else most, MOST_SUFFIXES, complete=found.complete)
        return found

    def _least(self, suffixes: Suffixes) -> float:
        """The least cost of a whole day in a backward walk; infinite where no day is possible."""
        at = int(suffixes.head[0])
        while at >= 0 and suffixes.lists[at, INSIDE] != self.lunch:
            at = int(suffixes.lists[at, FOLLOWING])
        return float(suffixes.cost[at]) if at >= 0 else math.inf

    @property
    def lunch(self) -> int:
        """1 where the day has a lunch, else 0: what a whole day's backward label must hold."""
        return int(self.day.day.lunch is not None)

    def relaxed(self, bounded: Bounded, most: int) -> list[Relaxed]:
        """The cheapest ng-routes of a backward walk, up to ``most`` of negative reduced cost.

        The lists of the day's beginning are in order of cost, and each label there is a whole day.
        """
        found: list[Relaxed] = []
        suffixes = bounded.suffixes
        below = bounded.weights.convexity - bounded.prepared * self.day.day.preparation_minutes - 10 * EPSILON
        at = int(suffixes.head[0])
        while at >= 0 and len(found) < most and suffixes.cost[at] < below:
            if suffixes.lists[at, INSIDE] == self.lunch:
                found.append(self._relaxed(suffixes, at))
            at = int(suffixes.lists[at, FOLLOWING])
        return found

    def _relaxed(self, suffixes: Suffixes, at: int) -> Relaxed:
        path: list[int] = []
        lunch_gap = -1
        while suffixes.lists[at, THEN] >= 0:
            arc = int(suffixes.lists[at, BY])
            if self.arcs[arc, WITH_LUNCH]:
                lunch_gap = len(path)
            path.append(int(self.arcs[arc, TO]))
            at = int(suffixes.lists[at, THEN])
        inner = tuple(path[:-1])
        return Relaxed(timed_route(self.day, tuple(self.nodes[n] for n in inner), lunch_gap), inner)

    def repeats(self, path: tuple[int, ...]) -> list[tuple[int, int, int]]:
        """Services met twice, as (first position, second position, bit), the closest pairs first."""
        last: dict[int, int] = {}
        found: list[tuple[int, int, int]] = []
        for at, node in enumerate(path):
            bits = int(self.graph.once[node])
            while bits:
                bit = bits & -bits
                if bit in last:
                    found.append((last[bit], at, bit))
                last[bit] = at
                bits ^= bit
        return sorted(found, key=lambda one: (one[1] - one[0], one))

    def remember(self, path: tuple[int, ...], repeat: tuple[int, int, int]) -> None:
        """From now on a backward walk remembers the service at the places between its two visits.

        Neighborhoods grown where cycles are seen, after R. Roberti and A. Mingozzi (2014), "Dynamic ng-path
        relaxation for the delivery man problem", Transportation Science 48.
        """
        first, second, bit = repeat
        places = {self.day.nodes[self.nodes[node]].place for node in path[first : second + 1]}
        for number, node in enumerate(self.nodes):
            if self.day.nodes[node].place in places:
                self.graph.near[number] |= bit

    def still_relaxed(self, path: tuple[int, ...]) -> bool:
        """Whether a path is an ng-route under what is remembered now."""
        memory = 0
        for at in range(len(path) - 1, -1, -1):
            bits = int(self.graph.once[path[at]])
            if memory & bits:
                return False
            if at:
                memory = (memory | bits) & int(self.graph.near[path[at - 1]])
        return True

    def mended(self, relaxed: Relaxed) -> Route | None:
        """The ng-route without second visits, where drives are short cuts; lunch where it still fits."""
        if not self.skip:
            return None
        seen, visits = 0, list[int]()
        for node in relaxed.path:
            bits = int(self.graph.once[node])
            if not seen & bits:
                visits.append(self.nodes[node])
                seen |= bits
        return best_route(self.day, [n for n in visits if not self._copy(n)])

    def _copy(self, node: int) -> bool:
        return any(node in copies for copies in self.day.one_of)

    def _pay(self, weights: Weights) -> Floats:
        """For each bit, the most that leaving its visits out can cost."""
        pay = np.zeros(MOST_BITS + 1, np.float64)
        for n in self.nodes:
            node = self.day.nodes[n]
            lost = sum(max(0.0, weights.prizes[s]) for s in node.services) + weights.kept * node.kept
            for service in node.services:
                for bit in range(self.bits.low[service], self.bits.high[service]):
                    pay[bit] = max(pay[bit], lost)
        return pay

    def _rules(self, *, no_miss: bool, cap: int, beam: int, max_labels: int) -> Rules:
        most = max(1, min(max_labels, self.most_labels))
        return Rules(
            stretch=self.model.stretch,
            want=self.day.day.preparation_minutes,
            cap=cap,
            needs_lunch=self.day.day.lunch is not None,
            no_miss=no_miss,
            skip=self.skip,
            beam=beam,
            max_labels=most,
            max_work=most * WORK_A_LABEL,
        )

    def price(
        self, bounded: Bounded, below: float, *, no_miss: bool, beam: int, max_labels: int, most: int
    ) -> PricedRoutes:
        """Routes of a reduced cost below ``below`` (0 or less), the best ``most`` of them."""
        weights = bounded.weights
        threshold = weights.convexity + below - 10 * EPSILON
        costs = Costs(bounded.arc_cost, self._pay(weights), weights.missed, bounded.prepared, threshold)
        want = self.day.day.preparation_minutes
        rules = self._rules(no_miss=no_miss, cap=want, beam=beam, max_labels=max_labels)
        walk = forward(self.graph, costs, rules, bounded.suffixes)
        self.labels += int(walk.made)
        self._made(int(walk.made), max_labels, complete=walk.complete)
        found = self._ends(walk)
        found.sort(key=lambda at: walk.cost[at])
        return PricedRoutes([self._route(walk, at) for at in found[:most]], walk.complete)

    def enumerate_below(self, bounded: Bounded, gap: float, *, no_miss: bool, max_labels: int) -> PricedRoutes:
        """Every route (the good ones of each set of services) of reduced cost at most ``gap``."""
        weights = bounded.weights
        threshold = weights.convexity + gap + 10 * EPSILON
        costs = Costs(bounded.arc_cost, self._pay(weights), weights.missed, bounded.prepared, threshold)
        want = self.day.day.preparation_minutes
        cap = -1 if self.model.preparation_wish else want
        rules = self._rules(no_miss=no_miss, cap=cap, beam=0, max_labels=max_labels)
        walk = enumerate_all(self.graph, costs, rules, bounded.suffixes)
        self.labels += int(walk.made)
        ends = self._ends(walk)
        self._made(int(walk.made), max_labels, complete=walk.complete)
        if len(ends) > MOST_ROUTES:
            return PricedRoutes([], walk.complete, too_many=True)
        self.work += ROUTE * len(ends)
        routes: list[Route] = []
        for at in ends:
            if self.halt[0]:
                return PricedRoutes(routes, complete=False)
            routes.append(self._route(walk, at))
        return PricedRoutes(routes, walk.complete)

    def _ends(self, walk: Walk) -> list[int]:
        found: list[int] = []
        at = walk.last
        while at >= 0:
            if walk.table[at, PARENT] >= -1:
                found.append(int(at))
            at = walk.table[at, NEXT]
        return found

    def _route(self, walk: Walk, at: int) -> Route:
        """The label's path, timed afresh: a label's figures are capped and its cost is a sum of duals."""
        path: list[int] = []
        lunch_gap = -1
        while at > 0:
            parent = int(walk.table[at, PARENT])
            path.append(self.nodes[walk.table[at, NODE]])
            if walk.table[at, LUNCH] > walk.table[parent, LUNCH]:
                lunch_gap = len(path)
            at = parent
        visits = tuple(reversed(path[1:]))
        gap = len(path) - lunch_gap if lunch_gap > 0 else -1
        return timed_route(self.day, visits, gap)

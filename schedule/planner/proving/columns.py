"""Whole days as columns: the day's graph, and the walks over it that find routes worth having."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np

from schedule.planner.proving.arcs import Arc, Steps
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
    enumerate_all,
    forward,
)
from schedule.planner.week.model import OPEN, DayModel, Model, off_times
from schedule.planner.week.routes import Route, best_route, timed_route

MOST_BITS = 62
"""Services (counted as often as they may be held on one day) that one day's mask can tell apart."""

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
    """What a route is charged with in one walk: the reduced cost of its figures and its services."""

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

    ``prepared`` is what each minute of the day's wished preparation was charged in advance.
    """

    weights: Weights
    share: float
    prepared: float
    arc_cost: Floats
    suffixes: Suffixes
    least: float


@dataclass(frozen=True, slots=True)
class PricedRoutes:
    """Routes found, and whether the walk was complete."""

    routes: list[Route]
    complete: bool


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
    """One day as arrays. ``every_start``: keep arcs to every start, not only to the earliest reachable."""

    def __init__(self, day: DayModel, *, every_start: bool) -> None:
        self.day = day
        self.model = day.model
        self.labels = 0
        """Labels made by all walks so far."""
        self.nodes = [n for n in range(len(day.nodes)) if self._usable(n)]
        self.skip = drives_are_short_cuts(self.model)
        self.low, self.high, self.bits = self._number_bits()
        self.fits = self.bits <= MOST_BITS
        self.halt = np.zeros(1, np.int64)
        """Set its only value, from any thread, to end a walk that is under way: see ``Graph``."""
        if self.fits:
            rows = Steps(day, self.nodes).rows(every_start=every_start)
            self.arcs = np.array([row[1:] for row in rows], np.int64).reshape(-1, 5)
            self.graph = self._graph(rows, REMEMBERED)
            self.light = self._graph(rows, REMEMBERED_ON_THE_WAY)
            self.into_from, self.into = self._reversed(rows)

    # ---- building ----------------------------------------------------------------------------------------

    def _usable(self, number: int) -> bool:
        """Whether a node can be in any plan, given the pins on other sessions of its services."""
        node = self.day.nodes[number]
        return node.fixed or all(self._free_of_pins(service) for service in node.services)

    def _free_of_pins(self, service: int) -> bool:
        model = self.model
        if model.pinned[service] >= model.owed[service]:
            return False
        days = [day.index for day in model.days for n in day.required if service in day.nodes[n].services]
        return all(abs(day - self.day.index) >= model.days_apart[service] for day in days)

    def _number_bits(self) -> tuple[list[int], list[int], int]:
        uses = [0] * len(self.model.owed)
        for n in self.nodes:
            for service in self.day.nodes[n].services:
                uses[service] += 1
        low, high, at = [0] * len(uses), [0] * len(uses), 0
        for service, count in enumerate(uses):
            most = 1 if self.model.days_apart[service] else self.model.owed[service]
            low[service] = at
            at += min(count, most)
            high[service] = at
        return low, high, at

    def _graph(self, rows: list[Arc], remembered: int) -> Graph:
        nodes = [self.day.nodes[n] for n in self.nodes]
        size = len(nodes)
        counts = np.bincount([row[0] for row in rows], minlength=size) if rows else np.zeros(size, int)
        members = [list(node.services) for node in nodes]
        stretched = self.model.problem.longest_stretch is not None
        return Graph(
            arc_from=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
            arcs=self.arcs,
            member_from=np.concatenate([[0], np.cumsum([len(one) for one in members])]).astype(np.int64),
            members=np.array([service for one in members for service in one], np.int64),
            low=np.array(self.low, np.int64),
            high=np.array(self.high, np.int64),
            begins=np.array([node.start if stretched else 0 for node in nodes], np.int64),
            ends=np.array([node.end if stretched else 0 for node in nodes], np.int64),
            kept=np.array([node.kept for node in nodes], np.int64),
            off=np.array([node.off for node in nodes], np.int64),
            near=self._near(remembered),
            nearest=self._near(REMEMBERED_ON_THE_WAY),
            once=np.array([self._once(node.services) for node in nodes], np.int64),
            halt=self.halt,
        )

    def _once(self, services: tuple[int, ...]) -> int:
        return sum(1 << self.low[s] for s in services if self.high[s] - self.low[s] == 1)

    def _near(self, most: int) -> Ints:
        """For each node the bits of the services that a backward walk remembers there."""
        nodes = [self.day.nodes[n] for n in self.nodes]
        homes = {service: node.place for node in nodes for service in node.services}
        near: dict[int, int] = {}
        for place in {node.place for node in nodes}:
            there = sorted(homes, key=lambda s: (self._distance(place, homes[s]), s))
            near[place] = sum(self._once((s,)) for s in there[:most])
        return np.array([near[node.place] | self._once(node.services) for node in nodes], np.int64)

    def _distance(self, a: int, b: int) -> int:
        return 0 if OPEN in {a, b} else self.model.drive[a][b]

    def _reversed(self, rows: list[Arc]) -> tuple[Ints, Ints]:
        order = sorted(range(len(rows)), key=lambda n: rows[n][1])
        size = len(self.nodes)
        counts = np.bincount([row[1] for row in rows], minlength=size) if rows else np.zeros(size, int)
        into = np.array([(rows[n][0], n) for n in order], np.int64).reshape(-1, 2)
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64), into

    def use_times(self, times: Mapping[int, int]) -> None:
        """Count a session of these services by its minutes off the time given here, the others as they are."""
        for number, node in enumerate(self.nodes):
            one = self.day.nodes[node]
            self.graph.off[number] = one.off + off_times(one, times)

    # ---- walking -----------------------------------------------------------------------------------------

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

        ``share`` of the wished preparation is charged in advance.

        ``share`` is of a missed minute's charge, or of a driven minute's where none may be missed: any share that
        is not negative (and not above 1 where minutes may be missed) gives a true bound.
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
        return backward(graph, self.into_from, self.into, charge, self.model.stretch, before, limit, MOST_SUFFIXES)

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
        """The cheapest ng-routes of a backward walk, up to ``most`` of negative reduced cost."""
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

        Neighbourhoods grown where cycles are seen, after R. Roberti and A. Mingozzi (2014), "Dynamic ng-path
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
        return any(node in copies for copies in self.day.placeless)

    def _pay(self, weights: Weights) -> Floats:
        """For each bit, the most that leaving its visits out can cost."""
        pay = np.zeros(MOST_BITS + 1, np.float64)
        for n in self.nodes:
            node = self.day.nodes[n]
            lost = sum(max(0.0, weights.prizes[s]) for s in node.services) + weights.kept * node.kept
            for service in node.services:
                for bit in range(self.low[service], self.high[service]):
                    pay[bit] = max(pay[bit], lost)
        return pay

    def _rules(self, *, no_miss: bool, cap: int, beam: int, max_labels: int) -> Rules:
        return Rules(
            stretch=self.model.stretch,
            want=self.day.day.preparation_minutes,
            cap=cap,
            needs_lunch=self.day.day.lunch is not None,
            no_miss=no_miss,
            skip=self.skip,
            beam=beam,
            max_labels=max_labels,
            max_work=max_labels * WORK_A_LABEL,
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
        routes: list[Route] = []
        for at in self._ends(walk):
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
        """The label's path, timed afresh so that no stored cost is trusted."""
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

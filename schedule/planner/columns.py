"""Whole days as columns: the day's graph, and the walks over it that find routes worth having."""

from dataclasses import dataclass
from itertools import product

import numpy as np

from schedule.planner.labels import (
    ARC_DRIVE,
    ARC_PREPARED,
    EPSILON,
    LUNCH,
    NEXT,
    NODE,
    PARENT,
    TO,
    WITH_LUNCH,
    Costs,
    Floats,
    Graph,
    Ints,
    Rules,
    Suffixes,
    Walk,
    backward,
    enumerate_all,
    forward,
)
from schedule.planner.model import OPEN, DayModel, Model
from schedule.planner.routes import Route, timed_route

MOST_BITS = 62
"""Services (counted as often as they may be held on one day) that one day's mask can tell apart."""

WORK_A_LABEL = 400
"""Steps a walk may take for each label it may make; a few nanoseconds each."""

REMEMBERED = 10
"""Services near a place that the backward walk remembers."""


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
class Priced:
    """Routes found, the least reduced cost seen or bounded, and whether the walk was complete."""

    routes: list[Route]
    bound: float
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


def _cheapest(suffixes: Suffixes, at: int) -> int:
    """The cheapest label of a list."""
    best = at
    while at >= 0:
        if suffixes.cost[at] < suffixes.cost[best]:
            best = at
        at = int(suffixes.following[at])
    return best


class DayGraph:
    """One day as arrays. ``every_start``: keep arcs to every start, not only to the earliest reachable."""

    def __init__(self, day: DayModel, *, every_start: bool) -> None:
        self.day = day
        self.model = day.model
        self.labels = 0
        """Labels made by all walks so far."""
        wishes = self.model.uses_wishes
        self.nodes = [n for n in range(len(day.nodes)) if self._usable(n)]
        self.skip = drives_are_short_cuts(self.model)
        self.low, self.high, self.bits = self._number_bits()
        self.fits = self.bits <= MOST_BITS
        if self.fits:
            rows = self._arcs(every_start or wishes)
            self.arcs = np.array([row[1:] for row in rows], np.int64).reshape(-1, 5)
            self.graph = self._graph(rows)
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

    def _slots_before(self) -> tuple[list[int], list[int]]:
        """For each usable node, required visits over by its start, and by its end (itself included)."""
        nodes = self.day.nodes
        slots = [nodes[n] for n in self.day.required]
        slots += [nodes[copies[0]] for copies in self.day.placeless if copies]
        by_start = [sum(slot.end <= nodes[n].start for slot in slots) for n in self.nodes]
        by_end = [sum(slot.end <= nodes[n].end for slot in slots) for n in self.nodes]
        return by_start, by_end

    def _arcs(self, every_start: bool) -> list[tuple[int, int, int, int, int, int]]:
        """Rows of (from, to, with lunch, drive, preparation, rest), in order of from."""
        by_start, by_end = self._slots_before()
        rows: list[tuple[int, int, int, int, int, int]] = []
        for i in range(len(self.nodes) - 1):
            free = [j for j in range(i + 1, len(self.nodes)) if by_start[j] == by_end[i]]
            plain, lunch = self._reachable(i, free)
            if not every_start:
                plain, lunch = self._earliest(plain), self._earliest(lunch)
            rows.extend(self._row(i, j, False) for j in plain)
            rows.extend(self._row(i, j, True) for j in lunch)
        return rows

    def _reachable(self, i: int, free: list[int]) -> tuple[list[int], list[int]]:
        plain: list[int] = []
        lunch: list[int] = []
        end = self.day.nodes[self.nodes[i]].end
        for j in free:
            if self.day.nodes[self.nodes[j]].start < end:
                continue
            gap = self.day.gap(self.nodes[i], self.nodes[j])
            if gap is not None:
                plain.append(j)
                if gap.lunch_fits:
                    lunch.append(j)
        return plain, lunch

    def _earliest(self, reached: list[int]) -> list[int]:
        """Only the earliest starts of each unit and place: a later one leaves no more (without wishes)."""
        nodes = self.day.nodes
        soonest: dict[tuple[str, int], int] = {}
        chosen: list[int] = []
        for j in reached:
            node = nodes[self.nodes[j]]
            key = (node.unit or f"block {j}", node.place)
            if key not in soonest or node.end < soonest[key]:
                soonest[key] = node.end
                chosen.append(j)
        return chosen

    def _row(self, i: int, j: int, with_lunch: bool) -> tuple[int, int, int, int, int, int]:
        gap = self.day.gap(self.nodes[i], self.nodes[j])
        if gap is None:
            raise ValueError("An arc was asked for between visits that can't follow each other.")
        prepared = gap.lunch_preparation if with_lunch else gap.preparation
        return (i, j, int(with_lunch), gap.drive, prepared, int(gap.rest))

    def _graph(self, rows: list[tuple[int, int, int, int, int, int]]) -> Graph:
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
            near=self._near(),
            once=np.array([self._once(node.services) for node in nodes], np.int64),
        )

    def _once(self, services: tuple[int, ...]) -> int:
        return sum(1 << self.low[s] for s in services if self.high[s] - self.low[s] == 1)

    def _near(self) -> Ints:
        """For each node the bits of the services that a backward walk remembers there."""
        nodes = [self.day.nodes[n] for n in self.nodes]
        homes = {service: node.place for node in nodes for service in node.services}
        near: dict[int, int] = {}
        for place in {node.place for node in nodes}:
            there = sorted(homes, key=lambda s: (self._distance(place, homes[s]), s))
            near[place] = sum(self._once((s,)) for s in there[:REMEMBERED])
        return np.array([near[node.place] | self._once(node.services) for node in nodes], np.int64)

    def _distance(self, a: int, b: int) -> int:
        return 0 if OPEN in {a, b} else self.model.drive[a][b]

    def _reversed(self, rows: list[tuple[int, int, int, int, int, int]]) -> tuple[Ints, Ints]:
        order = sorted(range(len(rows)), key=lambda n: rows[n][1])
        size = len(self.nodes)
        counts = np.bincount([row[1] for row in rows], minlength=size) if rows else np.zeros(size, int)
        into = np.array([(rows[n][0], n) for n in order], np.int64).reshape(-1, 2)
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64), into

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

    def suffixes(self, arc_cost: Floats, max_labels: int = 400_000) -> Suffixes:
        """Completion bounds: the backward walk."""
        return backward(self.graph, self.into_from, self.into, arc_cost, self.day.day.lunch is not None, max_labels)

    def relaxed_route(self, arc_cost: Floats, suffixes: Suffixes) -> Route | None:
        """The cheapest ng-route of a backward walk. It may hold a service twice: for bounds, never for plans."""
        at = _cheapest(suffixes, int(suffixes.head[0]))
        path: list[int] = []
        node, lunch_gap = 0, -1
        while node != len(self.nodes) - 1:
            step = self._step(arc_cost, suffixes, node, at)
            if step is None:
                return None
            arc, at = step
            if self.arcs[arc, WITH_LUNCH]:
                lunch_gap = len(path)
            node = int(self.arcs[arc, TO])
            path.append(self.nodes[node])
        return timed_route(self.day, tuple(path[:-1]), lunch_gap)

    def _step(self, arc_cost: Floats, suffixes: Suffixes, node: int, at: int) -> tuple[int, int] | None:
        """The arc and the label that a backward label was made from."""
        graph, memory, cost = self.graph, int(suffixes.memory[at]), float(suffixes.cost[at])
        near = int(graph.near[node])
        for arc in range(int(graph.arc_from[node]), int(graph.arc_from[node + 1])):
            to, lunch = int(self.arcs[arc, TO]), int(suffixes.lunch[at] - self.arcs[arc, WITH_LUNCH])
            bits, rest = int(graph.once[to]), cost - float(arc_cost[arc])
            label = int(suffixes.head[to])
            while label >= 0 and suffixes.cost[label] <= rest + EPSILON:
                known = int(suffixes.memory[label])
                same = abs(float(suffixes.cost[label]) - rest) < EPSILON and suffixes.lunch[label] == lunch
                if same and known & bits == 0 and (known | bits) & near == memory:
                    return arc, label
                label = int(suffixes.following[label])
        return None

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
        self,
        weights: Weights,
        arc_cost: Floats,
        suffixes: Suffixes,
        *,
        no_miss: bool,
        beam: int,
        max_labels: int,
        most: int,
    ) -> Priced:
        """Routes of negative reduced cost, the best ``most`` of them."""
        threshold = weights.convexity - 10 * EPSILON
        costs = Costs(arc_cost, self._pay(weights), weights.missed, threshold)
        want = self.day.day.preparation_minutes
        rules = self._rules(no_miss=no_miss, cap=want, beam=beam, max_labels=max_labels)
        walk = forward(self.graph, costs, rules, suffixes)
        self.labels += int(walk.made)
        found = self._ends(walk)
        found.sort(key=lambda at: walk.cost[at])
        least = walk.cost[found[0]] - weights.convexity if found else 0.0
        return Priced([self._route(walk, at) for at in found[:most]], min(0.0, least), walk.complete)

    def enumerate_below(
        self, weights: Weights, arc_cost: Floats, suffixes: Suffixes, *, gap: float, no_miss: bool, max_labels: int
    ) -> Priced:
        """Every route (the good ones of each set of services) of reduced cost at most ``gap``."""
        threshold = weights.convexity + gap + 10 * EPSILON
        costs = Costs(arc_cost, self._pay(weights), weights.missed, threshold)
        want = self.day.day.preparation_minutes
        cap = -1 if self.model.preparation_wish else want
        rules = self._rules(no_miss=no_miss, cap=cap, beam=0, max_labels=max_labels)
        walk = enumerate_all(self.graph, costs, rules, suffixes)
        self.labels += int(walk.made)
        return Priced([self._route(walk, at) for at in self._ends(walk)], 0.0, walk.complete)

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

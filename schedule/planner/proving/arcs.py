"""One day laid out for the walks: which visit can follow which, which of those steps a route needs, and the arrays.

The fewer arcs, the fewer labels: a walk's time goes into arcs times labels. So steps are left out that some other
step is as good as, and blocks and pins, which every route must hold, are never stepped over.
"""

from dataclasses import dataclass
from itertools import accumulate, chain, pairwise

import numpy as np

from schedule.planner.proving.labels import Graph, Ints
from schedule.planner.week.model import OPEN, DayModel

type Arc = tuple[int, int, int, int, int, int]
"""From, to, with lunch, drive, preparation, rest. Nodes by their number in the graph, minutes, flags as 0 or 1."""


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps between some of a day's nodes, which are numbered by their place in ``nodes``."""

    day: DayModel
    nodes: list[int]

    def _slots_before(self) -> tuple[list[int], list[int]]:
        """For each usable node, required visits over by its start, and by its end (itself included).

        A step that goes past a required visit has one more of them over at its end than at its beginning: it is
        left out, and so every path through the graph holds all of them.
        """
        nodes = self.day.nodes
        # Of several copies of one visit the shortest says when it can be over: no other node overlaps that time.
        slots = [nodes[n].end for n in self.day.required]
        slots += [min(nodes[n].end for n in copies) for copies in self.day.one_of]
        by_start = [sum(end <= nodes[n].start for end in slots) for n in self.nodes]
        by_end = [sum(end <= nodes[n].end for end in slots) for n in self.nodes]
        return by_start, by_end

    def rows(self, *, every_start: bool) -> list[Arc]:
        """Rows of (from, to, with lunch, drive, preparation, rest), in order of from."""
        by_start, by_end = self._slots_before()
        rows: list[Arc] = []
        for i in range(len(self.nodes) - 1):
            free = [j for j in range(i + 1, len(self.nodes)) if by_start[j] == by_end[i]]
            plain, lunch = self._reachable(i, free)
            if not every_start:
                soonest = self._worth_waiting if self.day.model.uses_wishes else self._earliest
                plain, lunch = soonest(i, plain, False), soonest(i, lunch, True)
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

    def _earliest(self, i: int, reached: list[int], _with_lunch: bool) -> list[int]:
        """Only the earliest starts of each unit and place: a later one leaves no more (without wishes).

        Without wishes waiting is worth nothing, so the visit that is over first leaves every later step open.
        Whoever counts minutes off the usual times, or sessions kept, wants every start (``rows``).
        """
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

    def _worth_waiting(self, i: int, reached: list[int], with_lunch: bool) -> list[int]:
        """The starts of each unit, place and length that wishes can make worth waiting for.

        Waiting after the session is as good as before it once the gap before it holds a break, loses no minute of
        preparation, and the wait itself is long enough to count as preparation.
        """
        nodes = self.day.nodes
        enough: dict[tuple[str, int, int], int] = {}
        chosen: list[int] = []
        for j in reached:
            node = nodes[self.nodes[j]]
            key = (node.unit or f"block {j}", node.place, node.end - node.start)
            if key in enough and node.start - enough[key] >= self.day.model.smallest_block:
                continue
            chosen.append(j)
            if key not in enough and self._loses_nothing(i, j, with_lunch):
                enough[key] = node.start
        return chosen

    def _loses_nothing(self, i: int, j: int, with_lunch: bool) -> bool:
        gap = self.day.gap(self.nodes[i], self.nodes[j])
        if gap is None:
            return False
        if with_lunch:
            return gap.lunch_preparation == self.day.spare_with_lunch(self.nodes[i], self.nodes[j])
        return gap.preparation > 0 and gap.rest

    def _row(self, i: int, j: int, with_lunch: bool) -> Arc:
        gap = self.day.gap(self.nodes[i], self.nodes[j])
        if gap is None:
            raise ValueError("An arc was asked for between visits that can't follow each other.")
        prepared = gap.lunch_preparation if with_lunch else gap.preparation
        return (i, j, int(with_lunch), gap.drive, prepared, int(gap.rest))


def usable_nodes(day: DayModel) -> list[int]:
    """The nodes of a day that can be in any plan, given the pins on other sessions of their services."""
    return [number for number in range(len(day.nodes)) if _usable(day, number)]


def _usable(day: DayModel, number: int) -> bool:
    node = day.nodes[number]
    return node.fixed or all(_free_of_pins(day, service) for service in node.services)


def way_through(day: DayModel) -> list[int] | None:
    """Visits from a day's beginning to its end that keep pins, blocks and lunch; ``None``: there are none, proved.

    Other sessions may stand in between, where drives by way of a third place are shorter than straight ones, and
    one service may be met too often: it must still be asked whether the visits may be held.
    """
    if not _fit_the_clock(day):
        return None
    nodes = usable_nodes(day)
    last, needs_lunch = len(nodes) - 1, int(day.day.lunch is not None)
    came: dict[tuple[int, int], tuple[int, int] | None] = {(0, 0): None}
    # Rows are in order of the nodes that they begin at, and nodes in order of time.
    for origin, to, with_lunch, *_ in Steps(day, nodes).rows(every_start=True):
        for lunch in (0, 1 - with_lunch):
            if (origin, lunch) in came:
                came.setdefault((to, lunch + with_lunch), (origin, lunch))
    at, found = came.get((last, needs_lunch)), list[int]()
    while at is not None and at[0]:
        found.insert(0, nodes[at[0]])
        at = came[at]
    return found if (last, needs_lunch) in came else None


def _fit_the_clock(day: DayModel) -> bool:
    """Whether what every route holds lies inside the contract day and doesn't overlap, places left aside."""
    nodes = day.nodes
    every = [[number] for number in day.required] + day.one_of
    times = sorted((nodes[copies[0]].start, min(nodes[n].end for n in copies)) for copies in every)
    ends = [(day.day.start, day.day.start), *times, (day.day.end, day.day.end)]
    return all(before[1] <= after[0] for before, after in pairwise(ends))


def _free_of_pins(day: DayModel, service: int) -> bool:
    model = day.model
    pinned = model.pinned[service]
    if len(pinned) >= model.owed[service]:
        return False
    return all(abs(other - day.index) >= model.days_apart[service] for other in pinned)


@dataclass(frozen=True, slots=True)
class Bits:
    """The bits of each service on one day, from ``low`` to ``high - 1``, and how many bits there are.

    A service has a bit for each session that can be held that day: one if its sessions lie on different days,
    else as many as are owed. One that has no start that day has none, so that 62 bits reach further than 62
    services.
    """

    low: list[int]
    high: list[int]
    count: int

    @classmethod
    def of(cls, day: DayModel, nodes: list[int]) -> "Bits":
        """Number the bits of one day."""
        model = day.model
        uses = [0] * len(model.owed)
        for service in (s for n in nodes for s in day.nodes[n].services):
            uses[service] += 1
        most = [1 if apart else owed for apart, owed in zip(model.days_apart, model.owed, strict=True)]
        sizes = [min(count, limit) for count, limit in zip(uses, most, strict=True)]
        ends = list(accumulate(sizes))
        return cls([end - size for end, size in zip(ends, sizes, strict=True)], ends, sum(sizes))

    def once(self, services: tuple[int, ...]) -> int:
        """The bits of those of the services that can be held once that day."""
        return sum(1 << self.low[s] for s in services if self.high[s] - self.low[s] == 1)


def remembered_near(day: DayModel, numbers: list[int], bits: Bits, most: int) -> Ints:
    """For each node the bits of the ``most`` services nearest to its place, and of its own: see ``completions``."""
    nodes = [day.nodes[n] for n in numbers]
    homes = {service: node.place for node in nodes for service in node.services}
    near: dict[int, int] = {}
    for place in {node.place for node in nodes}:
        there = sorted(homes, key=lambda service: (_drive(day, place, homes[service]), service))
        near[place] = sum(bits.once((service,)) for service in there[:most])
    return np.array([near[node.place] | bits.once(node.services) for node in nodes], np.int64)


def _drive(day: DayModel, a: int, b: int) -> int:
    return 0 if OPEN in {a, b} else day.model.drive[a][b]


def _arcs_by(rows: list[Arc], end: int, nodes: int) -> Ints:
    """Where the arcs of each node begin once they are sorted by one of their ends (0: from, 1: to)."""
    counts = [0] * nodes
    for row in rows:
        counts[row[end]] += 1
    return _offsets(counts)


def _offsets(sizes: list[int]) -> Ints:
    """Where each of several pieces begins that lie one after the other in one array, and where the last one
    ends."""
    return np.array([0, *accumulate(sizes)], np.int64)


def arrays_of(
    day: DayModel, numbers: list[int], bits: Bits, rows: list[Arc], near: Ints, nearest: Ints, halt: Ints
) -> Graph:
    """The day as arrays."""
    nodes = [day.nodes[n] for n in numbers]
    members = [node.services for node in nodes]
    stretched = day.model.problem.longest_stretch is not None
    return Graph(
        arc_from=_arcs_by(rows, 0, len(nodes)),
        arcs=np.array([row[1:] for row in rows], np.int64).reshape(-1, 5),
        member_from=_offsets(list(map(len, members))),
        members=np.array(list(chain(*members)), np.int64),
        low=np.array(bits.low, np.int64),
        high=np.array(bits.high, np.int64),
        begins=np.array([node.start for node in nodes], np.int64) * stretched,
        ends=np.array([node.end for node in nodes], np.int64) * stretched,
        kept=np.array([node.kept for node in nodes], np.int64),
        off=np.array([node.off for node in nodes], np.int64),
        near=near,
        nearest=nearest,
        once=np.array(list(map(bits.once, members)), np.int64),
        halt=halt,
    )


def into_nodes(rows: list[Arc], nodes: int) -> tuple[Ints, Ints]:
    """The arcs by the node that they lead to, for the backward walk: where each node's begin, and (origin,
    number)."""
    order = sorted(range(len(rows)), key=lambda n: rows[n][1])
    return _arcs_by(rows, 1, nodes), np.array([(rows[n][0], n) for n in order], np.int64).reshape(-1, 2)

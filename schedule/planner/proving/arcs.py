"""One day laid out for the walks: which visit can follow which, which of those steps a route needs, and the arrays.

The fewer arcs, the fewer labels: a walk's time goes into arcs times labels. So steps are left out that some other
step is as good as, and blocks and pins, which every route must hold, are never stepped over.
"""

import sys
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import accumulate, chain, pairwise

import numpy as np
from numpy.typing import NDArray

from schedule.planner.proving.labels import Graph, Ints
from schedule.planner.week.model import OPEN, DayModel

type Flags = NDArray[np.bool_]

FROM, TO_NODE, DRIVEN, PREPARED = 0, 1, 3, 4
"""Columns of a step that are asked for by name. Column 2 says whether lunch is on it, column 5 whether it has rest.
Nodes by their number in the graph, minutes, flags as 0 or 1."""

LATER = 10**6
"""More minutes than any day has."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """The gaps from one node to some others, in arrays: what ``model.Gap`` says of each that can follow it.

    Wide windows make millions of them: an object each would take gigabytes. ``to``: numbers in the graph.
    ``spare``: minutes beside drive, setting up and lunch.
    """

    to: Ints
    drive: Ints
    preparation: Ints
    rest: Flags
    lunch_fits: Flags
    lunch_preparation: Ints
    spare: Ints

    def of(self, chosen: Flags) -> "Gaps":
        """Some of them."""
        values = (getattr(self, name)[chosen] for name in Gaps.__slots__)
        return Gaps(*values)


class Steps:
    """The steps between some of a day's nodes, which are numbered by their place in ``nodes``."""

    def __init__(self, day: DayModel, nodes: list[int]) -> None:
        chosen = [day.nodes[n] for n in nodes]
        self.day = day
        self.nodes = nodes
        self.start = np.array([node.start for node in chosen], np.int64)
        self.end = np.array([node.end for node in chosen], np.int64)
        self.place = np.array([node.place for node in chosen], np.int64)
        self.setup = np.array([day.model.setup * node.session for node in chosen], np.int64)
        self.leg = np.array(day.model.leg, np.int64)
        self.drive = np.array(day.model.drive, np.int64)
        units = [(node.unit or f"block {n}", node.place) for n, node in enumerate(chosen)]
        self.unit = _numbered(units)
        self.unit_and_length = _numbered(list(zip(units, self.end - self.start, strict=True)))

    def _slots_before(self) -> tuple[Ints, Ints]:
        """For each usable node, required visits over by its start, and by its end (itself included).

        A step that goes past a required visit has one more of them over at its end than at its beginning: it is
        left out, and so every path through the graph holds all of them.
        """
        nodes = self.day.nodes
        # Of several copies of one visit the shortest says when it can be over: no other node overlaps that time.
        slots = [nodes[n].end for n in self.day.required]
        slots += [min(nodes[n].end for n in copies) for copies in self.day.one_of]
        ends = np.sort(np.array(slots, np.int64))
        return np.searchsorted(ends, self.start, "right"), np.searchsorted(ends, self.end, "right")

    def rows(self, *, every_start: bool, most: int = sys.maxsize) -> Ints | None:
        """Rows of steps (``FROM`` and so on), in order of from; ``None`` where they are more than ``most``."""
        by_start, by_end = self._slots_before()
        found: list[Ints] = []
        count = 0
        for i in range(len(self.nodes) - 1):
            after = np.arange(i + 1, len(self.nodes))
            gaps = self._gaps(i, after[by_start[i + 1 :] == by_end[i]])
            for with_lunch in (False, True):
                reached = gaps.of(gaps.lunch_fits) if with_lunch else gaps
                chosen = reached if every_start else reached.of(self._soonest(reached, with_lunch))
                found.append(_rows(i, chosen, with_lunch))
                count += len(chosen.to)
            if count > most:
                return None
        return np.concatenate(found) if found else np.zeros((0, 6), np.int64)

    def _gaps(self, i: int, after: Ints) -> Gaps:
        """The gaps from a node to those of the others that can follow it: the same figures as ``DayModel.gap``."""
        model, begin = self.day.model, self.end[i]
        setup = self.setup[after] if i else 0
        free = self.start[after] - setup - begin - self.leg[self.place[i], self.place[after]]
        can = free >= 0
        after, free = after[can], free[can]
        leg = self.leg[self.place[i], self.place[after]]
        fits, prepared = self._lunch(begin, leg, free)
        lunch = self.day.day.lunch
        return Gaps(
            to=after,
            drive=self.drive[self.place[i], self.place[after]],
            preparation=self._counted(free),
            rest=free >= model.break_minutes,
            lunch_fits=fits,
            lunch_preparation=prepared,
            spare=free - (0 if lunch is None else lunch.minutes),
        )

    def _lunch(self, begin: int, leg: Ints, free: Ints) -> tuple[Flags, Ints]:
        """Whether lunch fits into each gap, and the most preparation it then leaves: ``DayModel.lunch_choice``."""
        lunch, smallest = self.day.day.lunch, self.day.model.smallest_block
        best = np.full(len(free), -1, np.int64)
        if lunch is None:
            return best >= 0, best
        spare = free - lunch.minutes
        for base in (begin + leg, np.full(len(free), begin)):
            low = np.maximum(base, lunch.earliest)
            high = np.minimum(base + spare, lunch.latest_end - lunch.minutes)
            for wanted in (base, base + spare, base + smallest, base + spare - smallest):
                at = np.minimum(np.maximum(wanted, low), high)
                kept = self._counted(at - base) + self._counted(base + spare - at)
                best = np.where((spare >= 0) & (low <= high), np.maximum(best, kept), best)
        return best >= 0, np.maximum(best, 0)

    def _counted(self, minutes: Ints) -> Ints:
        return np.where(minutes >= self.day.model.smallest_block, minutes, 0)

    def _soonest(self, reached: Gaps, with_lunch: bool) -> Flags:
        if self.day.model.uses_wishes:
            return self._worth_waiting(reached, with_lunch)
        return self._earliest(reached)

    def _earliest(self, reached: Gaps) -> Flags:
        """Only the earliest starts of each unit and place: a later one leaves no more (without wishes).

        Without wishes waiting is worth nothing, so the visit that is over first leaves every later step open.
        Whoever counts minutes off the usual times, or sessions kept, wants every start (``rows``).
        """
        units = self.unit[reached.to]
        order = np.argsort(units, kind="stable")
        # Each unit lies below all before it, so that the least end so far begins anew with it.
        ends = self.end[reached.to][order] - LATER * units[order]
        least = np.minimum.accumulate(np.concatenate([[LATER], ends]))
        found = np.zeros(len(units), np.bool_)
        found[order] = ends < least[:-1]
        return found

    def _worth_waiting(self, reached: Gaps, with_lunch: bool) -> Flags:
        """The starts of each unit, place and length that wishes can make worth waiting for.

        Waiting after the session is as good as before it once the gap before it holds a break, loses no minute of
        preparation, and the wait itself is long enough to count as preparation.
        """
        if with_lunch:
            enough = reached.lunch_preparation == reached.spare
        else:
            enough = (reached.preparation > 0) & reached.rest
        units, starts = self.unit_and_length[reached.to], self.start[reached.to]
        first = np.full(len(self.nodes), LATER, np.int64)
        np.minimum.at(first, units[enough], starts[enough])
        return np.asarray(starts - first[units] < self.day.model.smallest_block)


def _numbered(keys: Sequence[Hashable]) -> Ints:
    """Each key's number, from 0 in the order in which they are met."""
    numbers: dict[Hashable, int] = {}
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], np.int64)


def _rows(i: int, gaps: Gaps, with_lunch: bool) -> Ints:
    prepared = gaps.lunch_preparation if with_lunch else gaps.preparation
    same = np.ones(len(gaps.to), np.int64)
    return np.stack([i * same, gaps.to, with_lunch * same, gaps.drive, prepared, gaps.rest * same], axis=1)


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
    rows = Steps(day, nodes).rows(every_start=True)
    for origin, to, with_lunch in [] if rows is None else rows[:, :DRIVEN].tolist():
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


def _arcs_by(ends: Ints, nodes: int) -> Ints:
    """Where the arcs of each node begin once they are sorted by one of their ends."""
    return np.concatenate([[0], np.cumsum(np.bincount(ends, minlength=nodes))]).astype(np.int64)


def _offsets(sizes: list[int]) -> Ints:
    """Where each of several pieces begins that lie one after the other in one array, and where the last one
    ends."""
    return np.array([0, *accumulate(sizes)], np.int64)


def arrays_of(
    day: DayModel, numbers: list[int], bits: Bits, rows: Ints, near: Ints, nearest: Ints, halt: Ints
) -> Graph:
    """The day as arrays."""
    nodes = [day.nodes[n] for n in numbers]
    members = [node.services for node in nodes]
    stretched = day.model.problem.longest_stretch is not None
    return Graph(
        arc_from=_arcs_by(rows[:, FROM], len(nodes)),
        arcs=np.ascontiguousarray(rows[:, TO_NODE:]),
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


def into_nodes(rows: Ints, nodes: int) -> tuple[Ints, Ints]:
    """The arcs by the node that they lead to, for the backward walk: where each node's begin, and (origin,
    number)."""
    order = np.argsort(rows[:, TO_NODE], kind="stable")
    return _arcs_by(rows[:, TO_NODE], nodes), np.stack([rows[order, FROM], order], axis=1).astype(np.int64)

"""One day laid out for the walks: which visit can follow which, which of those steps a route needs, and the arrays.

The fewer arcs, the fewer labels: a walk's time goes into arcs times labels. So steps are left out that some other
step is as good as, and blocks and pins, which every route must hold, are never stepped over.
"""

import sys
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, chain, permutations

import numpy as np
from numpy.typing import NDArray

from schedule.planner.proving.labels import Graph, Ints
from schedule.planner.week.model import OPEN, DayModel
from schedule.planner.week.work import HaltedError

type Flags = NDArray[np.bool_]

FROM, TO_NODE, WITH, DRIVEN, PREPARED = range(5)
"""Columns of a step that are asked for by name. Column 2 says whether lunch is on it, column 5 whether it has rest.
Nodes by their number in the graph, minutes, flags as 0 or 1."""

NODES_AT_ONCE = 64
"""Nodes whose steps are made between two looks whether the time is up: milliseconds in the widest days."""

LATER = 10**6
"""More minutes than any day has."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """The gaps from nodes to others, in arrays: what ``model.Gap`` says of each pair that can follow each other.

    Wide windows make millions of them: an object each would take gigabytes. ``origin``, ``to``: numbers in the
    graph. ``spare``: minutes beside drive, setting up and lunch.
    """

    origin: Ints
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


class Runs:
    """A day's nodes in runs of one unit, place and length, each in order of time: where a run is met first.

    ``nodes``: run after run; ``first`` and ``end``: each run's first node, and where it ends in ``nodes``. ``keys``
    and ``numbers``: starts, and numbers of nodes, with the run's own as the higher digits, so that one array is in
    order. ``rivals``: pairs of runs of one unit and place that differ in length.
    """

    def __init__(self, lengths: Ints, units: Ints, start: Ints) -> None:
        self.nodes = np.argsort(lengths, kind="stable")
        run = lengths[self.nodes]
        begin = np.searchsorted(run, np.arange(run[-1] + 1))
        self.first, self.end = self.nodes[begin], np.append(begin[1:], len(run))
        self.keys, self.numbers = run * LATER + start[self.nodes], run * LATER + self.nodes
        same: dict[int, list[int]] = {}
        for number, unit in enumerate(units[self.first].tolist()):
            same.setdefault(unit, []).append(number)
        self.rivals = [pair for some in same.values() for pair in permutations(some, 2)]


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
        # What every route holds stands for itself: a start of the same unit before it is no substitute for it.
        units = [(node.unit or f"block {n}", node.place, node.fixed) for n, node in enumerate(chosen)]
        self.unit_and_length = _numbered(list(zip(units, self.end - self.start, strict=True)))
        self.runs = Runs(self.unit_and_length, _numbered(units), self.start)
        self._count_slots()

    def _count_slots(self) -> None:
        """For each usable node, required visits over by its start, and by its end (itself included).

        A step that goes past a required visit has one more of them over at its end than at its beginning: it is
        left out, and so every path through the graph holds all of them.
        """
        nodes = self.day.nodes
        # Of several copies of one visit the shortest says when it can be over: no other node overlaps that time.
        slots = [nodes[n].end for n in self.day.required]
        slots += [min(nodes[n].end for n in copies) for copies in self.day.one_of]
        self.slot_ends = np.sort(np.array(slots, np.int64))
        self.slots_by_start = np.searchsorted(self.slot_ends, self.start, "right")
        self.slots_by_end = np.searchsorted(self.slot_ends, self.end, "right")

    def rows(
        self, *, every_start: bool, most: int = sys.maxsize, halted: Callable[[], bool] = lambda: False
    ) -> Ints | None:
        """Rows of steps (``FROM`` and so on), in order of from; ``None`` where they are more than ``most``.

        Raises ``HaltedError`` once ``halted`` says so.
        """
        found: list[Ints] = []
        count = 0
        for some in self.pieces(every_start=every_start, halted=halted):
            found.append(some)
            count += len(some)
            if count > most:
                return None
        return np.concatenate(found) if found else np.zeros((0, 6), np.int64)

    def pieces(self, *, every_start: bool, halted: Callable[[], bool]) -> Iterator[Ints]:
        """The same piece by piece, each with all the rows of some nodes that follow each other."""
        few = not every_start and not self.day.model.uses_wishes
        size = NODES_AT_ONCE if few else 1
        for begin in range(0, len(self.nodes) - 1, size):
            if begin % NODES_AT_ONCE == 0 and halted():
                raise HaltedError
            if few:
                yield self._earliest_rows(np.arange(begin, min(begin + size, len(self.nodes) - 1)))
            else:
                yield self._rows_of(begin, every_start=every_start)

    def _rows_of(self, i: int, *, every_start: bool) -> Ints:
        """The steps from one node: all of them, or those that wishes can make worth waiting for."""
        after = np.arange(i + 1, len(self.nodes))
        after = after[self.slots_by_start[i + 1 :] == self.slots_by_end[i]]
        gaps = self._gaps(np.full(len(after), i), after)
        lunch = gaps.of(gaps.lunch_fits)
        if not every_start:
            gaps, lunch = gaps.of(self._worth_waiting(gaps, False)), lunch.of(self._worth_waiting(lunch, True))
        return np.concatenate([_rows(gaps, False), _rows(lunch, True)])

    def _gaps(self, origin: Ints, after: Ints) -> Gaps:
        """The gaps from nodes to others, pair by pair, where these can follow: the figures of ``DayModel.gap``."""
        model = self.day.model
        free = self._free(origin, after)
        can = free >= 0
        origin, after, free = origin[can], after[can], free[can]
        begin, leg = self.end[origin], self.leg[self.place[origin], self.place[after]]
        fits, prepared = self._lunch(begin, leg, free, self._lunch_sides(origin, after))
        lunch = self.day.day.lunch
        return Gaps(
            origin=origin,
            to=after,
            drive=self.drive[self.place[origin], self.place[after]],
            preparation=self._counted(free),
            rest=free >= model.break_minutes,
            lunch_fits=fits,
            lunch_preparation=prepared,
            spare=free - (0 if lunch is None else lunch.minutes),
        )

    def _free(self, origin: Ints, after: Ints) -> Ints:
        """Minutes between visits beside setting up, packing, drive and parking; below 0 where there are too few."""
        setup = self.setup[after] * (origin > 0)
        leg = self.leg[self.place[origin], self.place[after]]
        return np.asarray(self.start[after] - setup - self.end[origin] - leg, np.int64)

    def _lunch_sides(self, origin: Ints, after: Ints) -> tuple[Flags, Flags]:
        """Where lunch may follow the drive, and where it may come before: as ``DayModel`` says, pair by pair."""
        here, there = np.broadcast_arrays(self.place[origin], self.place[after])
        lunch = self.day.day.lunch
        if lunch is None or lunch.place is None:
            return np.ones(here.shape, np.bool_), np.ones(here.shape, np.bool_)
        wanted = self.day.model.place_ids.index(lunch.place)
        return np.where(there == OPEN, here, there) == wanted, np.where(here == OPEN, there, here) == wanted

    def _lunch(self, begin: Ints, leg: Ints, free: Ints, sides: tuple[Flags, Flags]) -> tuple[Flags, Ints]:
        """Whether lunch fits into each gap, and the most preparation it then leaves: ``DayModel.lunch_choice``."""
        lunch, smallest = self.day.day.lunch, self.day.model.smallest_block
        best = np.full(len(free), -1, np.int64)
        if lunch is None:
            return best >= 0, best
        spare = free - lunch.minutes
        for base, may in zip((begin + leg, begin), sides, strict=True):
            low = np.maximum(base, lunch.earliest)
            high = np.minimum(base + spare, lunch.latest_end - lunch.minutes)
            for wanted in (base, base + spare, base + smallest, base + spare - smallest):
                at = np.minimum(np.maximum(wanted, low), high)
                kept = self._counted(at - base) + self._counted(base + spare - at)
                best = np.where(may & (spare >= 0) & (low <= high), np.maximum(best, kept), best)
        return best >= 0, np.maximum(best, 0)

    def _counted(self, minutes: Ints) -> Ints:
        return np.where(minutes >= self.day.model.smallest_block, minutes, 0)

    # ---- without wishes ----------------------------------------------------------------------------------

    def _earliest_rows(self, origins: Ints) -> Ints:
        """The steps from some nodes to the earliest starts of each unit and place: a later one leaves no more.

        Without wishes waiting is worth nothing, so the visit that is over first leaves every later step open.
        Whoever counts minutes off the usual times, or sessions kept, wants every start (``rows``). Each run of
        starts of one unit, place and length is looked into once, so wide windows cost little.
        """
        first = self.runs.first[None, :]
        reached = self.start[first] - self._free(origins[:, None], first)
        found = [self._over_first(origins, self._soonest(origins, reached), False)]
        if self.day.day.lunch is not None:
            reached = self._after_lunch(origins, reached)
            found.append(self._over_first(origins, self._soonest(origins, reached), True))
        rows = np.concatenate(found)
        return rows[np.lexsort((rows[:, TO_NODE], rows[:, WITH], rows[:, FROM]))]

    def _after_lunch(self, origins: Ints, reached: Ints) -> Ints:
        """The soonest that a visit can begin with lunch before it; ``reached``: the same without lunch."""
        lunch, begin = self.day.day.lunch, self.end[origins][:, None]
        if lunch is None:
            return np.full(reached.shape, LATER)
        there = begin + self.leg[self.place[origins][:, None], self.place[self.runs.first][None, :]]
        best = np.full(reached.shape, LATER, np.int64)
        sides = self._lunch_sides(origins[:, None], self.runs.first[None, :])
        for base, may in zip((there, np.broadcast_to(begin, there.shape)), sides, strict=True):
            low = np.maximum(base, lunch.earliest)
            after = reached + lunch.minutes + low - base
            best = np.where(may & (low <= lunch.latest_end - lunch.minutes), np.minimum(best, after), best)
        return best

    def _soonest(self, origins: Ints, reached: Ints) -> Ints:
        """In each run the first node that begins no sooner than that and no required visit lies before; -1 none."""
        runs, over = self.runs, self.slots_by_end[origins][:, None]
        sooner = np.maximum(reached, np.concatenate([[0], self.slot_ends])[over])
        numbers = np.arange(len(runs.first))
        wanted = numbers * LATER + np.minimum(sooner, LATER - 1)
        at = np.searchsorted(runs.keys, wanted)
        # Visits without a length begin as soon as they end: a node is followed by later ones only.
        at = np.maximum(
            at, np.searchsorted(runs.numbers, np.arange(len(runs.first)) * LATER + origins[:, None] + 1)
        )
        inside = at < runs.end
        node = runs.nodes[np.minimum(at, len(runs.nodes) - 1)]
        return np.where(inside & (self.slots_by_start[node] == over), node, -1)

    def _over_first(self, origins: Ints, nodes: Ints, with_lunch: bool) -> Ints:
        """Rows to those of one node in each run (-1: none) that no sooner start of their unit and place is over."""
        there = nodes >= 0
        ends = np.where(there, self.end[nodes], LATER)
        beaten = np.zeros(nodes.shape, np.bool_)
        for one, other in self.runs.rivals:
            beaten[:, one] |= there[:, other] & (nodes[:, other] < nodes[:, one]) & (ends[:, other] <= ends[:, one])
        row, run = np.nonzero(there & ~beaten)
        return _rows(self._gaps(origins[row], nodes[row, run]), with_lunch)

    # ---- with wishes -------------------------------------------------------------------------------------

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


def _rows(gaps: Gaps, with_lunch: bool) -> Ints:
    prepared = gaps.lunch_preparation if with_lunch else gaps.preparation
    same = np.ones(len(gaps.to), np.int64)
    return np.stack([gaps.origin, gaps.to, with_lunch * same, gaps.drive, prepared, gaps.rest * same], axis=1)


def usable_nodes(day: DayModel) -> list[int]:
    """The nodes of a day that can be in any plan, given the pins on other sessions of their services."""
    return [number for number in range(len(day.nodes)) if _usable(day, number)]


def _usable(day: DayModel, number: int) -> bool:
    node = day.nodes[number]
    return node.fixed or all(_free_of_pins(day, service) for service in node.services)


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

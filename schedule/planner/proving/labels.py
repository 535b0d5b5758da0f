"""Labelling over one day's nodes in order of time, compiled: the cheapest routes, or all below a cost.

A *label* is one way to reach a node. The problem solved is the elementary shortest path with resource
constraints (D. Feillet, P. Dejax, M. Gendreau and C. Gueguen, 2004, Networks 44); the completion bounds come
from the same graph walked backwards with ng-routes (R. Baldacci, A. Mingozzi and R. Roberti, 2011, Operations
Research 59). Every walk counts its labels and says when it had to stop: a stopped walk proves nothing.
The compiled code releases the interpreter lock, so that a web page stays quick while a thread plans.
"""

from collections.abc import Callable
from typing import Any, NamedTuple, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

type Ints = NDArray[np.int64]
type Floats = NDArray[np.float64]

EPSILON = 1e-7
WIDTH = 11
"""Integers a label: see the constants below."""

NODE, MASK, LUNCH, PREPARED, BEGIN, MISSED, DRIVE, KEPT, OFF, PARENT, NEXT = range(WIDTH)
TO, WITH_LUNCH, ARC_DRIVE, ARC_PREPARED, REST = range(5)
FOLLOWING, MEMORY, INSIDE, UNTIL, BY, THEN = range(6)
"""A backward label: the next one of its node, services remembered, lunches inside, the minute at which its first
run of visits ends, the arc it was made over, and the label that it goes on to."""


class Graph(NamedTuple):
    """A day as arrays. Arcs of node ``i`` are rows ``arc_from[i]`` to ``arc_from[i + 1]`` of ``arcs``.

    ``low`` and ``high`` are the bits of each service on this day (several where it may be held twice). A walk looks
    at ``halt[0]`` label by label: anything but 0 ends it, and what it then gives is incomplete.
    """

    arc_from: Ints
    arcs: Ints
    member_from: Ints
    members: Ints
    low: Ints
    high: Ints
    begins: Ints
    ends: Ints
    kept: Ints
    off: Ints
    near: Ints
    nearest: Ints
    once: Ints
    halt: Ints


class Charge(NamedTuple):
    """What one walk charges: cost of each arc (prize of its end taken off), and of a missed minute.

    ``prepared`` is a multiplier on the day's preparation: each minute of it is taken off the arcs, and those
    wished for are charged. At most ``missed`` (any multiplier where none may be missed, ``no_miss``), so that a
    bound stays one: what is missed is at least what is wished for less what is prepared.
    """

    arc: Floats
    prepared: float
    missed: float
    no_miss: bool


class Costs(NamedTuple):
    """A charge with what it costs to leave a service out, and the cost that a route must stay below."""

    arc: Floats
    pay: Floats
    missed: float
    prepared: float
    threshold: float


class Rules(NamedTuple):
    """Rules of the day and limits of a walk: ``cap`` of preparation worth telling apart (-1: none)."""

    stretch: int
    want: int
    cap: int
    needs_lunch: bool
    no_miss: bool
    skip: bool
    beam: int
    max_labels: int
    max_work: int


class Suffixes(NamedTuple):
    """Backward labels: for each node a list, cheapest first. A row of ``lists``: see ``FOLLOWING``."""

    head: Ints
    lists: Ints
    cost: Floats
    complete: bool


class Walk(NamedTuple):
    """A forward walk's labels. ``complete`` is false where a limit cut it."""

    table: Ints
    cost: Floats
    made: int
    last: int
    complete: bool


def compiled[F: Callable[..., Any]](function: F) -> F:
    """Compile with numba, cached on disk, without the interpreter lock."""
    return cast("F", njit(cache=True, nogil=True)(function))


@compiled
def taken(mask: int, graph: Graph, node: int) -> int:
    """The mask after one more session of each member of the node, or -1 where one has none left."""
    for n in range(graph.member_from[node], graph.member_from[node + 1]):
        service = graph.members[n]
        bit = graph.low[service]
        while bit < graph.high[service] and (mask >> bit) & 1:
            bit += 1
        if bit == graph.high[service]:
            return -1
        mask |= np.int64(1) << bit
    return mask


@compiled
def paid(extra: int, pay: Floats) -> float:
    """What it costs to leave out every visit of the services in ``extra``."""
    total = 0.0
    bit = 0
    while extra:
        if extra & 1:
            total += pay[bit]
        extra >>= 1
        bit += 1
    return total


@compiled
def dominates(a: Ints, cost_a: float, b: Ints, cost_b: float, costs: Costs, rules: Rules) -> bool:
    """Whether every way to go on from ``b`` can be followed from ``a`` at no more cost.

    A service that ``a`` has used and ``b`` has not may have to be left out on the way: its price is paid. So are
    minutes of preparation or of the present stretch that ``a`` lacks: each is one more missed minute at most.
    """
    if cost_a > cost_b + EPSILON or a[LUNCH] < b[LUNCH]:
        return False
    lacking = max(0, b[BEGIN] - a[BEGIN])
    if rules.cap != 0:
        lacking += max(0, b[PREPARED] - a[PREPARED])
    if lacking > 0 and (rules.no_miss or rules.cap < 0):
        return False
    owing = cost_a + costs.missed * lacking
    if owing > cost_b + EPSILON:
        return False
    extra = a[MASK] & ~b[MASK]
    if extra == 0:
        return True
    return rules.skip and owing + paid(extra, costs.pay) <= cost_b + EPSILON


@compiled
def covers(a: Ints, b: Ints) -> bool:
    """Whether ``a`` is at least as good as ``b`` in every figure, for the same set of services."""
    return (
        bool(a[DRIVE] <= b[DRIVE])
        and a[MISSED] <= b[MISSED]
        and a[PREPARED] >= b[PREPARED]
        and a[BEGIN] >= b[BEGIN]
        and a[KEPT] >= b[KEPT]
        and a[OFF] <= b[OFF]
    )


@compiled
def completion(suffixes: Suffixes, label: Ints, costs: Costs, rules: Rules, work: Ints) -> float:
    """A lower bound on what it costs to end the day from a label. Steps are counted in ``work``."""
    charged = costs.prepared * (rules.want - label[PREPARED])
    if suffixes.head.shape[0] == 0:
        return -1e17
    best = 1e17
    at = suffixes.head[label[NODE]]
    while at >= 0 and suffixes.cost[at] < best:
        if suffixes.lists[at, MEMORY] & label[MASK] == 0 and suffixes.lists[at, INSIDE] + label[LUNCH] == 1:
            over = max(0, suffixes.lists[at, UNTIL] - label[BEGIN] - rules.stretch)
            if not (rules.no_miss and over > 0):
                best = min(best, suffixes.cost[at] + costs.missed * over)
                if over == 0:
                    break
        at = suffixes.lists[at, FOLLOWING]
        work[0] += 1
    return float(best + charged)


@compiled
def extend(label: Ints, arc: Ints, graph: Graph, rules: Rules, last: int, fresh: Ints) -> bool:
    """Write into ``fresh`` the label that follows an arc; ``False`` where a rule forbids it."""
    node, to = label[NODE], arc[TO]
    if arc[WITH_LUNCH] + label[LUNCH] > 1 or (to == last and arc[WITH_LUNCH] + label[LUNCH] == 0):
        return False
    mask = taken(label[MASK], graph, to)
    if mask < 0:
        return False
    fresh[:] = label
    fresh[NODE], fresh[MASK], fresh[LUNCH] = to, mask, label[LUNCH] + arc[WITH_LUNCH]
    total = label[PREPARED] + arc[ARC_PREPARED]
    fresh[PREPARED] = min(rules.cap, total) if rules.cap >= 0 else total
    over = 0
    if node == 0:
        fresh[BEGIN] = graph.begins[to]
    elif arc[REST] == 1 or arc[WITH_LUNCH] == 1 or to == last:
        over = max(0, graph.ends[node] - label[BEGIN] - rules.stretch)
        fresh[BEGIN] = graph.begins[to]
    if to == last:
        over += max(0, rules.want - total)
    fresh[MISSED] = label[MISSED] + over
    fresh[DRIVE] = label[DRIVE] + arc[ARC_DRIVE]
    fresh[KEPT] = label[KEPT] + graph.kept[to]
    fresh[OFF] = label[OFF] + graph.off[to]
    return not (rules.no_miss and over > 0)


@compiled
def insert(
    table: Ints,
    cost: Floats,
    head: Ints,
    fresh: Ints,
    value: float,
    at: int,
    costs: Costs,
    rules: Rules,
    work: Ints,
) -> bool:
    """Put a label into its node's list (cheapest first) unless dominated; drop those it dominates."""
    node = fresh[NODE]
    before, current = -1, head[node]
    while current >= 0 and cost[current] <= value:
        work[0] += 1
        if dominates(table[current], cost[current], fresh, value, costs, rules):
            return False
        before, current = current, table[current, NEXT]
    table[at] = fresh
    table[at, NEXT] = current
    cost[at] = value
    if before < 0:
        head[node] = at
    else:
        table[before, NEXT] = at
    before = at
    while current >= 0:
        work[0] += 1
        following = table[current, NEXT]
        if dominates(fresh, value, table[current], cost[current], costs, rules):
            table[before, NEXT] = following
        else:
            before = current
        current = following
    return True


@compiled
def slot_of(slots: Ints, table: Ints, fresh: Ints) -> int:
    """The place in the hash table of labels with the same node, set of services and lunch."""
    size = slots.shape[0]
    mixed = fresh[MASK] * np.int64(2654435761) + fresh[NODE] * np.int64(40503) + fresh[LUNCH]
    mixed ^= mixed >> 29
    at = mixed & (size - 1)
    while slots[at] >= 0:
        other = table[slots[at]]
        if other[NODE] == fresh[NODE] and other[MASK] == fresh[MASK] and other[LUNCH] == fresh[LUNCH]:
            return int(at)
        at = (at + 1) & (size - 1)
    return int(at)


@compiled
def keep(table: Ints, cost: Floats, slots: Ints, chain: Ints, fresh: Ints, value: float, at: int) -> bool:
    """Put a label beside those with the same set unless one of them is as good in every figure."""
    slot = slot_of(slots, table, fresh)
    end, current = -1, slots[slot]
    while current >= 0:
        if covers(table[current], fresh):
            return False
        if table[current, PARENT] >= 0 and covers(fresh, table[current]):
            table[current, PARENT] = -2 - table[current, PARENT]
        end, current = current, chain[current]
    table[at] = fresh
    cost[at] = value
    chain[at] = -1
    if end >= 0:
        chain[end] = at
    else:
        slots[slot] = at
    return True


@compiled
def grown(table: Ints) -> Ints:
    """The table with room for twice as many labels."""
    larger = np.empty((table.shape[0] * 2, table.shape[1]), np.int64)
    larger[: table.shape[0]] = table
    return larger


@compiled
def grown_floats(values: Floats) -> Floats:
    """The values with room for twice as many."""
    larger = np.empty(values.shape[0] * 2, np.float64)
    larger[: values.shape[0]] = values
    return larger


@compiled
def forward(  # noqa: C901 - one compiled loop: splitting it would cost speed
    graph: Graph, costs: Costs, rules: Rules, suffixes: Suffixes
) -> Walk:
    """The cheapest labels at every node, dominated ones left out; those at the end are the day's routes."""
    last = graph.begins.shape[0] - 1
    table = np.empty((4096, WIDTH), np.int64)
    cost = np.empty(4096, np.float64)
    head = np.full(last + 1, -1, np.int64)
    fresh = np.zeros(WIDTH, np.int64)
    fresh[PARENT], fresh[NEXT] = -1, -1
    fresh[LUNCH] = 0 if rules.needs_lunch else 1
    table[0], cost[0], head[0] = fresh, 0.0, 0
    count = 1
    work = np.zeros(1, np.int64)
    complete = True
    for node in range(last):
        current = head[node]
        width = 0
        while current >= 0 and count < rules.max_labels and work[0] < rules.max_work and graph.halt[0] == 0:
            width += 1
            if width > rules.beam:
                complete = False
                break
            for a in range(graph.arc_from[node], graph.arc_from[node + 1]):
                if not extend(table[current], graph.arcs[a], graph, rules, last, fresh):
                    continue
                value = cost[current] + costs.arc[a] + costs.missed * (fresh[MISSED] - table[current, MISSED])
                to = fresh[NODE]
                rest = 0.0 if to == last else completion(suffixes, fresh, costs, rules, work)
                if value + rest >= costs.threshold:
                    continue
                if count == table.shape[0]:
                    table, cost = grown(table), grown_floats(cost)
                fresh[PARENT] = current
                if to == last:
                    table[count] = fresh
                    table[count, NEXT] = head[last]
                    cost[count], head[last] = value, count
                    count += 1
                elif insert(table, cost, head, fresh, value, count, costs, rules, work):
                    count += 1
            current = table[current, NEXT]
        if count >= rules.max_labels or work[0] >= rules.max_work or graph.halt[0] != 0:
            complete = False
            break
    return Walk(table, cost, count, head[last], complete)


@compiled
def rehashed(slots: Ints, table: Ints) -> Ints:
    """The hash table twice as large."""
    larger = np.full(slots.shape[0] * 2, -1, np.int64)
    for at in range(slots.shape[0]):
        if slots[at] >= 0:
            larger[slot_of(larger, table, table[slots[at]])] = slots[at]
    return larger


@compiled
def enumerate_all(  # noqa: C901 - one compiled loop: splitting it would cost speed
    graph: Graph, costs: Costs, rules: Rules, suffixes: Suffixes
) -> Walk:
    """Every set of services whose route costs less than the threshold, with all its good routes."""
    last = graph.begins.shape[0] - 1
    table = np.empty((65536, WIDTH), np.int64)
    cost = np.empty(65536, np.float64)
    chain = np.full(65536, -1, np.int64)
    slots = np.full(131072, -1, np.int64)
    by_node = np.full(last + 1, -1, np.int64)
    fresh = np.zeros(WIDTH, np.int64)
    fresh[PARENT], fresh[NEXT] = -1, -1
    fresh[LUNCH] = 0 if rules.needs_lunch else 1
    table[0], cost[0], by_node[0] = fresh, 0.0, 0
    count = 1
    work = np.zeros(1, np.int64)
    for node in range(last):
        current = by_node[node]
        while current >= 0 and count < rules.max_labels and work[0] < rules.max_work and graph.halt[0] == 0:
            for a in range(graph.arc_from[node], graph.arc_from[node + 1]):
                if table[current, PARENT] < -1:
                    break
                if not extend(table[current], graph.arcs[a], graph, rules, last, fresh):
                    continue
                value = cost[current] + costs.arc[a] + costs.missed * (fresh[MISSED] - table[current, MISSED])
                to = fresh[NODE]
                rest = 0.0 if to == last else completion(suffixes, fresh, costs, rules, work)
                if value + rest >= costs.threshold:
                    continue
                if count == table.shape[0]:
                    table, cost = grown(table), grown_floats(cost)
                    longer = np.full(table.shape[0], -1, np.int64)
                    longer[:count] = chain
                    chain = longer
                    slots = rehashed(slots, table)
                fresh[PARENT] = current
                fresh[NEXT] = by_node[to]
                if keep(table, cost, slots, chain, fresh, value, count):
                    by_node[to] = count
                    count += 1
            current = table[current, NEXT]
        if count >= rules.max_labels or work[0] >= rules.max_work or graph.halt[0] != 0:
            return Walk(table, cost, count, by_node[last], False)
    return Walk(table, cost, count, by_node[last], True)

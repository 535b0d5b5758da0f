"""The two forward walks over one day, compiled: the cheapest routes, or all below a cost.

Both go through the nodes in order of time and follow each label over each arc. A label that can't end below the
threshold, by the bound of the backward walk (``labels.completion``), is never kept. What they keep differs:

- ``forward`` looks for some good days, quickly: dominated labels go, and of each node only the cheapest few are
  followed on (a beam). It proves nothing.
- ``enumerate_all`` misses none: it keeps, for each node and set of sessions, every label that isn't beaten in all
  figures at once. Closing a gap rests on it.

Every walk counts its labels and its comparisons, and says when it had to stop.
"""

import numpy as np

from schedule.planner.proving.labels import (
    LUNCH,
    MASK,
    MISSED,
    NEXT,
    NODE,
    PARENT,
    WIDTH,
    Costs,
    Floats,
    Graph,
    Ints,
    Rules,
    Suffixes,
    Walk,
    compiled,
    completion,
    covers,
    dominates,
    extend,
    with_room,
)

FIRST_ROOM = 4096
"""Labels that a quick walk has room for at first; the tables double when they are full."""

FIRST_ROOM_FOR_ALL = 65_536

BUSY_SLOTS = 2
"""Slots of the hash table for each label that there is room for: at most half of them are taken."""


@compiled
def stopped(count: int, work: Ints, graph: Graph, rules: Rules) -> bool:
    """Whether a walk has to end: too many labels or comparisons, or a word from outside."""
    return bool(count >= rules.max_labels or work[0] >= rules.max_work or graph.halt[0] != 0)


@compiled
def first_label(fresh: Ints, rules: Rules) -> None:
    """Write the label of the day's beginning. Where the day has no lunch, it counts as had."""
    fresh[:] = 0
    fresh[PARENT], fresh[NEXT] = -1, -1
    fresh[LUNCH] = 0 if rules.needs_lunch else 1


# ---- the cheapest ----------------------------------------------------------------------------------------


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
    """Put a label into its node's list (cheapest first) unless dominated; drop those it dominates.

    In order of cost only the labels before a place can dominate one that belongs there, and only those after it can
    be dominated: each pair is compared once.
    """
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
def follow(
    current: int,
    table: Ints,
    cost: Floats,
    head: Ints,
    count: int,
    graph: Graph,
    costs: Costs,
    rules: Rules,
    suffixes: Suffixes,
    fresh: Ints,
    work: Ints,
) -> int:
    """Follow one label over every arc of its node; how many labels there are then."""
    last = graph.begins.shape[0] - 1
    node = table[current, NODE]
    for arc in range(graph.arc_from[node], graph.arc_from[node + 1]):
        if not extend(table[current], graph.arcs[arc], graph, rules, last, fresh):
            continue
        value = cost[current] + costs.arc[arc] + costs.missed * (fresh[MISSED] - table[current, MISSED])
        to = fresh[NODE]
        rest = 0.0 if to == last else completion(suffixes, fresh, costs, rules, work)
        if value + rest >= costs.threshold:
            continue
        fresh[PARENT] = current
        if to == last:
            # Whole days are not held against each other: two of one cost may hold different services.
            table[count] = fresh
            table[count, NEXT] = head[last]
            cost[count], head[last] = value, count
            count += 1
        elif insert(table, cost, head, fresh, value, count, costs, rules, work):
            count += 1
    return count


@compiled
def forward(graph: Graph, costs: Costs, rules: Rules, suffixes: Suffixes) -> Walk:
    """The cheapest labels at every node, dominated ones left out; those at the end are the day's routes."""
    last = graph.begins.shape[0] - 1
    table = np.empty((FIRST_ROOM, WIDTH), np.int64)
    cost = np.empty(FIRST_ROOM, np.float64)
    head = np.full(last + 1, -1, np.int64)
    fresh = np.zeros(WIDTH, np.int64)
    first_label(fresh, rules)
    table[0], cost[0], head[0] = fresh, 0.0, 0
    count = 1
    work = np.zeros(1, np.int64)
    complete = True
    for node in range(last):
        degree = graph.arc_from[node + 1] - graph.arc_from[node]
        current, width = head[node], 0
        while current >= 0 and not stopped(count, work, graph, rules):
            width += 1
            if width > rules.beam:
                complete = False
                break
            table, cost = with_room(table, cost, count + degree)
            count = follow(current, table, cost, head, count, graph, costs, rules, suffixes, fresh, work)
            current = table[current, NEXT]
        if stopped(count, work, graph, rules):
            complete = False
            break
    return Walk(table, cost, count, head[last], complete)


# ---- all below a cost ------------------------------------------------------------------------------------


@compiled
def slot_of(slots: Ints, table: Ints, fresh: Ints) -> int:
    """The place in the hash table of labels with the same node, set of services and lunch.

    Open addressing with linear probing; the size is a power of two. The factor is that of multiplicative hashing,
    the prime next to 2**32 over the golden ratio (D. E. Knuth, The Art of Computer Programming 3, 6.4; from
    memory).
    """
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
def rehashed(slots: Ints, table: Ints) -> Ints:
    """The hash table twice as large."""
    larger = np.full(slots.shape[0] * 2, -1, np.int64)
    for at in range(slots.shape[0]):
        if slots[at] >= 0:
            larger[slot_of(larger, table, table[slots[at]])] = slots[at]
    return larger


@compiled
def keep(table: Ints, cost: Floats, slots: Ints, chain: Ints, fresh: Ints, value: float, at: int) -> bool:
    """Put a label beside those with the same set unless one of them is as good in every figure.

    A label that the new one beats stays in its lists, marked by a parent below -1 (which can be undone, -2 less it
    gives the parent again): it has not been followed on yet, since labels of a node are only once all are there.
    """
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
def with_room_for_all(
    table: Ints, cost: Floats, chain: Ints, slots: Ints, needed: int
) -> tuple[Ints, Floats, Ints, Ints]:
    """Labels, costs, chains and hash table with room for so many labels."""
    while table.shape[0] < needed:
        before = table.shape[0]
        table, cost = with_room(table, cost, before + 1)
        longer = np.full(table.shape[0], -1, np.int64)
        longer[:before] = chain
        chain = longer
        slots = rehashed(slots, table)
    return table, cost, chain, slots


@compiled
def follow_all(
    current: int,
    table: Ints,
    cost: Floats,
    chain: Ints,
    slots: Ints,
    by_node: Ints,
    count: int,
    graph: Graph,
    costs: Costs,
    rules: Rules,
    suffixes: Suffixes,
    fresh: Ints,
    work: Ints,
) -> int:
    """Follow one label over every arc of its node, keeping all that aren't beaten; how many there are then."""
    last = graph.begins.shape[0] - 1
    node = table[current, NODE]
    for arc in range(graph.arc_from[node], graph.arc_from[node + 1]):
        if not extend(table[current], graph.arcs[arc], graph, rules, last, fresh):
            continue
        value = cost[current] + costs.arc[arc] + costs.missed * (fresh[MISSED] - table[current, MISSED])
        to = fresh[NODE]
        rest = 0.0 if to == last else completion(suffixes, fresh, costs, rules, work)
        if value + rest >= costs.threshold:
            continue
        fresh[PARENT] = current
        fresh[NEXT] = by_node[to]
        if keep(table, cost, slots, chain, fresh, value, count):
            by_node[to] = count
            count += 1
    return count


@compiled
def enumerate_all(graph: Graph, costs: Costs, rules: Rules, suffixes: Suffixes) -> Walk:
    """Every set of services whose route costs less than the threshold, with all its good routes."""
    last = graph.begins.shape[0] - 1
    table = np.empty((FIRST_ROOM_FOR_ALL, WIDTH), np.int64)
    cost = np.empty(FIRST_ROOM_FOR_ALL, np.float64)
    chain = np.full(FIRST_ROOM_FOR_ALL, -1, np.int64)
    slots = np.full(FIRST_ROOM_FOR_ALL * BUSY_SLOTS, -1, np.int64)
    by_node = np.full(last + 1, -1, np.int64)
    fresh = np.zeros(WIDTH, np.int64)
    first_label(fresh, rules)
    table[0], cost[0], by_node[0] = fresh, 0.0, 0
    count = 1
    work = np.zeros(1, np.int64)
    for node in range(last):
        degree = graph.arc_from[node + 1] - graph.arc_from[node]
        current = by_node[node]
        while current >= 0 and not stopped(count, work, graph, rules):
            if table[current, PARENT] >= -1:
                table, cost, chain, slots = with_room_for_all(table, cost, chain, slots, count + degree)
                count = follow_all(
                    current, table, cost, chain, slots, by_node, count, graph, costs, rules, suffixes, fresh, work
                )
            current = table[current, NEXT]
        if stopped(count, work, graph, rules):
            return Walk(table, cost, count, by_node[last], False)
    return Walk(table, cost, count, by_node[last], True)

"""Bounds on what it costs to come to a node and to end the day from it, compiled.

Ng-routes (R. Baldacci, A. Mingozzi and R. Roberti, 2011, Operations Research 59): a walk remembers only services
near each place, so it may hold a service twice, and costs no more than the best day that doesn't.
"""

import numpy as np

from schedule.planner.proving.labels import (
    BY,
    FOLLOWING,
    INSIDE,
    MEMORY,
    REST,
    THEN,
    TO,
    UNTIL,
    WITH_LUNCH,
    Charge,
    Floats,
    Graph,
    Ints,
    Suffixes,
    compiled,
    grown,
    grown_floats,
)


@compiled
def put_suffix(
    lists: Ints, cost: Floats, head: Ints, node: int, memory: int, lunch: int, until: int, value: float, at: int
) -> bool:
    """Put a backward label into its node's list unless one no dearer remembers no more and runs no longer."""
    before, current = -1, head[node]
    while current >= 0 and cost[current] <= value:
        known, same = lists[current, MEMORY], lists[current, INSIDE] == lunch
        if same and lists[current, UNTIL] <= until and known & ~memory == 0:
            return False
        before, current = current, lists[current, FOLLOWING]
    lists[at, FOLLOWING], lists[at, MEMORY], cost[at] = current, memory, value
    lists[at, INSIDE], lists[at, UNTIL] = lunch, until
    if before < 0:
        head[node] = at
    else:
        lists[before, FOLLOWING] = at
    before = at
    while current >= 0:
        following = lists[current, FOLLOWING]
        known, same = lists[current, MEMORY], lists[current, INSIDE] == lunch
        if same and until <= lists[current, UNTIL] and memory & ~known == 0:
            lists[before, FOLLOWING] = following
        else:
            before = current
        current = following
    return True


@compiled
def put_prefix(lists: Ints, cost: Floats, head: Ints, node: int, memory: int, value: float, at: int) -> bool:
    """Put a label of a way to a node into its list unless one that is no dearer remembers no more."""
    before, current = -1, head[node]
    while current >= 0 and cost[current] <= value:
        if lists[current, MEMORY] & ~memory == 0:
            return False
        before, current = current, lists[current, FOLLOWING]
    lists[at, FOLLOWING], lists[at, MEMORY], cost[at] = current, memory, value
    if before < 0:
        head[node] = at
    else:
        lists[before, FOLLOWING] = at
    return True


@compiled
def ways_in(  # noqa: C901 - one compiled loop: splitting it would cost speed
    graph: Graph, charge: Charge, needs_lunch: bool
) -> Floats:
    """A lower bound on coming to each node, for a day's rest with 0 or 1 lunches: few services are remembered.

    A row a node; column 0 where lunch has been, column 1 where the rest of the day holds it.
    """
    last = graph.begins.shape[0] - 1
    least = np.full((last + 1, 2), 1e17)
    inside = np.full(last + 1, 1e17)
    for lunch in range(2):
        # Lunch on the way can be taken on one arc only; without it first, then with it from the ways without.
        lists = np.empty((4096, 2), np.int64)
        cost = np.empty(4096, np.float64)
        head = np.full(last + 1, -1, np.int64)
        count = 0
        if lunch == 0:
            lists[0, FOLLOWING], lists[0, MEMORY], cost[0] = -1, 0, 0.0
            head[0] = 0
            count = 1
        for node in range(last):
            if lunch == 1 and inside[node] < 1e16:
                if count == lists.shape[0]:
                    lists, cost = grown(lists), grown_floats(cost)
                memory = graph.once[node] & graph.nearest[node]
                if put_prefix(lists, cost, head, node, memory, inside[node], count):
                    count += 1
            current = head[node]
            if current >= 0:
                least[node, 1 - lunch] = min(least[node, 1 - lunch], cost[current])
            while current >= 0 and graph.halt[0] == 0:
                for a in range(graph.arc_from[node], graph.arc_from[node + 1]):
                    to = graph.arcs[a, TO]
                    bits = graph.once[to]
                    if lists[current, MEMORY] & bits != 0:
                        continue
                    value = cost[current] + charge.arc[a]
                    if graph.arcs[a, WITH_LUNCH] == 1:
                        if lunch == 0:
                            inside[to] = min(inside[to], value)
                        continue
                    if count == lists.shape[0]:
                        lists, cost = grown(lists), grown_floats(cost)
                    memory = (lists[current, MEMORY] | bits) & graph.nearest[to]
                    if put_prefix(lists, cost, head, to, memory, value, count):
                        count += 1
                current = lists[current, FOLLOWING]
    if not needs_lunch:
        # No day holds lunch: the rest holds none and neither does the way.
        for node in range(last + 1):
            least[node, 0] = least[node, 1]
    return least


@compiled
def backward(  # noqa: C901 - one compiled loop: splitting it would cost speed
    graph: Graph,
    into_from: Ints,
    into: Ints,
    charge: Charge,
    stretch: int,
    before: Floats,
    limit: float,
    max_labels: int,
) -> Suffixes:
    """The cheapest ways from each node to the end of the day, remembering only services near each place.

    Those that can't be part of a day that costs less than ``limit`` are left out: ``before`` holds the least cost
    of coming to each node, with and without lunch on the way.

    ``into`` lists, for each node, the arcs that end there as (origin, arc number). ``once`` marks the bits
    that are remembered at all: a service that may be held twice is not. A label knows when the run of visits
    that it begins with ends: minutes over the longest stretch are charged, or forbidden, where the run begins.
    """
    last = graph.begins.shape[0] - 1
    lists = np.empty((4096, 6), np.int64)
    cost = np.empty(4096, np.float64)
    head = np.full(last + 1, -1, np.int64)
    lists[0, :] = 0
    lists[0, FOLLOWING], lists[0, BY], lists[0, THEN], cost[0] = -1, -1, -1, 0.0
    head[last] = 0
    count = 1
    for node in range(last, 0, -1):
        bits = graph.once[node]
        current = head[node]
        while current >= 0 and graph.halt[0] == 0:
            if lists[current, MEMORY] & bits == 0:
                for n in range(into_from[node], into_from[node + 1]):
                    origin, arc = into[n, 0], into[n, 1]
                    lunch = lists[current, INSIDE] + graph.arcs[arc, WITH_LUNCH]
                    if lunch > 1:
                        continue
                    value = cost[current] + charge.arc[arc]
                    until = lists[current, UNTIL]
                    begins = origin == 0 or graph.arcs[arc, REST] == 1 or graph.arcs[arc, WITH_LUNCH] == 1
                    if node == last or begins:
                        over = 0 if node == last else max(0, until - graph.begins[node] - stretch)
                        if over > 0 and charge.no_miss:
                            continue
                        value += charge.missed * over
                        until = graph.ends[origin]
                    if value + before[origin, lunch] >= limit:
                        continue
                    if count == lists.shape[0]:
                        lists, cost = grown(lists), grown_floats(cost)
                    memory = (lists[current, MEMORY] | bits) & graph.near[origin]
                    if put_suffix(lists, cost, head, origin, memory, lunch, until, value, count):
                        lists[count, BY], lists[count, THEN] = arc, current
                        count += 1
            current = lists[current, FOLLOWING]
        if count >= max_labels or graph.halt[0] != 0:
            return Suffixes(head[:0], lists[:0].copy(), cost[:0], False)
    return Suffixes(head, lists[:count].copy(), cost[:count].copy(), True)

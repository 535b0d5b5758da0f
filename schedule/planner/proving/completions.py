"""Bounds on what it costs to come to a node and to end the day from it, compiled.

Ng-routes (R. Baldacci, A. Mingozzi and R. Roberti, 2011, Operations Research 59): a walk that remembers every
service it has met makes far too many labels. This one remembers, at each node, only services near the node's
place (``near``): what it has met elsewhere it forgets as it moves on, and may meet again. So it finds days that
nobody could keep, a service held twice with something in between, beside all those that are right. The cheapest
of more days costs no more than the cheapest right one: a lower bound, at a price that ``columns.REMEMBERED``
chooses. Services near by are the ones worth remembering, since a round trip far enough to forget a service seldom
pays. Where one pays all the same, ``generation`` has that service remembered on the way.

The walk runs backwards, because the forward walks that use its bounds run forwards: they stand at a node with
what they have used, and ask what the rest of the day can cost. What is asked of a backward label is told in
``FOLLOWING``.
"""

import numpy as np

from schedule.planner.proving.labels import (
    BY,
    FOLLOWING,
    INSIDE,
    MEMORY,
    NEVER,
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
    with_room,
)

FIRST_ROOM = 4096
"""Labels that a walk has room for at first."""


# ---- lists of labels -------------------------------------------------------------------------------------


@compiled
def goes_with_more(
    memory: int, lunch: int, until: int, other_memory: int, other_lunch: int, other_until: int
) -> bool:
    """Whether a backward label fits every way to its node that another fits, at no more minutes over.

    It remembers a subset, so it bars no more services; it holds the same lunches; and the run of visits that the
    node is in ends no later, so no way to the node is longer over the stretch.
    """
    return bool(lunch == other_lunch and until <= other_until and memory & ~other_memory == 0)


@compiled
def put_suffix(
    lists: Ints, cost: Floats, head: Ints, node: int, memory: int, lunch: int, until: int, value: float, at: int
) -> bool:
    """Put a backward label into its node's list unless one no dearer remembers no more and runs no longer.

    The list is in order of cost, so that only labels before its place can beat it, and only those after it go.
    """
    before, current = -1, head[node]
    while current >= 0 and cost[current] <= value:
        known = lists[current, MEMORY]
        if goes_with_more(known, lists[current, INSIDE], lists[current, UNTIL], memory, lunch, until):
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
        following, known = lists[current, FOLLOWING], lists[current, MEMORY]
        if goes_with_more(memory, lunch, until, known, lists[current, INSIDE], lists[current, UNTIL]):
            lists[before, FOLLOWING] = following
        else:
            before = current
        current = following
    return True


@compiled
def put_prefix(lists: Ints, cost: Floats, head: Ints, node: int, memory: int, value: float, at: int) -> bool:
    """Put a label of a way to a node into its list unless one that is no dearer remembers no more.

    Labels that it beats stay, dearer and behind it in the list: that costs some time and no truth.
    """
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


# ---- the way to a node -----------------------------------------------------------------------------------


@compiled
def follow_way(
    current: int,
    node: int,
    lists: Ints,
    cost: Floats,
    head: Ints,
    count: int,
    inside: Floats,
    graph: Graph,
    charge: Charge,
    lunch: int,
) -> int:
    """Follow one way to a node over every arc; how many labels there are then.

    On the pass without lunch an arc with lunch makes no label: its end and cost go to ``inside``, where the other
    pass begins.
    """
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
        memory = (lists[current, MEMORY] | bits) & graph.nearest[to]
        if put_prefix(lists, cost, head, to, memory, value, count):
            count += 1
    return count


@compiled
def pass_of_ways(graph: Graph, charge: Charge, lunch: int, least: Floats, inside: Floats) -> None:
    """Ways to every node without lunch (0), or from just after lunch (1), into a column of ``least``."""
    last = graph.begins.shape[0] - 1
    lists = np.empty((FIRST_ROOM, 2), np.int64)
    cost = np.empty(FIRST_ROOM, np.float64)
    head = np.full(last + 1, -1, np.int64)
    count = 0
    if lunch == 0:
        lists[0, FOLLOWING], lists[0, MEMORY], cost[0] = -1, 0, 0.0
        head[0] = 0
        count = 1
    for node in range(last):
        degree = graph.arc_from[node + 1] - graph.arc_from[node]
        lists, cost = with_room(lists, cost, count + 1)
        if lunch == 1 and inside[node] < NEVER:
            memory = graph.once[node] & graph.nearest[node]
            if put_prefix(lists, cost, head, node, memory, inside[node], count):
                count += 1
        current = head[node]
        if current >= 0:
            least[node, 1 - lunch] = min(least[node, 1 - lunch], cost[current])
        while current >= 0 and graph.halt[0] == 0:
            lists, cost = with_room(lists, cost, count + degree)
            count = follow_way(current, node, lists, cost, head, count, inside, graph, charge, lunch)
            current = lists[current, FOLLOWING]


@compiled
def ways_in(graph: Graph, charge: Charge, needs_lunch: bool) -> Floats:
    """A lower bound on coming to each node, for a day's rest with 0 or 1 lunches: few services are remembered.

    A row a node; column 0 where lunch has been, column 1 where the rest of the day holds it. Minutes over the
    longest stretch are left out, which makes it lower and keeps it true. It needn't be good: all that it does is
    to keep the backward walk from labels that no day worth having can use, so it must cost less than they would.
    """
    last = graph.begins.shape[0] - 1
    least = np.full((last + 1, 2), NEVER)
    inside = np.full(last + 1, NEVER)
    # Lunch on the way can be taken on one arc only; without it first, then with it from the ways without. Of all
    # ways that have lunch just before a node only the cheapest goes on, with its own node's services remembered:
    # less memory, so no dearer than any of them.
    for lunch in range(2):
        pass_of_ways(graph, charge, lunch, least, inside)
    if not needs_lunch:
        # No day holds lunch: the rest holds none and neither does the way.
        for node in range(last + 1):
            least[node, 0] = least[node, 1]
    return least


# ---- the rest of the day ---------------------------------------------------------------------------------


@compiled
def begins_run(origin: int, rest: int, with_lunch: int) -> bool:
    """Whether a run of visits begins with an arc's end: after a break, after lunch, or as the first of the day."""
    return bool(origin == 0 or rest == 1 or with_lunch == 1)


@compiled
def lead_back(
    current: int,
    node: int,
    lists: Ints,
    cost: Floats,
    head: Ints,
    count: int,
    graph: Graph,
    into_from: Ints,
    into: Ints,
    charge: Charge,
    stretch: int,
    before: Floats,
    limit: float,
) -> int:
    """Lead one backward label over every arc into its node; how many labels there are then."""
    last = graph.begins.shape[0] - 1
    memory = lists[current, MEMORY] | graph.once[node]
    for n in range(into_from[node], into_from[node + 1]):
        origin, arc = into[n, 0], into[n, 1]
        lunch = lists[current, INSIDE] + graph.arcs[arc, WITH_LUNCH]
        if lunch > 1:
            continue
        value = cost[current] + charge.arc[arc]
        until = lists[current, UNTIL]
        if node == last or begins_run(origin, graph.arcs[arc, REST], graph.arcs[arc, WITH_LUNCH]):
            # The run that ends at ``until`` begins here, so its length is known. The end of the day is no visit.
            over = 0 if node == last else max(0, until - graph.begins[node] - stretch)
            if over > 0 and charge.no_miss:
                continue
            value += charge.missed * over
            until = graph.ends[origin]
        if value + before[origin, lunch] >= limit:
            continue
        if put_suffix(lists, cost, head, origin, memory & graph.near[origin], lunch, until, value, count):
            lists[count, BY], lists[count, THEN] = arc, current
            count += 1
    return count


@compiled
def backward(
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

    ``into`` lists, for each node, the arcs that end there as (origin, arc number): those into node ``i`` are the
    rows ``into_from[i]`` to ``into_from[i + 1]``. A label at a node holds what follows it; the node's own
    services count when it is led back further. It knows when the run of visits that its node is in ends: minutes
    over the longest stretch are charged, or forbidden, where the run begins.

    Labels of the day's beginning are whole days. Cut at ``max_labels`` the walk gives nothing: a list that lacks a
    label would pass for a bound and be none.
    """
    last = graph.begins.shape[0] - 1
    lists = np.empty((FIRST_ROOM, 6), np.int64)
    cost = np.empty(FIRST_ROOM, np.float64)
    head = np.full(last + 1, -1, np.int64)
    lists[0, :] = 0
    lists[0, FOLLOWING], lists[0, BY], lists[0, THEN], cost[0] = -1, -1, -1, 0.0
    head[last] = 0
    count = 1
    for node in range(last, 0, -1):
        degree = into_from[node + 1] - into_from[node]
        current = head[node]
        while current >= 0 and graph.halt[0] == 0:
            # A label that remembers one of the node's own services can't come from it.
            if lists[current, MEMORY] & graph.once[node] == 0:
                lists, cost = with_room(lists, cost, count + degree)
                count = lead_back(
                    current, node, lists, cost, head, count, graph, into_from, into, charge, stretch, before, limit
                )
            current = lists[current, FOLLOWING]
        if count >= max_labels or graph.halt[0] != 0:
            return Suffixes(head[:0], lists[:0].copy(), cost[:0], False)
    return Suffixes(head, lists[:count].copy(), cost[:count].copy(), True)

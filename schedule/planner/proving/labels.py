"""What a way through one day is to the search: labels, the arrays they run over, and when one beats another.

The problem of one day is the elementary shortest path with resource constraints (D. Feillet, P. Dejax, M.
Gendreau and C. Gueguen, 2004, Networks 44): from the day's beginning to its end over *nodes* (a session at one of
its starts, or a fixed block), each service held no more often than owed, at the least cost. A *label* is one way
to reach a node, with what it has used up on the way. There is no clock among that: a node has its start and end,
so whoever stands at a node stands there at the same minute. Nodes are numbered in order of time and arcs lead to
later nodes only. So one pass over the nodes sees every label of a node before the first of them is followed on.

``walks`` makes labels forwards, ``completions`` bounds what is still to come. All of it is compiled, works on plain
arrays, and releases the interpreter lock, so that a web page stays quick while a thread plans. Arrays are passed as
arguments and not kept in objects, because Numba compiles functions over arrays and named tuples and little else.
"""

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple, cast

import numpy as np
from numba import config, njit
from numpy.typing import NDArray

type Ints = NDArray[np.int64]
type Floats = NDArray[np.float64]

EPSILON = 1e-7
"""Costs are sums of duals, so they differ in the last digits for one and the same route: less than this is equal.

Ten times as much is given away wherever a limit leaves something out, so that rounding never does.
"""

NEVER = 1e17
"""A cost that no day has: sums of minutes and duals stay many orders below it."""

WIDTH = 11
"""Integers a label: a row of ``Walk.table``. Its cost, the one float, lies beside it in ``Walk.cost``."""

NODE, MASK, LUNCH, PREPARED, BEGIN, MISSED, DRIVE, KEPT, OFF, PARENT, NEXT = range(WIDTH)
"""A label's columns.

- ``NODE``: where it stands. ``MASK``: a bit for each session held today (``Graph.low``, ``Graph.high``).
- ``LUNCH``: 1 once lunch is had, from the beginning where the day has none.
- ``PREPARED``: minutes of preparation so far, counted up to ``Rules.cap``.
- ``BEGIN``: minute at which the present run of visits began (a run ends with lunch, a break, or the day).
- ``MISSED``: minutes of the day's wishes missed for good. ``DRIVE``: minutes at the wheel. ``KEPT``: sessions
  held as in the week in force. ``OFF``: minutes off the usual times.
- ``PARENT``: the row that it was made from (-1: the day's beginning; below -1: beaten, see ``walks.keep``).
  ``NEXT``: the row of the next label at the same node, -1 for none.
"""

TO, WITH_LUNCH, ARC_DRIVE, ARC_PREPARED, REST = range(5)
"""An arc's columns: the node it leads to, whether lunch is on the way, minutes at the wheel and of preparation in
the gap, whether the gap is a break."""

FOLLOWING, MEMORY, INSIDE, UNTIL, BY, THEN = range(6)
"""A backward label's columns: the next one of its node (dearer or as dear), services remembered, lunches inside,
the minute at which the run of visits that its node is in ends, the arc it was made over, the label that it goes
on to."""


class Graph(NamedTuple):
    """A day as arrays: ``n`` nodes (the day's beginning is 0, its end ``n - 1``), ``m`` arcs, ``b`` bits.

    Times are minutes after midnight. A walk looks at ``halt[0]`` label by label: anything but 0 ends it, and what
    it then gives is incomplete.
    """

    arc_from: Ints
    """(n + 1) Arcs of node ``i`` are the rows ``arc_from[i]`` to ``arc_from[i + 1]`` of ``arcs``."""
    arcs: Ints
    """(m, 5) See ``TO``."""
    member_from: Ints
    """(n + 1) Services of node ``i`` are ``members[member_from[i] : member_from[i + 1]]``, several for a group."""
    members: Ints
    low: Ints
    high: Ints
    """(services) The bits of a service today: ``low`` to ``high - 1``, several where it may be held twice a day."""
    begins: Ints
    ends: Ints
    """(n) Start and end of each node; all 0 where no longest stretch is wished for, so that none is ever over."""
    kept: Ints
    off: Ints
    """(n) What a visit adds to the sessions kept and to the minutes off the usual times."""
    near: Ints
    nearest: Ints
    """(n) Bits that a backward walk, and the bound on the way there, remember at each node: see ``completions``."""
    once: Ints
    """(n) Bits of the node's services that can be held once today: those that may be held twice aren't
    remembered."""
    halt: Ints
    """(1)"""


class Charge(NamedTuple):
    """What one backward walk charges: cost of each arc (prize of its end taken off), and of a missed minute.

    ``prepared`` is a Lagrangian multiplier on the day's wish for preparation. What is missed is known only at the
    end of a day, where the backward walk begins, so the wish is charged in advance: ``prepared`` times what is
    wished for, less ``prepared`` for each minute prepared. Missed are at least wished minutes less prepared ones,
    and none, so for a multiplier from 0 to ``missed`` the advance is never more than what the missed minutes
    really cost. Where none may be missed (``no_miss``), wished less prepared is never above 0 and any multiplier
    from 0 up gives a bound.
    """

    arc: Floats
    prepared: float
    missed: float
    no_miss: bool


class Costs(NamedTuple):
    """A charge for the forward walks. ``threshold``: what a route must stay below.

    ``arc`` lacks the advance for preparation, since a label counts its own minutes: only the rest of the day is
    bounded with it (``completion``). ``pay`` (b) is what leaving out the visits of a bit costs at most.
    """

    arc: Floats
    pay: Floats
    missed: float
    prepared: float
    threshold: float


class Rules(NamedTuple):
    """Rules of the day and limits of a walk, minutes and numbers of labels.

    ``cap``: preparation is told apart up to here. What the day wishes for is enough where nothing else counts
    preparation; -1 (no cap) where the horizon wishes for some too; 0 where nobody does.
    ``skip``: whether a visit can be left out without making anything else late. ``beam``: labels of a node that are
    followed on at most. ``max_work``: comparisons at most, which bounds the time where lists are long.
    """

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
    """Backward labels: for each node a list, cheapest first. A row of ``lists``: see ``FOLLOWING``.

    ``head`` (n) has each node's first row, -1 for none; it is empty where the walk was cut and nothing is known.
    """

    head: Ints
    lists: Ints
    cost: Floats
    complete: bool


class Walk(NamedTuple):
    """A forward walk's labels, ``made`` of them. ``last``: the first of those at the end of the day.

    ``complete`` is false where a limit cut it: a walk that was cut proves nothing.
    """

    table: Ints
    cost: Floats
    made: int
    last: int
    complete: bool


def sources_key(folder: Path, decorator: str) -> str:
    """A name for what a folder compiles, as it is: for those of its files that have functions so decorated.

    Another one after any change in any of them, the same after one in a file beside them.
    """
    told, mark = hashlib.sha256(), f"\n@{decorator}\n".encode()
    for file in sorted(folder.glob("*.py")):
        source = file.read_bytes()
        if mark in source:
            told.update(source)
    return told.hexdigest()[:16]


HERE = Path(__file__).resolve().parent
# Numba looks at the file of the compiled function alone, and a function holds the code of those that it calls:
# after a change in this file it would go on with what `walks` held before. So each state of the files that are
# compiled has a cache of its own; what these take from other modules of the program are types
# (`tests/planner/proving/test_warm.py`).
_kept = Path(getattr(config, "CACHE_DIR", "") or HERE / "__pycache__")
setattr(config, "CACHE_DIR", str(_kept / sources_key(HERE, "compiled")))  # noqa: B010  # numba declares no such name


def compiled[F: Callable[..., Any]](function: F) -> F:
    """Compile with numba, cached on disk, without the interpreter lock.

    A trap: a call between compiled functions hands over every array of a named tuple, in pointers, sizes and
    strides. That is fine once a label, but once an arc it made a walk a third slower, so what is called there
    takes plain numbers or is small enough to be put in its place by the compiler.
    """
    return cast("F", njit(cache=True, nogil=True)(function))


def compiled_in[F: Callable[..., Any]](folder: Path, decorator: str) -> Callable[[F], F]:
    """``compiled`` for the functions of another folder, kept under the state of what it decorates so."""
    mine = str(_kept / sources_key(folder, decorator))

    def here(function: F) -> F:
        usual = getattr(config, "CACHE_DIR")  # noqa: B009  # numba declares no such name
        setattr(config, "CACHE_DIR", mine)  # noqa: B010  # numba declares no such name
        try:
            return compiled(function)
        finally:
            setattr(config, "CACHE_DIR", usual)  # noqa: B010  # numba declares no such name

    return here


@compiled
def taken(mask: int, graph: Graph, node: int) -> int:
    """The mask after one more session of each member of the node, or -1 where one has none left.

    Bits of a service are filled from the lowest, so that two sessions of it make the same mask in either order.
    """
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
    """What it costs at most to leave out every visit of the services in ``extra``."""
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
    """Whether every way to go on from ``b`` can be followed from ``a`` at no more cost. Both stand at one node.

    Take any rest of the day after ``b`` and follow it from ``a``. The clock is the same. What can differ:

    - *Lunch.* If ``b`` has had it, ``a`` must too. The other way round is no harm: ``a`` goes the same way without.
    - *Sessions.* What ``a`` has held and ``b`` has not, the rest may hold again, and ``a`` may not: it leaves those
      visits out and loses their prizes, at most ``paid``. That makes nothing late if driving straight is never
      longer than by way of a third place (``skip``), and two gaps that become one have no less free time. Without
      ``skip``, ``a`` must have used a subset.
    - *Preparation and the present run.* Each minute of preparation that ``a`` lacks, and each minute by which its
      run began sooner, is at most one more missed minute at the end: missed minutes grow one for one with either.

    Feillet and others (2004) ask for a subset; paying for the difference is ours, and beats many labels more. It
    is not watertight: a drive that is left out can move lunch past the end of its window. A good day may be
    overlooked by that, and no bound suffers: bounds come from the backward walk, and ``enumerate_all`` asks
    ``covers`` instead.
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
    """Whether ``a`` is at least as good as ``b`` in every figure, for the same node, sessions and lunch.

    No cost is asked: columns that are enumerated for one goal are chosen among for the goals after it, under
    charges that nobody knows yet. What is as good in every figure is as good under any of them.
    """
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
    """A lower bound on what it costs to end the day from a label. Steps are counted in ``work``.

    The rest of the label's best day is an ng-route too, so some backward label of the node stands for it or beats
    it: one that remembers none of the services the label has held, and brings the lunches together to one. The
    cheapest such label is the bound. The run of visits that goes through the node is known from both sides only
    here, so its minutes over the longest stretch are charged here; the search ends at the first label that
    charges none, since those after it cost no less.
    """
    charged = costs.prepared * (rules.want - label[PREPARED])
    if suffixes.head.shape[0] == 0:
        return -NEVER
    best = NEVER
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
def ends_run(arc: Ints, last: int) -> bool:
    """Whether a run of visits ends before an arc's node: by a break, by lunch, or with the day."""
    return bool(arc[REST] == 1 or arc[WITH_LUNCH] == 1 or arc[TO] == last)


@compiled
def extend(label: Ints, arc: Ints, graph: Graph, rules: Rules, last: int, fresh: Ints) -> bool:
    """Write into ``fresh`` the label that follows an arc; ``False`` where a rule forbids it.

    ``fresh`` is one row that is used over and over: most labels are thrown away at once, and memory for each would
    cost more than the label.
    """
    node, to = label[NODE], arc[TO]
    lunch = label[LUNCH] + arc[WITH_LUNCH]
    if lunch > 1 or (to == last and lunch == 0):
        return False
    mask = taken(label[MASK], graph, to)
    if mask < 0:
        return False
    fresh[:] = label
    fresh[NODE], fresh[MASK], fresh[LUNCH] = to, mask, lunch
    total = label[PREPARED] + arc[ARC_PREPARED]
    fresh[PREPARED] = min(rules.cap, total) if rules.cap >= 0 else total
    over = 0
    # The day's beginning is no visit: the first run begins with the first visit.
    if node == 0:
        fresh[BEGIN] = graph.begins[to]
    elif ends_run(arc, last):
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
def with_room(table: Ints, cost: Floats, needed: int) -> tuple[Ints, Floats]:
    """Labels and costs with room for so many. Asked once a label and not once an arc, outside the tightest loop."""
    while table.shape[0] < needed:
        table, cost = grown(table), grown_floats(cost)
    return table, cost

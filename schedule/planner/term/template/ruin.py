"""The search for a standing timetable, compiled: standing sessions taken out of every kind of week and put back.

Ruin and recreate (Schrimpf and others 2000; Christiaens and Vanden Berghe 2020) under simulated annealing
(Kirkpatrick, Gelatt and Vecchi 1983). A *slot* is one standing session, a *candidate* a time and place at which a
unit could stand. A week of each kind holds what it can of the slots; what it still owes goes wherever it costs
least (*loose*) and stays there until a round takes it out. All arrays are made by ``board``.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from schedule.planner.proving.labels import Ints, compiled_in

HERE = Path(__file__).resolve().parent


def searched[F: Callable[..., Any]](function: F) -> F:
    """Compiled, and kept under the state of all that this folder compiles: a function holds what it calls."""
    return compiled_in(HERE, "searched")(function)


NO_WAY = 1_000_000
"""More than anything costs: the session doesn't fit."""

START, END, PLACE, SESSION, UNIT, CANDIDATE, FIXED, LOOK = range(8)
"""Columns of ``Board.nodes``. ``UNIT`` and ``CANDIDATE`` are -1 where a node has none. ``LOOK``: equal
numbers fit a day in the same way."""

FIRST_NODE, NODES, KIND, LUNCH, EARLIEST, LATEST, WANTED, RULES = range(8)
"""Columns of ``Board.days``: nodes, kind of week, minutes of lunch (0: none) and its window, preparation wished,
and a number that days with the same rules share."""

DRIVING, MISSED, HELD = range(3)
"""Columns of ``HeldWeeks.figures``: minutes at the wheel, of wishes missed, and a number for what is held."""

WEEKS, FIRST_DAY, DAYS, SETUP, SMALLEST, BREAK, STRETCH, WISHES = range(8)
"""Columns of ``Board.kinds``: how many weeks, their days, minutes of set-up, the smallest piece of preparation, a
break and the longest stretch, and whether anything is wished for."""

WORTH, WISH_MINUTE, LEFT_OVER = range(3)
"""``Board.prices`` in minutes of driving: a session that leaves its usual time, a missed minute, an owed
minute left over."""


class Board(NamedTuple):
    """What doesn't change. Each ``..._from`` says where the rows of a number begin, and where those before end.

    ``value``: minutes of a service's session, times weight. ``comes``: whether the day of a candidate comes in a
    kind of week, open or closed.
    """

    kinds: Ints
    days: Ints
    nodes: Ints
    leg: Ints
    drive: Ints
    owed: Ints
    value: Ints
    apart: Ints
    member_from: Ints
    members: Ints
    unit_from: Ints
    units: Ints
    node_from: Ints
    node_day: Ints
    node: Ints
    candidate_from: Ints
    candidates: Ints
    candidate_key: Ints
    comes: Ints
    touching: Ints
    loose_from: Ints
    loose: Ints
    slot_unit: Ints
    prices: Ints


class HeldWeeks(NamedTuple):
    """What changes: each day's visits in order, what is held and missing of services, where each slot stands."""

    visits: Ints
    visited: Ints
    figures: Ints
    missing: Ints
    held: Ints
    slots: Ints
    stands: Ints
    cost: Ints


# ---- chance ----------------------------------------------------------------------------------------------


@searched
def chance(rng: Ints) -> float:
    """A number from 0 up to 1 (xorshift, Marsaglia 2003, 63 bits kept)."""
    x = rng[0]
    x ^= (x << 13) & 0x7FFFFFFFFFFFFFFF
    x ^= x >> 7
    x ^= (x << 17) & 0x7FFFFFFFFFFFFFFF
    rng[0] = x
    return float((x >> 10) / 9007199254740992.0)


@searched
def below(rng: Ints, most: int) -> int:
    """A whole number from 0 up to ``most`` less one."""
    return min(most - 1, int(chance(rng) * most))


# ---- one day ---------------------------------------------------------------------------------------------


@searched
def lunch_fits(day: Ints, begin: int, finish: int, leg: int) -> bool:
    """Whether lunch fits between two visits, before or after the drive."""
    spare = finish - begin - leg - day[LUNCH]
    if spare < 0:
        return False
    last = day[LATEST] - day[LUNCH]
    after = max(begin + leg, day[EARLIEST]) <= min(begin + leg + spare, last)
    return bool(after or max(begin, day[EARLIEST]) <= min(begin + spare, last))


@searched
def lunch_preparation(day: Ints, begin: int, finish: int, leg: int, smallest: int) -> int:
    """The most preparation that a gap leaves with lunch in it; -1 where lunch doesn't fit."""
    spare = finish - begin - leg - day[LUNCH]
    best = -1
    if spare < 0:
        return best
    for base in (begin + leg, begin):
        low, high = max(base, day[EARLIEST]), min(base + spare, day[LATEST] - day[LUNCH])
        if low > high:
            continue
        for wanted in (base, base + spare, base + smallest, base + spare - smallest):
            at = min(max(wanted, low), high)
            before, after = at - base, base + spare - at
            best = max(best, (before if before >= smallest else 0) + (after if after >= smallest else 0))
    return best


@searched
def finish_of(board: Board, kind: int, a: int, first: int, b: int) -> int:
    """When what comes before node ``b`` has to be done: setting up follows any visit but the day's beginning."""
    setup = board.kinds[kind, SETUP] if board.nodes[b, SESSION] and a != first else 0
    return int(board.nodes[b, START] - setup)


@searched
def gap(board: Board, kind: int, a: int, b: int, first: int) -> int:
    """Minutes at the wheel from one node to a later one, -1 where the time doesn't reach."""
    here, there = board.nodes[a, PLACE], board.nodes[b, PLACE]
    free = finish_of(board, kind, a, first, b) - board.nodes[a, END] - board.leg[kind, here, there]
    return int(board.drive[kind, here, there]) if free >= 0 else -1


@searched
def has_lunch(board: Board, day: int, a: int, b: int) -> bool:
    """Whether lunch fits between two nodes."""
    kind, first = board.days[day, KIND], board.days[day, FIRST_NODE]
    leg = board.leg[kind, board.nodes[a, PLACE], board.nodes[b, PLACE]]
    return lunch_fits(board.days[day], board.nodes[a, END], finish_of(board, kind, a, first, b), leg)


@searched
def path_node(board: Board, weeks: HeldWeeks, day: int, at: int) -> int:
    """The node at a place of the day's path: -1 is its beginning, after the last visit its end."""
    first = board.days[day, FIRST_NODE]
    if at < 0:
        return int(first)
    if at >= weeks.visited[day]:
        return int(first + board.days[day, NODES] - 1)
    return int(first + weeks.visits[day, at])


@searched
def place_of(board: Board, weeks: HeldWeeks, day: int, node: int) -> int:
    """At which place of the day's visits a node would stand."""
    at = 0
    while at < weeks.visited[day] and weeks.visits[day, at] < node:
        at += 1
    return at


@searched
def lunch_stays(board: Board, weeks: HeldWeeks, day: int, at: int) -> bool:
    """Whether lunch fits into a gap of the day other than the one before visit ``at``."""
    for n in range(weeks.visited[day] + 1):
        if n != at and has_lunch(board, day, path_node(board, weeks, day, n - 1), path_node(board, weeks, day, n)):
            return True
    return False


@searched
def more_driving(board: Board, weeks: HeldWeeks, day: int, node: int) -> int:
    """Minutes at the wheel that a node adds to a day, or ``NO_WAY``."""
    kind, first = board.days[day, KIND], board.days[day, FIRST_NODE]
    at, mine = place_of(board, weeks, day, node), first + node
    a, b = path_node(board, weeks, day, at - 1), path_node(board, weeks, day, at)
    if board.nodes[a, END] > board.nodes[mine, START] or board.nodes[mine, END] > board.nodes[b, START]:
        return NO_WAY
    before, after = gap(board, kind, a, mine, first), gap(board, kind, mine, b, first)
    if before < 0 or after < 0 or weeks.visited[day] >= weeks.visits.shape[1] - 1:
        return NO_WAY
    if board.days[day, LUNCH]:
        beside = has_lunch(board, day, a, mine) or has_lunch(board, day, mine, b)
        if not beside and not lunch_stays(board, weeks, day, at):
            return NO_WAY
    return before + after - max(0, gap(board, kind, a, b, first))


@searched
def over_stretch(board: Board, weeks: HeldWeeks, day: int, lunch_at: int) -> int:
    """Minutes by which runs of visits without a break exceed the longest stretch."""
    kind, first = board.days[day, KIND], board.days[day, FIRST_NODE]
    over, count = 0, weeks.visited[day]
    begin = board.nodes[path_node(board, weeks, day, 0), START]
    for n in range(1, count + 1):
        a, b = path_node(board, weeks, day, n - 1), path_node(board, weeks, day, n)
        leg = board.leg[kind, board.nodes[a, PLACE], board.nodes[b, PLACE]]
        free = finish_of(board, kind, a, first, b) - board.nodes[a, END] - leg
        if n in (count, lunch_at) or free >= board.kinds[kind, BREAK]:
            over += max(0, board.nodes[a, END] - begin - board.kinds[kind, STRETCH])
            begin = board.nodes[b, START]
    return over if count else 0


@searched
def missed(board: Board, weeks: HeldWeeks, day: int) -> int:
    """Minutes of the day's wishes that are missed, lunch where that is least."""
    kind, first = board.days[day, KIND], board.days[day, FIRST_NODE]
    smallest, prepared, best = board.kinds[kind, SMALLEST], 0, NO_WAY
    count = weeks.visited[day] + 1
    kept, lunches = np.zeros(count, np.int64), np.full(count, -1, np.int64)
    for n in range(count):
        a, b = path_node(board, weeks, day, n - 1), path_node(board, weeks, day, n)
        leg = board.leg[kind, board.nodes[a, PLACE], board.nodes[b, PLACE]]
        begin, finish = board.nodes[a, END], finish_of(board, kind, a, first, b)
        kept[n] = finish - begin - leg if finish - begin - leg >= smallest else 0
        prepared += kept[n]
        lunches[n] = lunch_preparation(board.days[day], begin, finish, leg, smallest)
    wanted = board.days[day, WANTED]
    if not board.days[day, LUNCH]:
        return int(max(0, wanted - prepared) + over_stretch(board, weeks, day, -1))
    for n in range(count):
        if lunches[n] >= 0:
            short = max(0, wanted - prepared - lunches[n] + kept[n])
            if short < best:
                best = min(best, short + over_stretch(board, weeks, day, n))
    return best


@searched
def added_in(board: Board, weeks: HeldWeeks, day: int, node: int, most: int) -> int:
    """What a node adds to a day in minutes, wishes weighed; no less than ``most`` is as good as ``NO_WAY``."""
    more = more_driving(board, weeks, day, node)
    if more >= most or not board.kinds[board.days[day, KIND], WISHES]:
        return more
    at = place_of(board, weeks, day, node)
    insert(weeks, day, at, node)
    miss = missed(board, weeks, day)
    remove(weeks, day, at)
    return int(more + board.prices[WISH_MINUTE] * (miss - weeks.figures[day, MISSED]))


@searched
def insert(weeks: HeldWeeks, day: int, at: int, node: int) -> None:
    """Put a node among a day's visits."""
    for n in range(weeks.visited[day], at, -1):
        weeks.visits[day, n] = weeks.visits[day, n - 1]
    weeks.visits[day, at] = node
    weeks.visited[day] += 1


@searched
def remove(weeks: HeldWeeks, day: int, at: int) -> None:
    """Take the visit at a place out of a day."""
    weeks.visited[day] -= 1
    for n in range(at, weeks.visited[day]):
        weeks.visits[day, n] = weeks.visits[day, n + 1]


@searched
def measure(board: Board, weeks: HeldWeeks, day: int) -> bool:
    """Work out a day's figures; whether it can be held at all."""
    kind, first, total = board.days[day, KIND], board.days[day, FIRST_NODE], 0
    lunch = board.days[day, LUNCH] == 0
    for n in range(weeks.visited[day] + 1):
        a, b = path_node(board, weeks, day, n - 1), path_node(board, weeks, day, n)
        more = gap(board, kind, a, b, first)
        if more < 0:
            return False
        total += more
        lunch = lunch or has_lunch(board, day, a, b)
    weeks.figures[day, DRIVING] = total
    weeks.figures[day, MISSED] = missed(board, weeks, day) if board.kinds[kind, WISHES] else 0
    mark = board.days[day, RULES]
    for n in range(weeks.visited[day]):
        mark = ((mark * 1_000_003) ^ board.nodes[first + weeks.visits[day, n], LOOK]) & 0xFFFFFFFFFFFF
    weeks.figures[day, HELD] = mark
    return bool(lunch)


# ---- one week --------------------------------------------------------------------------------------------


@searched
def allowed(board: Board, weeks: HeldWeeks, day: int, node: int) -> bool:
    """Whether all members of a node's unit are owed one more, far enough from their other days."""
    kind, unit = board.days[day, KIND], board.nodes[board.days[day, FIRST_NODE] + node, UNIT]
    first, last = board.kinds[kind, FIRST_DAY], board.kinds[kind, FIRST_DAY] + board.kinds[kind, DAYS]
    for m in range(board.member_from[unit], board.member_from[unit + 1]):
        service = board.members[m]
        apart = board.apart[kind, service]
        if weeks.missing[kind, service] <= 0:
            return False
        for other in range(max(first, day - apart + 1), min(last, day + apart)):
            if weeks.held[other, service]:
                return False
    return True


@searched
def owed_more(board: Board, weeks: HeldWeeks, kind: int, unit: int) -> bool:
    """Whether all members of a unit are owed one more."""
    for m in range(board.member_from[unit], board.member_from[unit + 1]):
        if weeks.missing[kind, board.members[m]] <= 0:
            return False
    return True


@searched
def count_node(board: Board, weeks: HeldWeeks, day: int, node: int, step: int) -> None:
    """Count a node's members as held, or no longer."""
    kind, unit = board.days[day, KIND], board.nodes[board.days[day, FIRST_NODE] + node, UNIT]
    for m in range(board.member_from[unit], board.member_from[unit + 1]):
        weeks.missing[kind, board.members[m]] -= step
        weeks.held[day, board.members[m]] += step


@searched
def put(board: Board, weeks: HeldWeeks, day: int, node: int) -> None:
    """Hold a node that fits."""
    insert(weeks, day, place_of(board, weeks, day, node), node)
    count_node(board, weeks, day, node, 1)
    measure(board, weeks, day)


@searched
def take(board: Board, weeks: HeldWeeks, day: int, at: int) -> bool:
    """Hold the visit at a place no longer; it stays where the rest can't be held without it."""
    node = weeks.visits[day, at]
    remove(weeks, day, at)
    if not measure(board, weeks, day):
        insert(weeks, day, at, node)
        measure(board, weeks, day)
        return False
    count_node(board, weeks, day, node, -1)
    return True

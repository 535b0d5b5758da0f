"""Ways through one position on all its dates at once, compiled: which sessions stand there, at the least cost.

A *label* is a set of standing sessions of one position, put in one after the other in order of time: its cost over
all dates, and where each kind of date is then. Where all of them can be held on every date, all dates are at the
same spot, and a label is little more than one of a single day. One label beats another of the same last spots if it
costs no more, holds nothing that the other could still add, and has had lunch wherever that one has; what rotation
brings lies in the gaps, so it is behind both or ahead of both.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from schedule.planner.proving.labels import Floats, Ints, compiled_in

HERE = Path(__file__).resolve().parent

NO_REST = 1e15
"""More than any rest of a day costs: there is none."""

CLOSE = 1e-7
"""Costs that differ by less are equal: they are sums of prices."""

BITS, LUNCH, PARENT, SPOT, NEXT, ALIVE, MARK = range(7)
"""Columns of ``DateLabels.rows``: a bit for each row held, the dates that had lunch, the label before, its last
spot, the next one there (dearer or as dear), whether none has beaten it, and a number for where its dates are."""

FOUND, MADE, LEFT_OUT = range(3)
"""What a walk tells: ways found, labels made, and whether any was left out."""


def walked[F: Callable[..., Any]](function: F) -> F:
    """Compiled, and kept under the state of all that this folder compiles: a function holds what it calls."""
    return compiled_in(HERE, "walked")(function)


class PositionWay(NamedTuple):
    """One position, see ``dates.Dates``: minutes at the wheel and lunch from spot to spot on each kind of date, how
    many weeks there are of each, on which each spot ``there`` is. ``bits[a]``: what a day holds once."""

    drive: Ints
    lunch: Ints
    weeks: Ints
    there: Ints
    bits: Ints


class Prices(NamedTuple):
    """``prize`` of each spot; ``rest`` (``completions``); ``below``: only ways that cost less are wanted; ``most``
    labels of a spot that are followed on, 0 for all."""

    prize: Floats
    rest: Floats
    below: float
    most: int


class DateLabels(NamedTuple):
    """Room for labels: ``last[n, c]`` is the spot of each kind of date, ``head`` the first label of each spot."""

    cost: Floats
    last: NDArray[np.int16]
    rows: Ints
    head: Ints
    told: Ints


def room_for(labels: int, way: PositionWay) -> DateLabels:
    """Room for so many labels."""
    kinds, spots = way.drive.shape[:2]
    cost, last = np.empty(labels), np.empty((labels, kinds), np.int16)
    return DateLabels(
        cost, last, np.empty((labels, 7), np.int64), np.full(spots, -1, np.int64), np.zeros(3, np.int64)
    )


@walked
def driven(way: PositionWay, spots: Ints) -> int:
    """Minutes at the wheel over all dates with these spots, in order; -1 where some date can't hold them."""
    total = 0
    for c in range(way.drive.shape[0]):
        at, lunch = 0, False
        for n in range(spots.shape[0]):
            if way.there[spots[n]] >> c & 1:
                if way.drive[c, at, spots[n]] < 0:
                    return -1
                total += way.weeks[c] * way.drive[c, at, spots[n]]
                lunch = lunch or way.lunch[c, at, spots[n]] > 0
                at = spots[n]
        end = way.drive.shape[1] - 1
        if way.drive[c, at, end] < 0 or not (lunch or way.lunch[c, at, end] > 0):
            return -1
        total += way.weeks[c] * way.drive[c, at, end]
    return total


@walked
def completions(way: PositionWay, prize: Floats) -> Floats:
    """By kind of date, spot and whether lunch was had: no rest of such a date costs less.

    A session's prize is shared out over the dates that hold it, and each date goes its own way, where it may hold a
    session twice: a bound on what is to come.
    """
    kinds, spots = way.drive.shape[0], way.drive.shape[1]
    found = np.full((kinds, spots, 2), NO_REST)
    each = np.zeros(spots)
    for a in range(1, spots - 1):
        weeks = 0
        for c in range(kinds):
            weeks += way.weeks[c] * (way.there[a] >> c & 1)
        each[a] = prize[a] / max(1, weeks)
    for c in range(kinds):
        found[c, spots - 1, 1] = 0.0
        for a in range(spots - 2, -1, -1):
            if way.there[a] >> c & 1:
                complete_spot(way, found, each, c, a)
    return found


@walked
def complete_spot(way: PositionWay, found: Floats, each: Floats, c: int, a: int) -> None:
    """The least rest from one spot on one kind of date."""
    for b in range(a + 1, way.drive.shape[1]):
        if way.drive[c, a, b] >= 0:
            more = way.weeks[c] * (way.drive[c, a, b] - each[b])
            found[c, a, 1] = min(found[c, a, 1], more + found[c, b, 1])
            found[c, a, 0] = min(found[c, a, 0], more + found[c, b, 1 if way.lunch[c, a, b] else 0])


@walked
def walk(way: PositionWay, prices: Prices, room: DateLabels, ends: Ints, values: Floats) -> None:
    """Ways that cost less than ``prices.below``: ``ends`` gets the numbers of their labels, ``values`` their costs.

    ``room.told`` says how it went; one label after the other is followed on, spot by spot in order of time.
    """
    spots = way.drive.shape[1]
    room.cost[0], room.rows[0, :] = 0.0, 0
    room.last[0, :] = 0
    room.rows[0, PARENT], room.rows[0, NEXT], room.rows[0, ALIVE] = -1, -1, 1
    room.head[0] = 0
    room.told[FOUND], room.told[MADE], room.told[LEFT_OUT] = 0, 1, 0
    trial = np.zeros(way.drive.shape[0], np.int16)
    future = np.zeros(spots + 1, np.int64)
    for a in range(spots - 1, -1, -1):
        future[a] = future[a + 1] | way.bits[a]
    for spot in range(spots - 1):
        followed, label = 0, room.head[spot]
        while label >= 0:
            if room.rows[label, ALIVE]:
                followed += 1
                if prices.most and followed > prices.most:
                    room.told[LEFT_OUT] = 1
                    break
                end_here(way, prices, room, label, ends, values)
                if not follow(way, prices, room, label, future, trial):
                    return
            label = room.rows[label, NEXT]


@walked
def end_here(way: PositionWay, prices: Prices, room: DateLabels, label: int, ends: Ints, values: Floats) -> None:
    """Let a label end its day, and keep it if that is worth it."""
    end, cost = way.drive.shape[1] - 1, room.cost[label]
    for c in range(way.drive.shape[0]):
        at = room.last[label, c]
        if way.drive[c, at, end] < 0 or not (room.rows[label, LUNCH] >> c & 1 or way.lunch[c, at, end]):
            return
        cost += way.weeks[c] * way.drive[c, at, end]
    if cost < prices.below:
        if room.told[FOUND] < ends.shape[0]:
            ends[room.told[FOUND]], values[room.told[FOUND]] = label, cost
            room.told[FOUND] += 1
        else:
            room.told[LEFT_OUT] = 1


@walked
def follow(
    way: PositionWay, prices: Prices, room: DateLabels, label: int, future: Ints, trial: NDArray[np.int16]
) -> bool:
    """Put one more session into a label, each that there is; ``False`` where room for labels ends."""
    spots = way.drive.shape[1]
    for b in range(room.rows[label, SPOT] + 1, spots - 1):
        if way.bits[b] & room.rows[label, BITS] or way.there[b] == 0:
            continue
        cost, lunch = step(way, prices, room, label, b, trial)
        if lunch < 0:
            continue
        count = room.told[MADE]
        if count >= room.cost.shape[0]:
            room.told[LEFT_OUT] = 1
            return False
        row = room.rows[count]
        row[BITS], row[LUNCH], row[PARENT], row[SPOT] = room.rows[label, BITS] | way.bits[b], lunch, label, b
        if keep(room, count, cost, trial, future[b + 1]):
            room.told[MADE] += 1
    return True


@walked
def step(
    way: PositionWay, prices: Prices, room: DateLabels, label: int, b: int, trial: NDArray[np.int16]
) -> tuple[float, int]:
    """Cost and lunches with one more session (-1: not worth it); where the dates are then goes to ``trial``."""
    cost, lunch, bound = room.cost[label] - prices.prize[b], room.rows[label, LUNCH], 0.0
    for c in range(way.drive.shape[0]):
        at = room.last[label, c]
        if way.there[b] >> c & 1:
            drive = way.drive[c, at, b]
            if drive < 0:
                return cost, -1
            cost += way.weeks[c] * drive
            lunch |= way.lunch[c, at, b] << c
            at = b
        bound += prices.rest[c, at, lunch >> c & 1]
        trial[c] = at
    return cost, (lunch if cost + bound < prices.below else -1)


@walked
def keep(room: DateLabels, count: int, cost: float, last: NDArray[np.int16], future: int) -> bool:
    """Put the next label at its spot, dearest last, unless another there is as good; those that it beats go."""
    row, before, label = room.rows[count], -1, room.head[room.rows[count, SPOT]]
    row[MARK], row[ALIVE], room.cost[count] = mark_of(last), 1, cost
    while label >= 0 and room.cost[label] <= cost + CLOSE:
        if beats(room, label, count, future):
            return False
        before, label = (label, room.rows[label, NEXT]) if room.cost[label] <= cost else (before, -1)
    room.last[count, :] = last
    if before < 0:
        row[NEXT], room.head[row[SPOT]] = room.head[row[SPOT]], count
    else:
        row[NEXT], room.rows[before, NEXT] = room.rows[before, NEXT], count
    label = row[NEXT]
    while label >= 0:
        if beats(room, count, label, future):
            room.rows[label, ALIVE] = 0
        label = room.rows[label, NEXT]
    return True


@walked
def mark_of(last: NDArray[np.int16]) -> int:
    """A number for where all dates are."""
    mark = 0
    for c in range(last.shape[0]):
        mark = (mark * 1_000_003 ^ last[c]) & 0xFFFFFFFFFFFF
    return mark


@walked
def beats(room: DateLabels, one: int, other: int, future: int) -> bool:
    """Whether a label that costs no more leaves as much open as another, and had lunch wherever that one had."""
    mine, theirs = room.rows[one], room.rows[other]
    if not mine[ALIVE] or mine[MARK] != theirs[MARK]:
        return False
    return bool((mine[BITS] & ~theirs[BITS] & future) == 0 and (theirs[LUNCH] & ~mine[LUNCH]) == 0)

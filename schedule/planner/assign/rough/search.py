"""The search for large districts: bundles taken out and given anew, again and again, to whom they cost least.

Large neighborhood search (P. Shaw 1998; S. Ropke and D. Pisinger 2006, Transportation Science 40) with neighbors
in space taken out together (J. Christiaens and G. Vanden Berghe 2020, Transportation Science 54) and simulated
annealing. What it does hangs on seed and rounds alone, never on a clock.
"""

import math

import numpy as np

from schedule.planner.assign.rough.moves import (
    copy_part,
    give_cheapest,
    give_together,
    in_order,
    put_bundle,
    take_bundle,
    total,
)
from schedule.planner.assign.rough.terrain import PLACE, Floats, Ints, Rough, Terrain, drawn, empty_part, packed

WARMEST, COLDEST = 20.0, 0.3
"""Minutes by which an assignment may be worse and still be gone on from, at the beginning and at the end."""

MOST_OUT = 24
"""Bundles taken out at once, at most, by nearness."""


@packed
def take_near(g: Terrain, part: Rough, out: Ints, count: int, state: Floats) -> int:
    """Bundles near one another, with some left where they are."""
    seed, wanted = drawn(state, len(part.owner)), 1 + drawn(state, MOST_OUT)
    for n in range(len(part.owner)):
        b = g.near[seed, n]
        if count >= wanted:
            break
        if part.owner[b] >= 0 and drawn(state, 10) > 0:
            take_bundle(g, part, b)
            out[count] = b
            count += 1
    return count


@packed
def take_meeting(g: Terrain, part: Rough, out: Ints, count: int, state: Floats) -> int:
    """All that one teacher has in one building."""
    seed = drawn(state, len(part.owner))
    t, place = part.owner[seed], g.services[g.first[seed], PLACE]
    for b in range(len(part.owner)):
        if t >= 0 and part.owner[b] == t and g.services[g.first[b], PLACE] == place:
            take_bundle(g, part, b)
            out[count] = b
            count += 1
    return count


@packed
def take_places(g: Terrain, part: Rough, out: Ints, count: int, state: Floats) -> int:
    """All that anybody has in one to three buildings near one another."""
    seed, wanted = drawn(state, len(part.owner)), 1 + drawn(state, 3)
    place, places = -1, 0
    for n in range(len(part.owner)):
        b = g.near[seed, n]
        if g.services[g.first[b], PLACE] != place:  # Those of one building lie beside one another.
            place = g.services[g.first[b], PLACE]
            places += 1
        if places > wanted or count > 3 * MOST_OUT:
            break
        if part.owner[b] >= 0:
            take_bundle(g, part, b)
            out[count] = b
            count += 1
    return count


@packed
def take_visit(g: Terrain, part: Rough, out: Ints, count: int, state: Floats) -> int:
    """All that one teacher has in one building on one day."""
    seed = drawn(state, len(part.owner))
    t, day, place = part.owner[seed], part.at[g.first[seed], 0], g.services[g.first[seed], PLACE]
    for b in range(len(part.owner)):
        if t < 0 or part.owner[b] != t or g.services[g.first[b], PLACE] != place:
            continue
        on = False
        for s in range(g.first[b], g.first[b + 1]):
            on = on or (part.at[s] == day).any()
        if on:
            take_bundle(g, part, b)
            out[count] = b
            count += 1
    return count


@packed
def take_day(g: Terrain, part: Rough, out: Ints, count: int, state: Floats) -> int:
    """All that one teacher has on one day."""
    seed = drawn(state, len(part.owner))
    t, day = part.owner[seed], part.at[g.first[seed], 0]
    for b in range(len(part.owner)):
        if t < 0 or part.owner[b] != t or count > 3 * MOST_OUT:
            continue
        on = False
        for s in range(g.first[b], g.first[b + 1]):
            on = on or (part.at[s] == day).any()
        if on:
            take_bundle(g, part, b)
            out[count] = b
            count += 1
    return count


@packed
def ruin(g: Terrain, part: Rough, out: Ints, state: Floats) -> int:
    """Take some bundles out, one way or another; how many."""
    count = 0
    for b in range(len(part.owner)):  # Whatever nobody has waits as well.
        if part.owner[b] < 0:
            out[count] = b
            count += 1
    way = drawn(state, 12)
    if way < 3:
        return take_near(g, part, out, count, state)
    if way < 6:
        return take_places(g, part, out, count, state)
    if way < 9:
        count = take_meeting(g, part, out, count, state)
        return take_meeting(g, part, out, count, state) if way < 8 else count
    if way < 11:
        return take_visit(g, part, out, count, state)
    return take_day(g, part, out, count, state)


@packed
def give_back(g: Terrain, part: Rough, out: Ints, count: int, share: float, state: Floats) -> None:
    """Give all that is out anew, every other time a building's bundles to one teacher; some aren't looked at."""
    in_order(g, out, count, drawn(state, 4), state)
    together, group = drawn(state, 2), np.zeros(count, np.int64)
    skip = np.zeros(g.days.shape[0], np.int64)
    for n in range(count):
        if part.owner[out[n]] >= 0:
            continue
        for t in range(len(skip)):
            skip[t] = 1 if drawn(state, 20) == 0 else 0
        if together:
            size = of_place(g, part, out, n, count, group)
            if size > 1 and give_together(g, part, group, size, share, skip):
                continue
        give_cheapest(g, part, out[n], share, skip)


@packed
def of_place(g: Terrain, part: Rough, out: Ints, first: int, count: int, group: Ints) -> int:
    """Of what is out from one on, all bundles in its building; how many."""
    place, size = g.services[g.first[out[first]], PLACE], 0
    for n in range(first, count):
        if part.owner[out[n]] < 0 and g.services[g.first[out[n]], PLACE] == place:
            group[size] = out[n]
            size += 1
    return size


@packed
def rounds_of(
    g: Terrain, best: Rough, now: Rough, trial: Rough, share: float, heat: Floats, state: Floats
) -> float:
    """A round for each heat from where ``now`` is; ``best`` is the best met, and what it counts is returned."""
    known, here = total(g, best, share), total(g, now, share)
    out = np.zeros(len(best.owner), np.int64)
    for warmth in heat:
        copy_part(now, trial)
        give_back(g, trial, out, ruin(g, trial, out, state), share, state)
        found = total(g, trial, share)
        luck = drawn(state, 1 << 30) / (1 << 30)
        if found < here - warmth * math.log(max(luck, 1e-12)):
            copy_part(trial, now)
            here = found
            if found < known - 1e-9:
                copy_part(trial, best)
                known = found
    return known


@packed
def fill_from(g: Terrain, part: Rough, owner: Ints, share: float) -> None:
    """Give each bundle to its owner, building by building, and those without one to whom they cost least."""
    skip = np.zeros(g.days.shape[0], np.int64)
    for b in np.argsort(g.services[g.first[:-1], PLACE], kind="mergesort"):
        if owner[b] >= 0:
            put_bundle(g, part, b, owner[b])
    for b in range(len(owner)):
        if owner[b] < 0:
            give_cheapest(g, part, b, share, skip)


def search(ground: Terrain, owner: Ints, share: float, rounds: int, seed: int, warm: float = 1.0) -> Rough:
    """The best assignment met in so many rounds from that of ``owner`` (-1: whoever it costs least).

    ``share``: the work of all, as in ``total``. ``warm``: how warm it begins, 1 at most.
    """
    best, now, trial = (empty_part(ground) for _ in range(3))
    if not len(owner):
        return best
    fill_from(ground, best, owner, share)
    copy_part(best, now)
    heat = np.geomspace(max(COLDEST, warm * WARMEST), COLDEST, max(1, rounds))
    state = np.array([float(1 + (seed * 2_654_435_761 + 12_345) % 2_147_483_645)])
    for _ in range(5):
        drawn(state, 2)
    rounds_of(ground, best, now, trial, share, heat, state)
    return best

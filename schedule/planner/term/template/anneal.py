"""Rounds of the compiled search for a standing timetable: what is taken out, what goes back, what is kept.

A round either takes slots out of every kind of week, or sessions out of one kind. ``ruin`` holds the moves.
"""

import numpy as np

from schedule.planner.proving.labels import Floats, Ints
from schedule.planner.term.template.loose import fill_week, price
from schedule.planner.term.template.ruin import DAYS, FIRST_DAY, Board, HeldWeeks, below, chance, searched, take
from schedule.planner.term.template.slots import (
    FIRST_KNOWN,
    LOOKS,
    SeatTable,
    candidate_at,
    clear_unit,
    hold,
    seat_all,
    unit_at,
    unseat,
)

SLOTS_AT_MOST = 12
WEEK_ROUNDS = 0.3
"""Share of the rounds that lay one kind of week out anew."""

NOISE = 0.3

TRIED, TO_TRY, HALT = range(3)
"""What a search and its caller tell each other: sessions tried so far, how many more to try now, and whether
to end at once."""


@searched
def alike(board: Board, weeks: HeldWeeks, way: float, one: int, other: int) -> bool:
    """Whether two slots go together: one place, one kind of day, or near in time."""
    a, b = weeks.slots[one], weeks.slots[other]
    if way < 0.6:
        return bool(board.candidate_key[a, 0] == board.candidate_key[b, 0])
    if way < 0.8:
        return bool(board.candidate_key[a, 1] == board.candidate_key[b, 1])
    return bool(abs(board.candidate_key[a, 2] - board.candidate_key[b, 2]) <= 45)


@searched
def is_among(chosen: Ints, count: int, slot: int) -> bool:
    """Whether a slot is chosen already."""
    return bool(np.any(chosen[:count] == slot))


@searched
def goes_with(board: Board, weeks: HeldWeeks, way: float, seed: int, other: int) -> bool:
    """Whether a slot may be taken out with another: any, or those that are alike."""
    if way < 0.4 or weeks.slots[seed] < 0 or weeks.slots[other] < 0:
        return True
    return alike(board, weeks, way, seed, other)


@searched
def choose_slots(board: Board, weeks: HeldWeeks, chosen: Ints, rng: Ints) -> int:
    """Write the slots to take out into ``chosen``; how many there are."""
    slots = weeks.slots.shape[0]
    way, seed = chance(rng), below(rng, slots)
    most, count = 1 + below(rng, SLOTS_AT_MOST), 1
    chosen[0] = seed
    for _ in range(4 * most):
        other = below(rng, slots)
        if count < most and not is_among(chosen, count, other) and goes_with(board, weeks, way, seed, other):
            chosen[count] = other
            count += 1
    return count


@searched
def move_slots(board: Board, weeks: HeldWeeks, chosen: Ints, table: SeatTable, rng: Ints, work: Ints) -> None:
    """Take slots out of every kind of week and put them back where they add least."""
    count = choose_slots(board, weeks, chosen, rng)
    if chance(rng) < 0.3:
        take_loose(board, weeks, 0, board.kinds.shape[0], chance(rng), rng)
    for n in range(count):
        unseat(board, weeks, chosen[n])
    for n in range(count):
        clear_unit(board, weeks, board.slot_unit[chosen[n]])
    seat_all(board, weeks, chosen, count, table, NOISE, rng, work)
    hold_again(board, weeks, chosen, count)
    for kind in range(board.kinds.shape[0]):
        fill_week(board, weeks, kind, rng, work)


@searched
def hold_again(board: Board, weeks: HeldWeeks, chosen: Ints, count: int) -> None:
    """Other slots of the same units may have found room in some weeks."""
    for n in range(count):
        for slot in range(weeks.slots.shape[0]):
            if weeks.slots[slot] >= 0 and board.slot_unit[slot] == board.slot_unit[chosen[n]]:
                for kind in range(board.kinds.shape[0]):
                    hold(board, weeks, kind, weeks.slots[slot])


@searched
def take_loose(board: Board, weeks: HeldWeeks, first: int, last: int, share: float, rng: Ints) -> None:
    """Take some sessions that aren't at a standing time out of some kinds of week."""
    for kind in range(first, last):
        for day in range(board.kinds[kind, FIRST_DAY], board.kinds[kind, FIRST_DAY] + board.kinds[kind, DAYS]):
            for at in range(weeks.visited[day] - 1, -1, -1):
                candidate = candidate_at(board, weeks, day, at)
                movable = unit_at(board, weeks, day, at) >= 0
                if movable and (candidate < 0 or not weeks.stands[candidate]) and chance(rng) < share:
                    take(board, weeks, day, at)


@searched
def move_week(board: Board, weeks: HeldWeeks, rng: Ints, work: Ints) -> None:
    """Lay what one kind of week holds beside the timetable out anew, and a few standing sessions with it."""
    kind = below(rng, board.kinds.shape[0])
    take_loose(board, weeks, kind, kind + 1, 0.7, rng)
    if chance(rng) < 0.4:
        for _ in range(1 + below(rng, 3)):
            day = board.kinds[kind, FIRST_DAY] + below(rng, board.kinds[kind, DAYS])
            if weeks.visited[day]:
                at = below(rng, weeks.visited[day])
                if unit_at(board, weeks, day, at) >= 0:
                    take(board, weeks, day, at)
    fill_week(board, weeks, kind, rng, work)


@searched
def copy_weeks(source: HeldWeeks, target: HeldWeeks) -> None:
    """Make one state like another."""
    target.visits[:] = source.visits
    target.visited[:] = source.visited
    target.figures[:] = source.figures
    target.missing[:] = source.missing
    target.held[:] = source.held
    target.slots[:] = source.slots
    target.stands[:] = source.stands
    target.cost[:] = source.cost


@searched
def anneal(
    board: Board, best: HeldWeeks, current: HeldWeeks, trial: HeldWeeks, rng: Ints, notes: Ints, heat: Floats
) -> int:
    """Rounds until ``notes[TRIED]`` sessions more than now were tried; the least cost. ``notes`` holds on from call
    to call.

    ``heat``: minutes by which a worse term may be taken on average, at the first round of all and at the last.
    """
    keys, slots = board.touching.shape[0], weeks_slots(current)
    table = SeatTable(np.zeros((SLOTS_AT_MOST, keys), np.int64), np.zeros((SLOTS_AT_MOST, keys), np.int64))
    chosen, work = np.zeros(SLOTS_AT_MOST, np.int64), np.zeros(FIRST_KNOWN + 2 * board.kinds.shape[0], np.int64)
    least, now = price(board, best), price(board, current)
    while slots and work[LOOKS] < notes[TO_TRY] and not notes[HALT]:
        copy_weeks(current, trial)
        if chance(rng) < WEEK_ROUNDS:
            move_week(board, trial, rng, work)
        else:
            move_slots(board, trial, chosen, table, rng, work)
        work[LOOKS] += 1
        share = min(1.0, work[LOOKS] / notes[TO_TRY])
        cost, warmth = price(board, trial), heat[0] * (heat[1] / heat[0]) ** share
        if cost < now - warmth * np.log(max(1e-12, chance(rng))):
            copy_weeks(trial, current)
            now = cost
            if cost < least:
                copy_weeks(trial, best)
                least = cost
    notes[TRIED] += work[LOOKS]
    return least


@searched
def weeks_slots(weeks: HeldWeeks) -> int:
    """How many slots there are."""
    return int(weeks.slots.shape[0])

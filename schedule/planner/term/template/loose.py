"""What a kind of week still owes, put where it costs least, and what such a week costs then."""

import numpy as np

from schedule.planner.proving.labels import Ints
from schedule.planner.term.template.ruin import (
    CANDIDATE,
    DAYS,
    DRIVING,
    FIRST_DAY,
    FIRST_NODE,
    LEFT_OVER,
    MISSED,
    NO_WAY,
    WEEKS,
    WISH_MINUTE,
    WORTH,
    Board,
    HeldWeeks,
    added_in,
    allowed,
    below,
    chance,
    put,
    searched,
)
from schedule.planner.term.template.slots import BLINK, LOOKS, is_held, unit_at


@searched
def fill_week(board: Board, weeks: HeldWeeks, kind: int, rng: Ints, work: Ints) -> None:
    """Put what a kind of week still owes where it costs least, in an order of chance."""
    services = weeks.missing.shape[1]
    offset, step = below(rng, services), 1 + 2 * below(rng, 3)
    while services % step == 0 and step > 1:
        step -= 2
    for n in range(services):
        service = (offset + n * step) % services
        while weeks.missing[kind, service] > 0:
            if not put_loose(board, weeks, kind, service, rng, work):
                break


@searched
def put_loose(board: Board, weeks: HeldWeeks, kind: int, service: int, rng: Ints, work: Ints) -> bool:
    """Hold one session more of a service in one kind of week where it costs least; whether it fits anywhere."""
    best_day, best_node, least = -1, -1, NO_WAY
    units = board.candidate_from.shape[0] - 1
    first = board.kinds[kind, FIRST_DAY]
    for u in range(board.unit_from[service], board.unit_from[service + 1]):
        unit = board.units[u]
        for day in range(first, first + board.kinds[kind, DAYS]):
            for n in range(board.loose_from[day * units + unit], board.loose_from[day * units + unit + 1]):
                node = board.loose[n]
                if not allowed(board, weeks, day, node):
                    break
                if chance(rng) < BLINK:
                    continue
                work[LOOKS] += 1
                more = added_loose(board, weeks, day, node)
                if more < least:
                    best_day, best_node, least = day, node, more
    if best_day >= 0:
        put(board, weeks, best_day, best_node)
    return best_day >= 0


@searched
def added_loose(board: Board, weeks: HeldWeeks, day: int, node: int) -> int:
    """What a node adds to a day in minutes, less the worth of a usual time where it is one; ``NO_WAY``."""
    more = added_in(board, weeks, day, node, NO_WAY)
    candidate = board.nodes[board.days[day, FIRST_NODE] + node, CANDIDATE]
    is_usual = candidate >= 0 and weeks.stands[candidate]
    return int(more - board.prices[WORTH]) if more < NO_WAY and is_usual else int(more)


@searched
def price_week(board: Board, weeks: HeldWeeks, kind: int) -> int:
    """What one week of a kind costs: driving, wishes, what has no place, and what leaves its usual time."""
    first, cost = board.kinds[kind, FIRST_DAY], 0
    movable = weeks.missing[kind].copy()
    for day in range(first, first + board.kinds[kind, DAYS]):
        cost += weeks.figures[day, DRIVING] + board.prices[WISH_MINUTE] * weeks.figures[day, MISSED]
        for at in range(weeks.visited[day]):
            unit = unit_at(board, weeks, day, at)
            if unit >= 0:
                for m in range(board.member_from[unit], board.member_from[unit + 1]):
                    movable[board.members[m]] += 1
    over = 0
    for service in range(movable.shape[0]):
        over += max(0, weeks.missing[kind, service]) * board.value[kind, service]
    unusual = away(board, weeks, kind, movable) + nowhere(board, weeks, kind)
    return int(cost + board.prices[LEFT_OVER] * over + board.prices[WORTH] * unusual)


@searched
def away(board: Board, weeks: HeldWeeks, kind: int, owed: Ints) -> int:
    """Slots that such a week could hold but for the others, and doesn't; no more of a service than are ``owed``.

    As ``expected_in`` has it: where more stand than a week owes, those that stand first.
    """
    count = 0
    for slot in range(weeks.slots.shape[0]):
        candidate, unit = weeks.slots[slot], board.slot_unit[slot]
        if candidate < 0:
            continue
        for n in range(board.node_from[kind, candidate], board.node_from[kind, candidate + 1]):
            free = True
            for m in range(board.member_from[unit], board.member_from[unit + 1]):
                free = free and owed[board.members[m]] > 0
            if free:
                count += 0 if is_held(weeks, board, board.node_day[n], board.node[n]) else 1
                for m in range(board.member_from[unit], board.member_from[unit + 1]):
                    owed[board.members[m]] -= 1
    return count


@searched
def nowhere(board: Board, weeks: HeldWeeks, kind: int) -> int:
    """Sessions that such a week owes and for which none stands on a day that comes in it, open or closed."""
    owed = board.owed[kind].copy()
    for slot in range(weeks.slots.shape[0]):
        candidate, unit = weeks.slots[slot], board.slot_unit[slot]
        if candidate >= 0 and board.comes[kind, candidate]:
            for m in range(board.member_from[unit], board.member_from[unit + 1]):
                owed[board.members[m]] -= 1
    return int(np.sum(np.maximum(owed, 0)))


@searched
def price(board: Board, weeks: HeldWeeks) -> int:
    """What the term costs."""
    total = 0
    for kind in range(board.kinds.shape[0]):
        weeks.cost[kind] = price_week(board, weeks, kind)
        total += weeks.cost[kind] * board.kinds[kind, WEEKS]
    return total

"""Slots of the compiled search: where one could stand, what that adds over the term, and putting it there."""

from typing import NamedTuple

from schedule.planner.proving.labels import Ints
from schedule.planner.term.template.ruin import (
    CANDIDATE,
    FIRST_NODE,
    FIXED,
    HELD,
    NO_WAY,
    UNIT,
    WEEKS,
    WORTH,
    Board,
    HeldWeeks,
    added_in,
    allowed,
    chance,
    owed_more,
    place_of,
    put,
    searched,
    take,
)

BLINK = 0.04
"""How often a way to put a session back is passed over (blinks, after Christiaens and Vanden Berghe)."""

NO_COST = 10**9

LOOKS, KNOWN, FIRST_KNOWN = range(3)
"""In the notes of a search: sessions tried on days; how many answers about the present candidate follow."""


class SeatTable(NamedTuple):
    """By slot taken out and kind of day: what the cheapest candidate adds, and which it is."""

    cost: Ints
    candidate: Ints


@searched
def is_held(weeks: HeldWeeks, board: Board, day: int, node: int) -> bool:
    """Whether a day holds a node."""
    at = place_of(board, weeks, day, node)
    return bool(at < weeks.visited[day] and weeks.visits[day, at] == node)


@searched
def candidate_at(board: Board, weeks: HeldWeeks, day: int, at: int) -> int:
    """The candidate of a day's visit, -1 for a visit that can't stand."""
    return int(board.nodes[board.days[day, FIRST_NODE] + weeks.visits[day, at], CANDIDATE])


@searched
def unit_at(board: Board, weeks: HeldWeeks, day: int, at: int) -> int:
    """The unit of a day's visit, -1 for what is fixed."""
    row = board.days[day, FIRST_NODE] + weeks.visits[day, at]
    return -1 if board.nodes[row, FIXED] else int(board.nodes[row, UNIT])


@searched
def hold(board: Board, weeks: HeldWeeks, kind: int, candidate: int) -> None:
    """Let a kind of week hold a slot's candidate wherever it can."""
    for n in range(board.node_from[kind, candidate], board.node_from[kind, candidate + 1]):
        day, node = board.node_day[n], board.node[n]
        if is_held(weeks, board, day, node) or not allowed(board, weeks, day, node):
            continue
        if added_in(board, weeks, day, node, NO_WAY) < NO_WAY:
            put(board, weeks, day, node)


@searched
def added_by(board: Board, weeks: HeldWeeks, candidate: int, most: int, work: Ints) -> int:
    """Minutes over the term that a candidate adds, what can't be held at its price; ends above ``most``."""
    total, work[KNOWN] = 0, 0
    for kind in range(board.kinds.shape[0]):
        for n in range(board.node_from[kind, candidate], board.node_from[kind, candidate + 1]):
            day, node = board.node_day[n], board.node[n]
            if not owed_more(board, weeks, kind, board.nodes[board.days[day, FIRST_NODE] + node, UNIT]):
                continue
            more = board.prices[WORTH]
            if allowed(board, weeks, day, node):
                more = known_added(board, weeks, day, node, work)
                more = board.prices[WORTH] if more >= NO_WAY else more
            total += more * board.kinds[kind, WEEKS]
        if total >= most:
            break
    return total


@searched
def known_added(board: Board, weeks: HeldWeeks, day: int, node: int, work: Ints) -> int:
    """What a candidate adds to a day; days that hold the same are asked once (``work`` keeps what was found)."""
    mark = weeks.figures[day, HELD]
    for n in range(FIRST_KNOWN, FIRST_KNOWN + 2 * work[KNOWN], 2):
        if work[n] == mark:
            return int(work[n + 1])
    work[LOOKS] += 1
    more = added_in(board, weeks, day, node, NO_WAY)
    if FIRST_KNOWN + 2 * work[KNOWN] + 1 < work.shape[0]:
        work[FIRST_KNOWN + 2 * work[KNOWN]], work[FIRST_KNOWN + 2 * work[KNOWN] + 1] = mark, more
        work[KNOWN] += 1
    return more


@searched
def clear_unit(board: Board, weeks: HeldWeeks, unit: int) -> None:
    """Take every session that has a member in common with a unit and isn't standing out of all weeks."""
    for day in range(board.days.shape[0]):
        for at in range(weeks.visited[day] - 1, -1, -1):
            other = unit_at(board, weeks, day, at)
            if other < 0 or (other != unit and not shares(board, unit, other)):
                continue
            candidate = candidate_at(board, weeks, day, at)
            if candidate < 0 or not weeks.stands[candidate]:
                take(board, weeks, day, at)


@searched
def shares(board: Board, unit: int, other: int) -> bool:
    """Whether two units have a member in common."""
    for m in range(board.member_from[unit], board.member_from[unit + 1]):
        for n in range(board.member_from[other], board.member_from[other + 1]):
            if board.members[m] == board.members[n]:
                return True
    return False


@searched
def unseat(board: Board, weeks: HeldWeeks, slot: int) -> None:
    """Let a slot stand nowhere."""
    candidate = weeks.slots[slot]
    if candidate < 0:
        return
    weeks.slots[slot] = -1
    weeks.stands[candidate] = 0
    for kind in range(board.kinds.shape[0]):
        for n in range(board.node_from[kind, candidate], board.node_from[kind, candidate + 1]):
            day = board.node_day[n]
            at = place_of(board, weeks, day, board.node[n])
            if at < weeks.visited[day] and weeks.visits[day, at] == board.node[n]:
                take(board, weeks, day, at)


@searched
def look_up(
    board: Board, weeks: HeldWeeks, slot: int, key: int, table: SeatTable, row: int, rng: Ints, work: Ints
) -> None:
    """Find the cheapest candidate of a slot on each kind of day that may have changed with one; all for -1."""
    unit = board.slot_unit[slot]
    for other in range(table.cost.shape[1]):
        if key < 0 or board.touching[key, other]:
            table.cost[row, other], table.candidate[row, other] = NO_COST, -1
    for n in range(board.candidate_from[unit], board.candidate_from[unit + 1]):
        candidate = board.candidates[n]
        other = board.candidate_key[candidate, 1]
        if (key >= 0 and not board.touching[key, other]) or weeks.stands[candidate] or chance(rng) < BLINK:
            continue
        more = added_by(board, weeks, candidate, table.cost[row, other], work)
        if more < table.cost[row, other]:
            table.cost[row, other], table.candidate[row, other] = more, candidate


@searched
def regret(table: SeatTable, row: int) -> tuple[int, int]:
    """The kind of day that is cheapest for a slot, -1 for none, and what the next best costs more."""
    best, least, second = -1, NO_COST, NO_COST
    for key in range(table.cost.shape[1]):
        cost = table.cost[row, key]
        if cost < least:
            best, least, second = key, cost, least
        elif cost < second:
            second = cost
    return best, second - least


@searched
def seat_all(
    board: Board, weeks: HeldWeeks, chosen: Ints, count: int, table: SeatTable, noise: float, rng: Ints, work: Ints
) -> None:
    """Let slots stand where they add least over the term, those first that would regret waiting most."""
    for row in range(count):
        look_up(board, weeks, chosen[row], -1, table, row, rng, work)
    for done in range(count):
        first, key, most = done, -1, -1.0
        for row in range(done, count):
            best, lost = regret(table, row)
            wish = lost * (1 + noise * chance(rng))
            if best >= 0 and wish > most:
                first, key, most = row, best, wish
        if key < 0:
            return
        slot, candidate = chosen[first], table.candidate[first, key]
        seat(board, weeks, slot, candidate)
        chosen[first], chosen[done] = chosen[done], slot
        table.cost[first], table.candidate[first] = table.cost[done], table.candidate[done]
        for row in range(done + 1, count):
            look_up(board, weeks, chosen[row], key, table, row, rng, work)


@searched
def seat(board: Board, weeks: HeldWeeks, slot: int, candidate: int) -> None:
    """Let a slot stand at a candidate in all weeks that can hold it."""
    weeks.slots[slot] = candidate
    weeks.stands[candidate] = 1
    for kind in range(board.kinds.shape[0]):
        hold(board, weeks, kind, candidate)

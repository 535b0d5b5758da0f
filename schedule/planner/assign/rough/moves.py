"""Compiled: bundles put into teachers' weeks and taken out again, over the arrays of ``terrain``."""

import numpy as np

from schedule.planner.assign.rough.terrain import (
    APART,
    EARLIEST,
    END,
    FORBIDDEN,
    FROM,
    LATEST,
    LOAD,
    LUNCH,
    MINUTES,
    MOST_STOPS,
    OFF,
    PLACE,
    SESSIONS,
    START,
    TO,
    UNPLACED,
    Floats,
    Ints,
    Rough,
    Terrain,
    drawn,
    packed,
)

NONE = 1 << 40
"""Minutes of driving where a day isn't possible."""


@packed
def stop_at(stops: Ints, place: int, turn: int, n: int) -> int:
    """The n-th building of a day once a place is put in at a turn (-1: it is not)."""
    if turn < 0 or n < turn:
        return int(stops[n])
    return place if n == turn else int(stops[n - 1])


@packed
def between(table: Ints, here: int, there: int) -> int:
    """Minutes from one place to the next; none from an open beginning."""
    return int(table[here, there]) if here >= 0 else 0


@packed
def left_at(day: Ints, ends: int, since: int, lunched: int) -> int:
    """When a visit is over, lunch counted where it is had in or after it; ``NONE`` where lunch would be too late.

    ``lunched``: whether lunch was had before; whoever asks compares the minutes to know whether it is had now.
    """
    if lunched or (ends < day[EARLIEST] and ends + day[LUNCH] <= day[LATEST]):
        return ends
    if ends + day[LUNCH] > day[LATEST] and max(since, day[EARLIEST]) + day[LUNCH] > day[LATEST]:
        return NONE
    return int(ends + day[LUNCH])


@packed
def closes_before(g: Terrain, day: Ints, there: int, ends: int, over: int) -> bool:
    """Whether a building closes before its visit is over, lunch in the middle of it included."""
    inside = over if ends + day[LUNCH] > day[LATEST] else ends
    return bool(inside > g.closes[there])


@packed
def through(g: Terrain, day: Ints, stops: Ints, turns: int, load: Ints, place: int, more: int, turn: int) -> int:
    """Drive minutes of a day with ``more`` minutes at a place; ``turn``: where it is put in, -1: it is there.

    ``NONE`` where the day would be too long, a building closed, or lunch too late.
    """
    here, drive, clock = int(day[FROM]), 0, int(day[START])
    lunched, busy = int(day[LUNCH] == 0), int(day[OFF] + day[LUNCH])
    for n in range(turns + (1 if turn >= 0 else 0)):
        there = stop_at(stops, place, turn, n)
        minutes = load[there] + (more if there == place else 0)
        leg = between(g.leg, here, there)
        drive += between(g.drive, here, there)
        clock = max(clock + leg, g.opens[there])
        ends = clock + minutes
        over = left_at(day, ends, clock, lunched)
        if over == NONE or (not lunched and closes_before(g, day, there, ends, over)) or ends > g.closes[there]:
            return NONE
        lunched = 1 if over > ends else lunched
        clock, busy, here = over, busy + minutes + leg, there
    return home(g, day, here, drive, clock, busy, lunched)


@packed
def home(g: Terrain, day: Ints, here: int, drive: int, clock: int, busy: int, lunched: int) -> int:
    """The day's drive with the way home; ``NONE`` where it is too long."""
    if here >= 0 and day[TO] >= 0:
        drive += g.drive[here, day[TO]]
        clock += g.leg[here, day[TO]]
        busy += g.leg[here, day[TO]]
    clock = clock if lunched else max(clock, day[EARLIEST]) + day[LUNCH]
    return NONE if clock > day[END] or busy > day[END] - day[START] else drive


@packed
def best_turn(g: Terrain, part: Rough, t: int, d: int, place: int, more: int) -> tuple[int, int]:
    """The day's least driving with ``more`` minutes at a place, and where it is put in (-1: it is there)."""
    day, stops, turns, load = g.days[t, d], part.stops[t, d], part.turns[t, d], part.load[t, d]
    if part.held[t, d, place] > 0:
        return through(g, day, stops, turns, load, place, more, -1), -1
    best, at = NONE, -1
    if turns < MOST_STOPS:
        for turn in range(turns + 1):
            drive = through(g, day, stops, turns, load, place, more, turn)
            if drive < best:
                best, at = drive, turn
    return best, at


@packed
def put(g: Terrain, part: Rough, s: int, t: int, d: int, drive: int, turn: int, session: int) -> None:
    """Hold a session of a service on a day."""
    place = g.services[s, PLACE]
    if turn >= 0:
        for n in range(part.turns[t, d], turn, -1):
            part.stops[t, d, n] = part.stops[t, d, n - 1]
        part.stops[t, d, turn] = place
        part.turns[t, d] += 1
    part.load[t, d, place] += g.services[s, LOAD]
    part.held[t, d, place] += 1
    part.driven[t, d] = drive
    part.placed[t] += g.services[s, MINUTES]
    part.at[s, session] = d


@packed
def apart(part: Rough, s: int, d: int, least: int) -> bool:
    """Whether a day is far enough from the service's other days."""
    near = 0
    for n in range(part.at.shape[1]):
        near += part.at[s, n] >= 0 and abs(part.at[s, n] - d) < least
    return near == 0


@packed
def put_service(g: Terrain, part: Rough, s: int, t: int) -> None:
    """Hold as many sessions of a service as fit, each on the day that it lengthens least."""
    place, load, least = g.services[s, PLACE], g.services[s, LOAD], g.services[s, APART]
    for session in range(g.services[s, SESSIONS]):
        best, on, turn, drive = NONE, -1, -1, 0
        for d in range(g.days.shape[1]):
            if g.days[t, d, END] < 0 or g.may[s, t, d] == 0 or not apart(part, s, d, least):
                continue
            found, at = best_turn(g, part, t, d, place, load)
            if found < NONE and found - part.driven[t, d] < best:
                best, on, turn, drive = found - part.driven[t, d], d, at, found
        if on < 0:
            return
        put(g, part, s, t, on, drive, turn, session)


@packed
def put_bundle(g: Terrain, part: Rough, b: int, t: int) -> None:
    """Give a bundle to a teacher."""
    part.owner[b] = t
    for s in range(g.first[b], g.first[b + 1]):
        part.given[t] += g.services[s, MINUTES] * g.services[s, SESSIONS]
        put_service(g, part, s, t)


@packed
def take_session(g: Terrain, part: Rough, s: int, t: int, d: int) -> None:
    """Take one session of a service out of a day."""
    place = g.services[s, PLACE]
    part.placed[t] -= g.services[s, MINUTES]
    part.load[t, d, place] -= g.services[s, LOAD]
    part.held[t, d, place] -= 1
    if part.held[t, d, place] > 0:
        return
    gone = 0
    for n in range(part.turns[t, d]):
        if part.stops[t, d, n] == place:
            gone = 1
        elif gone:
            part.stops[t, d, n - 1] = part.stops[t, d, n]
    part.turns[t, d] -= gone
    part.driven[t, d] = length(g, part, t, d)


@packed
def length(g: Terrain, part: Rough, t: int, d: int) -> int:
    """Drive minutes of a day as it is."""
    here, drive = g.days[t, d, FROM], 0
    for n in range(part.turns[t, d]):
        there = part.stops[t, d, n]
        if here >= 0:
            drive += g.drive[here, there]
        here = there
    if here >= 0 and g.days[t, d, TO] >= 0:
        drive += g.drive[here, g.days[t, d, TO]]
    return drive


@packed
def take_bundle(g: Terrain, part: Rough, b: int) -> None:
    """Take a bundle from its teacher."""
    t = part.owner[b]
    part.owner[b] = -1
    for s in range(g.first[b], g.first[b + 1]):
        part.given[t] -= g.services[s, MINUTES] * g.services[s, SESSIONS]
        for n in range(part.at.shape[1]):
            if part.at[s, n] >= 0:
                take_session(g, part, s, t, part.at[s, n])
                part.at[s, n] = -1


@packed
def teacher_cost(g: Terrain, part: Rough, t: int, share: float) -> float:
    """What a teacher's week counts; ``share``: the work of all teachers together."""
    drive = part.driven[t].sum()
    meetings = 0
    if g.worth[2] > 0:
        for p in range(part.held.shape[2]):
            meetings += 1 if part.held[t, :, p].sum() > 0 else 0
    off = abs(part.placed[t] + drive - share * g.contract[t])
    return float(
        g.worth[0] * drive + g.worth[1] * off + g.worth[2] * meetings + UNPLACED * (part.given[t] - part.placed[t])
    )


@packed
def total(g: Terrain, part: Rough, share: float) -> float:
    """What an assignment counts, bundles that nobody has included."""
    found = 0.0
    for t in range(g.days.shape[0]):
        found += teacher_cost(g, part, t, share)
    for b in range(len(part.owner)):
        if part.owner[b] >= 0:
            found += g.extra[b, part.owner[b]]
        else:
            for s in range(g.first[b], g.first[b + 1]):
                found += UNPLACED * g.services[s, MINUTES] * g.services[s, SESSIONS]
    return found


@packed
def bundle_minutes(g: Terrain, b: int) -> int:
    """Minutes owed of a bundle."""
    found = 0
    for s in range(g.first[b], g.first[b + 1]):
        found += g.services[s, MINUTES] * g.services[s, SESSIONS]
    return found


@packed
def give_cheapest(g: Terrain, part: Rough, b: int, share: float, skip: Ints) -> None:
    """Give a bundle to whom it costs least; teachers with ``skip`` aren't looked at. Nobody where none may."""
    best, chosen, minutes = FORBIDDEN, -1, bundle_minutes(g, b)
    for t in range(g.days.shape[0]):
        if skip[t] or g.extra[b, t] >= FORBIDDEN or part.given[t] + minutes > g.most[t]:
            continue
        before = teacher_cost(g, part, t, share)
        put_bundle(g, part, b, t)
        cost = teacher_cost(g, part, t, share) - before + g.extra[b, t]
        take_bundle(g, part, b)
        if cost < best:
            best, chosen = cost, t
        if cost <= 0 and g.worth[1] == 0:  # Where loads needn't be even, nobody costs less than nothing.
            break
    if chosen >= 0:
        put_bundle(g, part, b, chosen)


@packed
def together_cost(g: Terrain, part: Rough, group: Ints, count: int, t: int, share: float) -> float:
    """What some bundles cost with one teacher; ``FORBIDDEN`` where they may not be there, or there is no room."""
    minutes, extra = 0, 0.0
    for n in range(count):
        minutes += bundle_minutes(g, group[n])
        extra += g.extra[group[n], t]
    if extra >= FORBIDDEN or part.given[t] + minutes > g.most[t]:
        return FORBIDDEN
    before, waiting = teacher_cost(g, part, t, share), part.given[t] - part.placed[t]
    for n in range(count):
        put_bundle(g, part, group[n], t)
    has_room = part.given[t] - part.placed[t] == waiting
    cost = teacher_cost(g, part, t, share) - before + extra
    for n in range(count):
        take_bundle(g, part, group[n])
    return cost if has_room else FORBIDDEN


@packed
def give_together(g: Terrain, part: Rough, group: Ints, count: int, share: float, skip: Ints) -> bool:
    """Give some bundles to the one teacher to whom they cost least; whether anybody has room for all of them."""
    best, chosen = FORBIDDEN, -1
    for t in range(g.days.shape[0]):
        if skip[t]:
            continue
        cost = together_cost(g, part, group, count, t, share)
        if cost < best:
            best, chosen = cost, t
    for n in range(count if chosen >= 0 else 0):
        put_bundle(g, part, group[n], chosen)
    return chosen >= 0


@packed
def copy_part(source: Rough, to: Rough) -> None:
    """Make one assignment like the other."""
    to.stops[:] = source.stops
    to.turns[:] = source.turns
    to.load[:] = source.load
    to.held[:] = source.held
    to.driven[:] = source.driven
    to.at[:] = source.at
    to.owner[:] = source.owner
    to.given[:] = source.given
    to.placed[:] = source.placed


@packed
def in_order(g: Terrain, out: Ints, count: int, by: int, state: Floats) -> None:
    """Sort what was taken out: shuffled, the longest first, or by who may have it (fewest first)."""
    for n in range(count - 1, 0, -1):
        other = drawn(state, n + 1)
        out[n], out[other] = out[other], out[n]
    if by == 0:
        return
    keys = np.zeros(count)
    for n in range(count):
        keys[n] = -bundle_minutes(g, out[n]) if by == 1 else (g.extra[out[n]] < FORBIDDEN).sum()
    turned = out[:count][np.argsort(keys, kind="mergesort")]
    out[:count] = turned

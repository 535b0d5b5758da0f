"""The dates of each position: who could be visited on them, what rotation brings, and what lies between visits."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schedule.planner.problem import Problem
from schedule.planner.proving.labels import Ints
from schedule.planner.term.expected import expected_in
from schedule.planner.term.rotation.positions import Positions
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession, StandingTimetable
from schedule.planner.week.model import DayModel, Node
from schedule.planner.week.routes import best_route

type Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Row:
    """A service owes ``owed`` sessions beside what rotates, in weeks that hold these candidates alike."""

    service: str
    candidates: frozenset[StandingSession]
    owed: int
    weeks: int


@dataclass(slots=True)
class Dates:
    """One position. Spots are the day's beginning, then ``candidates`` in order of time, then its end.

    Each kind of date has so many ``weeks``. ``drive[c, a, b]``: minutes at the wheel from spot to spot by way of
    what rotation brings in between, -1 where that can't be done; ``lunch[c, a, b]``: whether lunch fits on the way.
    ``there[a]``: bits of the kinds of date on which a candidate can be held.
    """

    position: int
    candidates: list[StandingSession]
    weeks: Ints
    drive: Ints
    lunch: Flags
    there: Ints


def candidates_by_position(kinds: Sequence[AlikeWeeks], positions: Positions) -> list[list[StandingSession]]:
    """What could stand on each position, in order of time."""
    found: list[set[StandingSession]] = [set() for _ in range(positions.count)]
    for kind in kinds:
        for session in kind.nodes:
            if positions.of(session) >= 0:
                found[positions.of(session)].add(session)
    return [sorted(one, key=lambda s: (s.at, s)) for one in found]


@dataclass(frozen=True, slots=True)
class Rotating:
    """By kind of week: the nodes of each day that rotation fills, and how often each service is held so.

    ``refused``: how many of the sessions that come in it can't be held beside the others of their day.
    """

    nodes: tuple[tuple[tuple[int, ...], ...], ...]
    held: tuple[Counter[str], ...]
    refused: tuple[int, ...]


def rotating_in(kinds: Sequence[AlikeWeeks], pattern: Sequence[StandingSession]) -> Rotating:
    """What a pattern of rotating sessions brings to each day of each kind of week."""
    standing = StandingTimetable(tuple(pattern))
    brought = [_brought(kind, standing) for kind in kinds]
    return Rotating(*map(tuple, zip(*brought, strict=True)))


def _brought(
    kind: AlikeWeeks, standing: StandingTimetable
) -> tuple[tuple[tuple[int, ...], ...], Counter[str], int]:
    """The nodes that rotation fills in such a week, what is held so and pinned, and how many found no room."""
    days, refused = [list(day.required) for day in kind.model.days], 0
    held = _pinned(kind)
    for one in expected_in(kind.week, standing):
        if not one.open or one.session is None:
            continue
        day = kind.week.problem.day_index(one.session.day)
        spots = [*days[day], *[n for d, n in kind.nodes.get(one.standing, ()) if d == day][:1]]
        if best_route(kind.model.days[day], sorted(spots)) is None:
            refused += 1
        else:
            days[day] = spots
            held.update(kind.week.problem.members(one.standing.unit))
    return tuple(tuple(sorted(day)) for day in days), held, refused


def _pinned(kind: AlikeWeeks) -> Counter[str]:
    """Sessions of each service that are pinned in such a week."""
    problem = kind.week.problem
    return Counter(member for pin in problem.pins for member in problem.members(pin.unit))


def dates_of(
    kinds: Sequence[AlikeWeeks],
    positions: Positions,
    candidates: Sequence[list[StandingSession]],
    rotating: Rotating,
    among: Sequence[int],
) -> list[Dates]:
    """The dates of every position in the kinds of week ``among``, those alike once."""
    found: list[Dates] = []
    for position, mine in enumerate(candidates):
        asked: dict[tuple[object, ...], int] = {}
        first: list[tuple[AlikeWeeks, int, list[int], tuple[int, ...]]] = []
        for number in among:
            kind = kinds[number]
            for day in (day for day, where in enumerate(positions.days[number]) if where == position):
                nodes, brought = _nodes(kind, day, mine), rotating.nodes[number][day]
                key = _key(kind.model.days[day], nodes, brought)
                if key not in asked:
                    first.append((kind, day, nodes, brought))
                asked[key] = asked.get(key, 0) + kind.count
        parts = [_date(kind.model.days[day], nodes, brought) for kind, day, nodes, brought in first]
        found.append(_dates(position, mine, list(asked.values()), parts))
    return found


def _key(day: DayModel, nodes: Sequence[int], brought: Sequence[int]) -> tuple[object, ...]:
    """Equal for dates on which the same can be done at the same cost."""
    at = tuple((day.nodes[n].start, day.nodes[n].end, day.nodes[n].place) for n in brought)
    ends = (day.nodes[0].start, day.nodes[0].place, day.nodes[-1].end, day.nodes[-1].place)
    return (tuple(n >= 0 for n in nodes), at, ends, day.day.lunch, repr(day.model.leg), repr(day.model.drive))


def _dates(
    position: int, candidates: list[StandingSession], weeks: list[int], parts: list[tuple[Ints, Flags, Ints]]
) -> Dates:
    spots = len(candidates) + 2
    bits = 1 << np.arange(len(parts), dtype=np.int64)
    return Dates(
        position,
        candidates,
        np.array(weeks, np.int64),
        np.array([one[0] for one in parts], np.int64).reshape(len(parts), spots, spots),
        np.array([one[1] for one in parts], np.bool_).reshape(len(parts), spots, spots),
        (np.array([one[2] for one in parts], np.int64).reshape(len(parts), spots) * bits[:, None]).sum(axis=0),
    )


def rows_of(
    kinds: Sequence[AlikeWeeks],
    positions: Positions,
    candidates: Sequence[list[StandingSession]],
    rotating: Rotating,
    among: Sequence[int],
) -> list[Row]:
    """What is owed beside the rotation, weeks that ask the same once."""
    every = [one for mine in candidates for one in mine]
    found: dict[tuple[str, frozenset[StandingSession], int], int] = {}
    for number in among:
        kind, problem = kinds[number], kinds[number].week.problem
        by_service = _by_service(problem, (one for one in every if one in kind.nodes))
        for service in problem.services:
            mine = by_service.get(service.id)
            owed = service.sessions - rotating.held[number][service.id]
            if mine and owed > 0:
                key = service.id, frozenset(mine), owed
                found[key] = found.get(key, 0) + kind.count
    return [Row(service, mine, owed, weeks) for (service, mine, owed), weeks in found.items()]


def _by_service(problem: Problem, candidates: Iterable[StandingSession]) -> dict[str, set[StandingSession]]:
    found: dict[str, set[StandingSession]] = {}
    for one in candidates:
        for member in problem.members(one.unit):
            found.setdefault(member, set()).add(one)
    return found


def _nodes(kind: AlikeWeeks, day: int, candidates: Iterable[StandingSession]) -> list[int]:
    """The node of each candidate on a day, -1 where it can't be held."""
    return [next((n for d, n in kind.nodes.get(one, ()) if d == day), -1) for one in candidates]


def _date(day: DayModel, nodes: Sequence[int], brought: Sequence[int]) -> tuple[Ints, Flags, Ints]:
    """Driving and lunch between the spots of a date, and which of them it has."""
    spots = [day.nodes[0], *(day.nodes[max(0, n)] for n in nodes), day.nodes[-1]]
    there = np.array([1, *(int(n >= 0) for n in nodes), 1], np.int64)
    visits = [day.nodes[n] for n in brought]
    drive, fits = _between(day, spots, spots)
    # How many of the brought visits come before each spot: those that begin before it ends.
    before = np.array([sum(v.start < s.end for v in visits) for s in spots])
    before[0], before[-1] = 0, len(visits)
    for first in range(len(visits)):
        chain = _along(day, visits[first:])
        into, into_lunch = _between(day, spots, visits[first : first + 1])
        for last in range(first, len(visits)):
            out, out_lunch = _between(day, visits[last : last + 1], spots)
            steps, lunch = chain[last - first]
            whole = (into >= 0) & (out >= 0) & (steps >= 0)
            here = (before[:, None] == first) & (before[None, :] == last + 1)
            drive = np.where(here, np.where(whole, into + out + steps, -1), drive)
            fits = np.where(here, into_lunch | out_lunch | lunch, fits)
    drive[before[:, None] > before[None, :]] = -1
    drive[there == 0, :] = -1
    drive[:, there == 0] = -1
    if day.day.lunch is None:
        fits[:] = True
    return drive, fits, there


def _along(day: DayModel, visits: Sequence[Node]) -> list[tuple[int, bool]]:
    """From the first of these visits to each: minutes at the wheel (-1: no way), and whether lunch fits."""
    drive, lunch = _between(day, visits, visits)
    found = [(0, False)]
    for n in range(len(visits) - 1):
        so_far, fits = found[-1]
        step = int(drive[n, n + 1])
        found.append((-1 if min(so_far, step) < 0 else so_far + step, fits or bool(lunch[n, n + 1])))
    return found


def _between(day: DayModel, first: Sequence[Node], second: Sequence[Node]) -> tuple[Ints, Flags]:
    """Driving from each to each, -1 where the one can't follow the other, and whether lunch fits in between."""
    if not first or not second:
        return np.zeros((len(first), len(second)), np.int64), np.zeros((len(first), len(second)), np.bool_)
    model = day.model
    leg, at_wheel = np.array(model.leg), np.array(model.drive)
    places = np.array([n.place for n in first]), np.array([n.place for n in second])
    ends = np.array([n.end for n in first])[:, None]
    follows = np.array([n is not day.nodes[0] for n in first])[:, None]
    session = np.array([n.session for n in second])[None, :]
    finish = np.array([n.start for n in second])[None, :] - model.setup * (follows & session)
    legs = leg[np.ix_(*places)]
    free = finish - ends - legs
    drive = np.where(free >= 0, at_wheel[np.ix_(*places)], -1)
    lunch = day.day.lunch
    if lunch is None:
        return drive, np.ones(drive.shape, np.bool_)
    spare, latest = free - lunch.minutes, lunch.latest_end - lunch.minutes
    after = np.maximum(ends + legs, lunch.earliest) <= np.minimum(ends + legs + spare, latest)
    ahead = np.maximum(ends, lunch.earliest) <= np.minimum(ends + spare, latest)
    return drive, (spare >= 0) & (after | ahead)

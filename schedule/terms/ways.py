"""The ways to change a timetable in force side by side: those at once, and one that begins in a later week. Pure.

A timetable need not change in the first week that is left: where a service begins or ends later, or a start is gone
only from then on, the timetable in force may stay until then, and fewer sessions, or the same ones later, move.
"""

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from schedule.planner.jsonform import problem_digest
from schedule.planner.problem import Problem
from schedule.planner.result import Ended, GoalFigures, Result, Status
from schedule.planner.solve import solve
from schedule.planner.term.alike import kind_of_week
from schedule.planner.term.expected import against
from schedule.planner.term.following import FEWEST_WEEKS
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek
from schedule.terms.changing import (
    LEAST_SECONDS,
    MOVES_FIRST,
    Changed,
    TimetableChange,
    Way,
    away_in,
    changed_by,
    comes_as_usual,
    ended_by,
    held_in,
    members_of,
    owed_only,
)

LEAST_BETWEEN = 0.25
"""Of the work for all ways, the least that the one in between has; else what the others leave of it."""
LEAST_LATER = 0.25
"""Of the same, what the one that begins later has, if there is a week for that."""
MOST_BEGINNINGS = 3
"""So many later weeks are looked at, the earliest ones."""


@dataclass(frozen=True, slots=True)
class _Search:
    """What is asked, and how long may be looked: ``effort`` in seconds of work, the rest of the clock."""

    change: TimetableChange
    effort: float
    clock: float
    until: float
    stop: Callable[[], bool] | None
    monotonic: Callable[[], float]

    def seconds(self, work: float) -> float:
        """Seconds of the clock for a part of the work."""
        return max(LEAST_SECONDS, min(work / self.effort * self.clock, self.until - self.monotonic()))

    def by(self, way: Way, work: float, change: TimetableChange | None = None) -> Changed:
        """The change by one way, ``change`` in place of the whole one."""
        return changed_by(
            change or self.change,
            way,
            effort=work,
            time_limit=self.seconds(work),
            stop=self.stop,
            monotonic=self.monotonic,
        )

    def nearest(self, problem: Problem, work: float) -> Result:
        """A week with as few moves as can be."""
        return solve(
            replace(problem, goals=MOVES_FIRST),
            seed=self.change.seed,
            effort=max(LEAST_SECONDS, work),
            time_limit=self.seconds(work),
            stop=self.stop,
            monotonic=self.monotonic,
        )


def ways_of(
    change: TimetableChange,
    first: Way,
    *,
    effort: float,
    time_limit: float,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> tuple[Changed, ...]:
    """The ways that differ, the one asked for first; one that another beats is left out unless it was asked for.

    Where the two ends don't come to the same, one in between is looked for, and kept if it is a third: more moves
    than the fewest, less driving than that, and not as much of either as the other end. One that begins later is
    kept if it moves fewer for good or in single weeks, or the same ones for as little. ``effort``, seconds of work
    for all of them, and ``time_limit``, seconds of the clock, as in ``changed_by``.
    """
    search = _Search(change, effort, time_limit, monotonic() + time_limit, stop, monotonic)
    beginnings = later_beginnings(change)
    share = (1 - LEAST_BETWEEN - (LEAST_LATER if beginnings else 0)) / 2
    fewest, least = (search.by(way, share * effort) for way in (Way.FEWEST_MOVES, Way.LEAST_DRIVING))
    found = {Way.FEWEST_MOVES: fewest, Way.LEAST_DRIVING: least}
    later = _begun_later(search, fewest, beginnings)
    if later is not None or first is Way.STARTS_LATER:
        # Where no later week is better it begins at once, with the fewest moves.
        found[Way.STARTS_LATER] = replace(fewest, way=Way.STARTS_LATER) if later is None else later
    between = _between(search, found, is_asked=first is Way.IN_BETWEEN)
    if between is not None:
        found[Way.IN_BETWEEN] = between
    return _worth_showing(found.pop(first), [found[way] for way in Way if way in found])


def _between(search: _Search, found: Mapping[Way, Changed], *, is_asked: bool) -> Changed | None:
    """The way in between, where the ends leave room for one, or it is asked for."""
    fewest, least = found[Way.FEWEST_MOVES], found[Way.LEAST_DRIVING]
    if not is_asked and (fewest.moves == least.moves or _beats(fewest, least)):
        return None
    left = search.effort - sum(one.work for one in found.values())
    work = max(LEAST_BETWEEN * search.effort, left)
    between = replace(search.by(Way.IN_BETWEEN, work), fewest=fewest.fewest)
    return between if is_asked or _is_between(fewest, between, least) else None


def _worth_showing(first: Changed, others: Sequence[Changed]) -> tuple[Changed, ...]:
    """The way that was asked for, and of the others those that differ and that none beats."""
    ways = [first]
    for one in others:
        beaten = any(_beats(other, one) for other in (first, *others))
        if not beaten and all((other.moves, other.since) != (one.moves, one.since) for other in ways):
            ways.append(one)
    return tuple(ways)


def _beats(one: Changed, other: Changed) -> bool:
    """Whether it places as much, moves as few and drives as little, and is better in one of these.

    A search that was ended early may find less driving by fewest moves than by least driving.
    """
    mine, its = _figures(one), _figures(other)
    return mine != its and all(a <= b for a, b in zip(mine, its, strict=True))


def _figures(way: Changed) -> tuple[int, int, int, int]:
    return way.unplaced, way.moved, way.once, way.drive_minutes


def _is_between(fewest: Changed, one: Changed, least: Changed) -> bool:
    """Whether it is a real third way: it places as much and is beaten by neither end."""
    return (
        one.unplaced <= min(fewest.unplaced, least.unplaced)
        and fewest.moved < one.moved < least.moved
        and least.drive_minutes < one.drive_minutes < fewest.drive_minutes
    )


# ---- a later beginning -----------------------------------------------------------------------------------


def later_beginnings(change: TimetableChange) -> list[int]:
    """Numbers of weeks from which on something else is owed, or a standing time is gone; the earliest of them.

    What lasts for fewer weeks than a timetable does is an exception, and begins nothing.
    """
    found = _owed_otherwise_from(change) | _gone_from(change)
    lasting = (number for number in sorted(found) if 0 < number <= len(change.weeks) - FEWEST_WEEKS)
    return list(lasting)[:MOST_BEGINNINGS]


def _owed_otherwise_from(change: TimetableChange) -> set[int]:
    """Weeks in which a service begins, and those after the last one of a service."""
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for number, week in enumerate(change.weeks):
        for service in week.problem.services:
            first.setdefault(service.id, number)
            last[service.id] = number
    lasting = {one for one in first if last[one] - first[one] + 1 >= FEWEST_WEEKS}
    return {first[one] for one in lasting} | {last[one] + 1 for one in lasting | _standing_now(change)}


def _standing_now(change: TimetableChange) -> set[str]:
    """Services that stand in the timetable in force and are owed in the weeks that are left."""
    members = members_of(change.weeks)
    return {one for stands in owed_only(change).sessions for one in members.get(stands.unit, ())}


def _gone_from(change: TimetableChange) -> set[int]:
    """Weeks from which on a standing time that was there before is never there again, though its day comes."""
    owed = owed_only(change).sessions
    places = {one.place for one in owed}
    can = [held_in(week) for week in change.weeks]
    comes = [comes_as_usual(week, places) for week in change.weeks]
    firsts = (_gone_at(change.weeks, one, [_spot(one) in spots for spots in can], comes) for one in owed)
    return {number for number in firsts if number is not None}


def _gone_at(
    weeks: Sequence[TermWeek], one: StandingSession, is_held: Sequence[bool], comes: Sequence[set[tuple[str, str]]]
) -> int | None:
    """The first week after the last that can hold a session in which it is owed and its day is as usual."""
    if True not in is_held:
        return None
    last = max(number for number, can in enumerate(is_held) if can)
    day = one.place, one.pattern_key
    after = range(last + 1, len(weeks))
    return next(
        (number for number in after if weeks[number].problem.has_unit(one.unit) and day in comes[number]), None
    )


def _spot(one: StandingSession) -> tuple[str, str, int, str]:
    return one.unit, one.pattern_key, one.at, one.place


def _begun_later(search: _Search, fewest: Changed, beginnings: Sequence[int]) -> Changed | None:
    """The first later beginning that is better in some figure than the fewest moves at once; none if none is."""
    if not (fewest.moved or fewest.once):
        return None
    for number in beginnings:
        one = _begun_at(search, number, LEAST_LATER * search.effort / len(beginnings))
        if _is_better(one, fewest):
            return one
    return None


def _is_better(later: Changed, fewest: Changed) -> bool:
    """Whether it places as much and moves fewer, for good or in single weeks, or the same ones for as little."""
    if later.unplaced > fewest.unplaced:
        return False
    mine, its = (later.moved, later.once), (fewest.moved, fewest.once)
    if any(a < b for a, b in zip(mine, its, strict=True)):
        return True
    return mine == its and later.drive_minutes <= fewest.drive_minutes


def _begun_at(search: _Search, number: int, work: float) -> Changed:
    """The fewest moves from a week on. Driving and what isn't placed are of the same weeks as in other ways."""
    change = search.change
    rest = replace(change, weeks=change.weeks[number:], kinds=change.kinds[number:])
    until_then = owed_only(change)
    found = search.by(Way.FEWEST_MOVES, work / 2, replace(rest, standing=owed_only(rest)))
    before, typical = change.weeks[:number], change.typical()
    since = rest.weeks[0].id
    stands = {week.id: until_then if week.id < since else found.standing for week in (*before, *typical)}
    weeks = _nearest_each(search, {week.id: week for week in (*before, *typical)}, stands, work / 2)
    figures = _figures_of(weeks, typical)
    leave = (one.change for one in _figures_of(weeks, before))
    return replace(
        found,
        way=Way.STARTS_LATER,
        drive_minutes=sum(one.driving for one in figures),
        unplaced=sum(one.unplaced for one in figures),
        proved=found.proved and _all_proved(weeks.values()),
        ended=ended_by([*weeks.values()]) if found.ended is Ended.PROOF else found.ended,
        work=found.work + sum({id(one): one.work for one in weeks.values()}.values()),
        once=found.once + sum(leave) + away_in(before, until_then),
        since=since,
        until_then=until_then,
    )


def _all_proved(weeks: Iterable[Result]) -> bool:
    return all(one.status is Status.OPTIMAL for one in weeks)


def _figures_of(found: Mapping[str, Result], weeks: Iterable[TermWeek]) -> list[GoalFigures]:
    """Of those weeks that have a plan."""
    plans = (found[week.id].figures for week in weeks)
    return [one for one in plans if one is not None]


def _nearest_each(
    search: _Search, weeks: Mapping[str, TermWeek], stands: Mapping[str, StandingTimetable], work: float
) -> dict[str, Result]:
    """Each week at its nearest to what stands in it; weeks that ask the same are planned once."""
    asked = {name: against(week, stands[name]) for name, week in weeks.items()}
    alike = {name: problem_digest(kind_of_week(one, with_pattern=True)) for name, one in asked.items()}
    found: dict[str, Result] = {}
    for name, digest in alike.items():
        if digest not in found:
            found[digest] = search.nearest(asked[name], work / len({*alike.values()}))
    return {name: found[digest] for name, digest in alike.items()}

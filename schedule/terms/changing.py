"""Ways to change a standing timetable in the middle of a term, each with what moves and what it drives. Pure.

A new service, a gym that is gone or other hours show in the weeks that are left: starts are missing, more is owed.
A week of each kind is planned against the timetable in force; what it moves or adds becomes part of the next one.
"""

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from schedule.planner.problem import Goal
from schedule.planner.result import Ended, Itinerary, Result, Status
from schedule.planner.solve import solve
from schedule.planner.term.alike import units_of
from schedule.planner.term.expected import against, days_coming, expected_in, is_unusual
from schedule.planner.term.following import once_each, with_week
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek
from schedule.terms.between import week_between

LEAST_SECONDS = 0.5


class Way(StrEnum):
    """What comes first in a change, once owed minutes are placed and the contract's wishes are met."""

    FEWEST_MOVES = "fewest_moves"
    IN_BETWEEN = "in_between"
    LEAST_DRIVING = "least_driving"


WAY_WORDS = {
    Way.FEWEST_MOVES: "Fewest moves",
    Way.IN_BETWEEN: "In between",
    Way.LEAST_DRIVING: "Least driving",
}
MOVES_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)
DRIVING_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING, Goal.CHANGE)

LEAST_BETWEEN = 0.25
"""Of the work for all ways, the least that the one in between has; else what the others leave of it."""


@dataclass(frozen=True, slots=True)
class Move:
    """A session that stands elsewhere than before; ``before`` is ``None`` if it is new, ``after`` if it is gone.

    ``begins``: the first week that it is owed in.
    """

    unit: str
    before: StandingSession | None
    after: StandingSession | None
    begins: str


@dataclass(frozen=True, slots=True)
class Changed:
    """One way: the next timetable, what moves, and minutes at the wheel in a week of each kind together.

    ``proved``: none moves fewer (or drives less, by the way's aim) in any of these weeks, each taken after those
    before it. ``unplaced``: owed minutes without a place in these weeks. ``moved``: sessions that stand where they
    stood no more, one of a group counted for each of its services; no way that places as much moves fewer than
    ``fewest``. ``ended``: what ended the search.
    """

    way: Way
    standing: StandingTimetable
    moves: tuple[Move, ...]
    drive_minutes: int
    unplaced: int
    proved: bool
    moved: int = 0
    fewest: int = 0
    ended: Ended = Ended.PROOF
    work: float = 0.0


@dataclass(frozen=True, slots=True)
class TimetableChange:
    """What is asked: the weeks left, each with its kind in words and whether its days are as usual."""

    weeks: tuple[TermWeek, ...]
    kinds: tuple[str, ...]
    standing: StandingTimetable
    seed: int = 0

    def typical(self) -> list[TermWeek]:
        """Weeks of each kind that owe every service of theirs between them, as few as do; the plainest first.

        One with days that aren't as usual is looked at only for a service that no other week owes: what such a
        week alone can't keep is its exception.
        """
        seen: set[tuple[str, str]] = set()
        found: list[TermWeek] = []
        for kind, week in sorted(zip(self.kinds, self.weeks, strict=True), key=lambda pair: self._rank(pair[1])):
            owed = {("" if week.unusual else kind, one.id) for one in week.problem.services}
            if not owed <= seen:
                seen |= owed | {("", service) for _, service in owed}
                found.append(week)
        return found

    def _rank(self, week: TermWeek) -> tuple[int, int, int, str]:
        """Days as usual, most owed, most of the timetable possible, the earliest."""
        is_open = sum(one.open for one in expected_in(week, self.standing))
        owed = sum(one.sessions for one in week.problem.services)
        return len(week.unusual), -owed, -is_open, week.id


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
    than the fewest, less driving than that, and not as much of either as the other end. ``effort``, seconds of work
    for all of them, and ``time_limit``, seconds of the clock, as in ``changed_by``.
    """
    until, share = monotonic() + time_limit, (1 - LEAST_BETWEEN) / 2

    def found_by(way: Way, work: float) -> Changed:
        clock = max(LEAST_SECONDS, min(work / effort * time_limit, until - monotonic()))
        return changed_by(change, way, effort=work, time_limit=clock, stop=stop, monotonic=monotonic)

    fewest, least = (found_by(way, share * effort) for way in (Way.FEWEST_MOVES, Way.LEAST_DRIVING))
    found = {Way.FEWEST_MOVES: fewest, Way.LEAST_DRIVING: least}
    if first is Way.IN_BETWEEN or (fewest.moves != least.moves and not _beats(fewest, least)):
        left = effort - fewest.work - least.work
        between = replace(found_by(Way.IN_BETWEEN, max(LEAST_BETWEEN * effort, left)), fewest=fewest.fewest)
        if first is Way.IN_BETWEEN or _is_between(fewest, between, least):
            found[Way.IN_BETWEEN] = between
    return _worth_showing(found.pop(first), [found[way] for way in Way if way in found])


def _worth_showing(first: Changed, others: Sequence[Changed]) -> tuple[Changed, ...]:
    """The way that was asked for, and of the others those that differ and that none beats."""
    ways = [first]
    for one in others:
        beaten = any(_beats(other, one) for other in (first, *others))
        if not beaten and all(other.moves != one.moves for other in ways):
            ways.append(one)
    return tuple(ways)


def _beats(one: Changed, other: Changed) -> bool:
    """Whether it places as much, moves as few and drives as little, and is better in one of these.

    A search that was ended early may find less driving by fewest moves than by least driving.
    """
    figures = [(way.unplaced, way.moved, way.drive_minutes) for way in (one, other)]
    return figures[0] != figures[1] and all(mine <= its for mine, its in zip(*figures, strict=True))


def _is_between(fewest: Changed, one: Changed, least: Changed) -> bool:
    """Whether it is a real third way: it places as much and is beaten by neither end."""
    return (
        one.unplaced <= min(fewest.unplaced, least.unplaced)
        and fewest.moved < one.moved < least.moved
        and least.drive_minutes < one.drive_minutes < fewest.drive_minutes
    )


def changed_by(
    change: TimetableChange,
    way: Way,
    *,
    effort: float,
    time_limit: float,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Changed:
    """The next timetable by one way; the same seed and effort give the same one.

    ``effort``: seconds of work for all of its weeks, counted in steps; ``time_limit``, seconds of the clock, and
    ``stop`` end each search early with its best, as ``ended`` then says. Of the way in between ``fewest`` is
    only what has no start anymore.
    """
    until, left = monotonic() + time_limit, effort
    standing, weeks = _still_there(change), change.typical()
    found: list[Result] = []
    for number, week in enumerate(weeks):
        share = 1 / (len(weeks) - number)
        goals = DRIVING_FIRST if way is Way.LEAST_DRIVING else MOVES_FIRST
        planned = week_between if way is Way.IN_BETWEEN else solve
        result = planned(
            replace(against(week, standing), goals=goals),
            seed=change.seed,
            effort=max(LEAST_SECONDS, share * left),
            time_limit=max(LEAST_SECONDS, share * (until - monotonic())),
            stop=stop,
            monotonic=monotonic,
        )
        left -= result.work
        standing = standing if result.plan is None else _with_usual(week, standing, result.plan)
        found.append(result)
    figures = [one.figures for one in found if one.figures is not None]
    return Changed(
        way,
        standing,
        tuple(moves_between(change.weeks, change.standing, standing)),
        drive_minutes=sum(one.driving for one in figures),
        unplaced=sum(one.unplaced for one in figures),
        proved=all(one.status is Status.OPTIMAL for one in found),
        moved=len(_stand(change, _owed_only(change)) - _stand(change, standing)),
        fewest=_fewest(change, weeks, found),
        ended=_ended(found),
        work=effort - left,
    )


def _ended(found: Sequence[Result]) -> Ended:
    """What ended the searches: a person or the clock if any of them, else the first that isn't proof."""
    ends = [one.ended for one in found if one.ended is not Ended.PROOF]
    return min(ends, key=lambda one: (one is not Ended.PERSON, one is not Ended.CLOCK), default=Ended.PROOF)


# ---- fewest moves ----------------------------------------------------------------------------------------

type _Stands = tuple[str, str, int, str]
"""A service, a kind of day, a minute, a place."""


def _stand(change: TimetableChange, standing: StandingTimetable) -> set[_Stands]:
    """Where each service stands, that of a group for itself."""
    members: dict[str, set[str]] = {}
    for week in change.weeks:
        for unit in units_of(week.problem):
            members.setdefault(unit.id, set()).update(week.problem.members(unit.id))
    return {
        (member, one.pattern_key, one.at, one.place)
        for one in standing.sessions
        for member in members.get(one.unit, ())
    }


def _fewest(change: TimetableChange, weeks: Sequence[TermWeek], found: Sequence[Result]) -> int:
    """So many have to move by any way that places as much: those without a start, and what the first week proves.

    The first week is planned against the timetable as it was. Of the others only that counts which they can't
    hold at its time at all, since what moves for the week before may be what moves for them.
    """
    standing = _still_there(change)
    lost = set(_owed_only(change).sessions) - set(standing.sessions)
    first, *others = [set(_without_start(week, standing)) for week in weeks]
    expected = {one.standing for one in expected_in(weeks[0], standing)}
    forced = lost | first | (set().union(*others) - expected)
    return len(_stand(change, StandingTimetable(tuple(sorted(forced, key=_order))))) + _proved_moves(found[0])


def _proved_moves(result: Result) -> int:
    """Sessions that a week can't keep though their start exists, as far as that is proved."""
    at = next((number for number, one in enumerate(result.stages) if one.goal is Goal.CHANGE), None)
    if at is None or any(
        one.goal is Goal.DRIVING or one.status is not Status.OPTIMAL for one in result.stages[:at]
    ):
        return 0
    return result.stages[at].bound


def _without_start(week: TermWeek, standing: StandingTimetable) -> Iterator[StandingSession]:
    """What the week would hold and can't begin at its time, though its day is as usual."""
    for one in expected_in(week, standing):
        if not one.open and not is_unusual(week, one.standing):
            yield one.standing


def _with_usual(week: TermWeek, standing: StandingTimetable, plan: Itinerary) -> StandingTimetable:
    """The timetable with what the week moves and adds; what an unusual day alone sends elsewhere stands on."""
    stays = [one.standing for one in expected_in(week, standing) if not one.open and is_unusual(week, one.standing)]
    if not stays:
        return with_week(week, standing, plan)
    before, spare = set(standing.sessions), Counter(one.unit for one in stays)
    sessions: list[StandingSession] = []
    for one in with_week(week, standing, plan).sessions:
        if one not in before and spare[one.unit]:
            spare[one.unit] -= 1
        else:
            sessions.append(one)
    return once_each([*sessions, *stays])


def _owed_only(change: TimetableChange) -> StandingTimetable:
    """The timetable without what no week that is left owes."""
    return StandingTimetable(
        tuple(
            one for one in change.standing.sessions if any(week.problem.has_unit(one.unit) for week in change.weeks)
        )
    )


def _still_there(change: TimetableChange) -> StandingTimetable:
    """Of what is owed, without what no week that is left can hold though its day comes and is as usual.

    Such as a school that has no room on Fridays anymore: its Fridays look as if they didn't come.
    """
    owed = _owed_only(change)
    places = {one.place for one in owed.sessions}
    can = set[_Stands]().union(*(_held_in(week) for week in change.weeks))
    comes = set[tuple[str, str]]().union(*(_comes_as_usual(week, places) for week in change.weeks))
    return StandingTimetable(
        tuple(
            one
            for one in owed.sessions
            if (one.unit, one.pattern_key, one.at, one.place) in can or (one.place, one.pattern_key) not in comes
        )
    )


def _held_in(week: TermWeek) -> set[_Stands]:
    """Where each unit can stand in a week."""
    return {
        (unit.id, start.pattern_key or "", start.at, start.place)
        for unit in units_of(week.problem)
        for start in week.problem.starts_of(unit.id)
    }


def _comes_as_usual(week: TermWeek, places: Iterable[str]) -> set[tuple[str, str]]:
    """Kinds of days that a week has with nothing unusual, by place."""
    keys = {key for _, key in days_coming(week)}
    unusual = {(day.place, day.pattern_key) for day in week.unusual}
    return {(place, key) for place in places for key in keys} - unusual


def moves_between(weeks: Sequence[TermWeek], before: StandingTimetable, after: StandingTimetable) -> list[Move]:
    """What differs between two timetables of these weeks, old and new paired by unit in the order of the week.

    Who stays where they were, with somebody else from now on, hasn't moved.
    """
    new = _by_unit(set(after.sessions) - set(before.sessions))
    joined = {_spot(one) for mine in new.values() for one in mine}
    old = _by_unit({one for one in set(before.sessions) - set(after.sessions) if _spot(one) not in joined})
    found = [
        Move(unit, _at(old.get(unit, []), number), _at(new.get(unit, []), number), _begins(weeks, unit))
        for unit in sorted({*old, *new})
        for number in range(max(len(old.get(unit, [])), len(new.get(unit, []))))
    ]
    return sorted(found, key=lambda one: (one.after is None, one.before is None, one.unit))


def _spot(one: StandingSession) -> tuple[str, int, str]:
    return one.pattern_key, one.at, one.place


def _order(one: StandingSession) -> tuple[str, int, str, str, str]:
    return one.pattern_key, one.at, one.place, one.space or "", one.unit


def _at(sessions: Sequence[StandingSession], number: int) -> StandingSession | None:
    return sessions[number] if number < len(sessions) else None


def _by_unit(sessions: set[StandingSession]) -> Mapping[str, list[StandingSession]]:
    found: dict[str, list[StandingSession]] = {}
    for one in sorted(sessions, key=_order):
        found.setdefault(one.unit, []).append(one)
    return found


def _begins(weeks: Sequence[TermWeek], unit: str) -> str:
    return next((week.id for week in weeks if week.problem.has_unit(unit)), weeks[0].id)

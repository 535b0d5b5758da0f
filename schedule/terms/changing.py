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
from schedule.planner.term.expected import Expected, against, days_coming, expected_in, is_unusual
from schedule.planner.term.following import once_each, with_week
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek
from schedule.terms.between import week_between

LEAST_SECONDS = 0.5


class Way(StrEnum):
    """What comes first in a change, once owed minutes are placed and the contract's wishes are met."""

    FEWEST_MOVES = "fewest_moves"
    IN_BETWEEN = "in_between"
    LEAST_DRIVING = "least_driving"
    STARTS_LATER = "starts_later"


WAY_WORDS = {
    Way.FEWEST_MOVES: "Fewest moves",
    Way.IN_BETWEEN: "In between",
    Way.LEAST_DRIVING: "Least driving",
    Way.STARTS_LATER: "Starts later",
}
MOVES_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)
DRIVING_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING, Goal.CHANGE)


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
    ``fewest``. ``ended``: what ended the search. ``once``: sessions that can't be where they stand in single weeks,
    though their day is as usual, or give way then. ``since``: the week in which the next timetable begins, empty
    where it holds from the first; until then ``until_then`` stands.
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
    once: int = 0
    since: str = ""
    until_then: StandingTimetable | None = None


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
    standing, weeks = still_there(change), change.typical()
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
        moved=len(_stand(change, owed_only(change)) - _stand(change, standing)),
        fewest=_fewest(change, weeks, found),
        ended=ended_by(found),
        work=effort - left,
        once=away_in(change.weeks, standing),
    )


def ended_by(found: Sequence[Result]) -> Ended:
    """What ended the searches: a person or the clock if any of them, else the first that isn't proof."""
    ends = [one.ended for one in found if one.ended is not Ended.PROOF]
    return min(ends, key=lambda one: (one is not Ended.PERSON, one is not Ended.CLOCK), default=Ended.PROOF)


# ---- fewest moves ----------------------------------------------------------------------------------------

type _Stands = tuple[str, str, int, str]
"""A service, a kind of day, a minute, a place."""


def _stand(change: TimetableChange, standing: StandingTimetable) -> set[_Stands]:
    """Where each service stands, that of a group for itself."""
    members = members_of(change.weeks)
    return {
        (member, one.pattern_key, one.at, one.place)
        for one in standing.sessions
        for member in members.get(one.unit, ())
    }


def members_of(weeks: Iterable[TermWeek]) -> dict[str, set[str]]:
    """The services of each unit."""
    found: dict[str, set[str]] = {}
    for week in weeks:
        for unit in units_of(week.problem):
            found.setdefault(unit.id, set()).update(week.problem.members(unit.id))
    return found


def _fewest(change: TimetableChange, weeks: Sequence[TermWeek], found: Sequence[Result]) -> int:
    """So many have to move by any way that places as much: those without a start, and what the first week proves.

    The first week is planned against the timetable as it was. Of the others only that counts which they can't
    hold at its time at all, since what moves for the week before may be what moves for them.
    """
    standing = still_there(change)
    lost = set(owed_only(change).sessions) - set(standing.sessions)
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


def away_in(weeks: Iterable[TermWeek], standing: StandingTimetable) -> int:
    """Sessions that single weeks owe and can't hold where they stand though their day is as usual.

    Also those of a school that has no room at all on that day, so that its day looks as if it didn't come.
    """
    return sum(_away(week, standing) for week in weeks)


def _away(week: TermWeek, standing: StandingTimetable) -> int:
    expected = expected_in(week, standing)
    is_open = {one.standing for one in expected if one.open}
    usual = comes_as_usual(week, {one.place for one in standing.sessions})
    lost = Counter(
        one.unit for one in standing.sessions if one not in is_open and (one.place, one.pattern_key) in usual
    )
    left = _still_owed(week, expected)
    return sum(max(0, min(count, left[unit])) for unit, count in lost.items())


def _still_owed(week: TermWeek, expected: Iterable[Expected]) -> Counter[str]:
    """How often each unit is owed beside what can be held, and beside what an unusual day sends elsewhere."""
    owed = {one.id: one.sessions for one in week.problem.services}
    members = {unit.id: week.problem.members(unit.id) for unit in units_of(week.problem)}
    left = Counter({unit: min(owed[one] for one in mine) for unit, mine in members.items()})
    left.subtract(one.standing.unit for one in expected if one.open or is_unusual(week, one.standing))
    return left


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


def owed_only(change: TimetableChange) -> StandingTimetable:
    """The timetable without what no week that is left owes."""
    return StandingTimetable(
        tuple(
            one for one in change.standing.sessions if any(week.problem.has_unit(one.unit) for week in change.weeks)
        )
    )


def still_there(change: TimetableChange) -> StandingTimetable:
    """Of what is owed, without what no week that is left can hold though its day comes and is as usual.

    Such as a school that has no room on Fridays anymore: its Fridays look as if they didn't come.
    """
    owed = owed_only(change)
    places = {one.place for one in owed.sessions}
    can = set[_Stands]().union(*(held_in(week) for week in change.weeks))
    comes = set[tuple[str, str]]().union(*(comes_as_usual(week, places) for week in change.weeks))
    return StandingTimetable(
        tuple(
            one
            for one in owed.sessions
            if (one.unit, one.pattern_key, one.at, one.place) in can or (one.place, one.pattern_key) not in comes
        )
    )


def held_in(week: TermWeek) -> set[_Stands]:
    """Where each unit can stand in a week."""
    return {
        (unit.id, start.pattern_key or "", start.at, start.place)
        for unit in units_of(week.problem)
        for start in week.problem.starts_of(unit.id)
    }


def comes_as_usual(week: TermWeek, places: Iterable[str]) -> set[tuple[str, str]]:
    """Kinds of days that a week has with nothing unusual, by place."""
    keys = {key for _, key in days_coming(week)}
    unusual = {(day.place, day.pattern_key) for day in week.unusual}
    return {(place, key) for place in places for key in keys} - unusual


def moves_between(weeks: Sequence[TermWeek], before: StandingTimetable, after: StandingTimetable) -> list[Move]:
    """What differs between two timetables of these weeks, old and new paired by unit in the order of the week.

    Who stays where they were, with somebody else from now on, hasn't moved.
    """
    come, members = set(after.sessions) - set(before.sessions), members_of(weeks)
    there = {(_spot(one), who) for one in come for who in members.get(one.unit, ())}
    gone = set(before.sessions) - set(after.sessions)
    joined = {
        one
        for one in gone
        if members.get(one.unit) and all((_spot(one), who) in there for who in members[one.unit])
    }
    new, old = _by_unit(come), _by_unit(gone - joined)
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

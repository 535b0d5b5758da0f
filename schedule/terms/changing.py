"""Ways to change a standing timetable in the middle of a term, each with what moves and what it drives. Pure.

A new service, a gym that is gone or other hours show in the weeks that are left: starts are missing, more is owed.
A week of each kind is planned against the timetable in force; what it moves or adds becomes part of the next one.
"""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from schedule.planner.problem import Goal
from schedule.planner.result import Status
from schedule.planner.solve import solve
from schedule.planner.term.expected import against, expected_in
from schedule.planner.term.following import with_week
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek

LEAST_SECONDS = 0.5


class Way(StrEnum):
    """What comes first in a change, once owed minutes are placed and the contract's wishes are met."""

    FEWEST_MOVES = "fewest_moves"
    LEAST_DRIVING = "least_driving"


WAY_WORDS = {Way.FEWEST_MOVES: "Fewest moves", Way.LEAST_DRIVING: "Least driving"}
WAY_GOALS = {
    Way.FEWEST_MOVES: (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING),
    Way.LEAST_DRIVING: (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING, Goal.CHANGE),
}


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

    ``proved``: none moves fewer (or drives less, by the way's aim) in any of these weeks. ``unplaced``: owed
    minutes without a place in these weeks.
    """

    way: Way
    standing: StandingTimetable
    moves: tuple[Move, ...]
    drive_minutes: int
    unplaced: int
    proved: bool


@dataclass(frozen=True, slots=True)
class TimetableChange:
    """What is asked: the weeks left, each with its kind in words and whether its days are as usual."""

    weeks: tuple[TermWeek, ...]
    kinds: tuple[str, ...]
    standing: StandingTimetable
    seed: int = 0

    def typical(self) -> list[TermWeek]:
        """Weeks of each kind that owe every service of theirs between them, as few as do; the plainest first."""
        seen: set[tuple[str, str]] = set()
        found: list[TermWeek] = []
        for kind, week in sorted(zip(self.kinds, self.weeks, strict=True), key=lambda pair: self._rank(pair[1])):
            owed = {(kind, one.id) for one in week.problem.services}
            if not owed <= seen:
                seen |= owed
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
    time_limit: float,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Changed:
    """The next timetable by one way. Seconds for all of its weeks; ``stop`` ends each search with its best."""
    until = monotonic() + time_limit
    standing, weeks = _owed_only(change), change.typical()
    drive = unplaced = 0
    proved = True
    for number, week in enumerate(weeks):
        left = max(LEAST_SECONDS, (until - monotonic()) / (len(weeks) - number))
        problem = replace(against(week, standing), goals=WAY_GOALS[way])
        result = solve(problem, seed=change.seed, time_limit=left, stop=stop)
        standing = standing if result.plan is None else with_week(week, standing, result.plan)
        if result.figures is not None:
            drive, unplaced = drive + result.figures.driving, unplaced + result.figures.unplaced
        proved = proved and result.status is Status.OPTIMAL
    moves = tuple(moves_between(change.weeks, change.standing, standing))
    return Changed(way, standing, moves, drive, unplaced, proved)


def _owed_only(change: TimetableChange) -> StandingTimetable:
    """The timetable without what no week that is left owes."""
    return StandingTimetable(
        tuple(
            one for one in change.standing.sessions if any(week.problem.has_unit(one.unit) for week in change.weeks)
        )
    )


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


def _at(sessions: Sequence[StandingSession], number: int) -> StandingSession | None:
    return sessions[number] if number < len(sessions) else None


def _by_unit(sessions: set[StandingSession]) -> Mapping[str, list[StandingSession]]:
    found: dict[str, list[StandingSession]] = {}
    for one in sorted(sessions, key=lambda one: (one.pattern_key, one.at, one.place, one.space or "")):
        found.setdefault(one.unit, []).append(one)
    return found


def _begins(weeks: Sequence[TermWeek], unit: str) -> str:
    return next((week.id for week in weeks if week.problem.has_unit(unit)), weeks[0].id)

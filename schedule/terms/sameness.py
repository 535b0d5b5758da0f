"""How much of a term stays the same: day, time, place, company, and a day between sessions. Pure."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

from schedule.calendar.day_words import WEEKDAYS
from schedule.planner.problem import Problem, Session
from schedule.planner.term.term import StandingSession as Stands
from schedule.planner.term.term import StandingTimetable as Standing

SPREADABLE = 3
"""So many sessions fit into Monday to Friday with a day between them."""


class Side(StrEnum):
    """What can stay the same."""

    DAY = "day"
    TIME = "time"
    PLACE = "place"
    COMPANY = "company"
    SPREAD = "spread"


SIDE_WORDS = {
    Side.DAY: "Same weekday or cycle day",
    Side.TIME: "Same time of day",
    Side.PLACE: "Same school and space",
    Side.COMPANY: "Same company",
    Side.SPREAD: "A day between sessions",
}


@dataclass(slots=True)
class Counts:
    """Of how many sessions (for the last side: of how many services) a side holds."""

    kept: Counter[Side] = field(default_factory=Counter)
    of: Counter[Side] = field(default_factory=Counter)

    def add(self, side: Side, *, holds: bool) -> None:
        """Count one."""
        self.of[side] += 1
        self.kept[side] += holds

    def as_json(self) -> dict[str, list[int]]:
        """Kept and of how many, by side."""
        return {side.value: [self.kept[side], self.of[side]] for side in Side}


def sameness(weeks: Iterable[tuple[Problem, Sequence[Session]]], standing: Standing) -> Counts:
    """Each side over the weeks of a term; a session of a group counts once for each of its services."""
    found, at_home = Counts(), dict[str, list[Stands]]()
    for problem, sessions in weeks:
        for one in standing.sessions:
            for service in problem.members(one.unit) if problem.has_unit(one.unit) else ():
                mine = at_home.setdefault(service, [])
                mine += [one] if one not in mine else []
        for session in sessions:
            for service in problem.members(session.unit):
                _count(found, session, kind_of_session(problem, session), at_home.get(service, []))
    for mine in at_home.values():
        _count_spread(found, mine)
    return found


def _count(found: Counts, session: Session, kind: str, mine: Sequence[Stands]) -> None:
    if mine:
        found.add(Side.DAY, holds=any(one.pattern_key == kind for one in mine))
        found.add(Side.TIME, holds=any(one.at == session.at for one in mine))
        found.add(Side.PLACE, holds=any((one.place, one.space) == (session.place, session.space) for one in mine))
        found.add(Side.COMPANY, holds=any(one.unit == session.unit for one in mine))


def _count_spread(found: Counts, mine: Sequence[Stands]) -> None:
    """Whether a service that meets two or three times a week has a day between; a cycle day has no weekday."""
    by_letter: dict[str, list[int]] = {}
    for one in mine:
        letter, _, weekday = one.pattern_key.rpartition(" ")
        if weekday in WEEKDAYS:
            by_letter.setdefault(letter, []).append(WEEKDAYS.index(weekday))
    for days in by_letter.values():
        if 1 < len(days) <= SPREADABLE:
            found.add(Side.SPREAD, holds=all(b - a > 1 for a, b in pairwise(sorted(days))))


def kind_of_session(problem: Problem, session: Session) -> str:
    """The kind of day that a session of a week is held on; empty for one that has no such start."""
    starts = problem.starts_of(session.unit)
    same = (one for one in starts if (one.day, one.at, one.place) == (session.day, session.at, session.place))
    return next((one.pattern_key or "" for one in same), "")


def stands_in(weeks: Iterable[tuple[Problem, Sequence[Session]]], standing: Standing) -> Mapping[Stands, int]:
    """In how many weeks each session of the timetable is held where it stands."""
    held = Counter(
        (session.unit, kind_of_session(problem, session), session.at, session.place)
        for problem, sessions in weeks
        for session in sessions
    )
    return {one: held[one.unit, one.pattern_key, one.at, one.place] for one in standing.sessions}

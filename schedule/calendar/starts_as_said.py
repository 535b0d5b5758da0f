"""Starts that are left once it is known what happened to a date, and what took the others.

Pure. What takes a session that is planned (`schedule.calendar.happened.become`) decides here as well, so that
nothing is planned which the day would mark as falling out. When a teacher is away or late is no part of it: those
are times of the teacher's day.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from schedule.calendar.happened import OF_TEACHER, HappeningKind, Planned, Said, become
from schedule.calendar.starts import Candidates, spoken
from schedule.planner.problem import HAPPENED, Barred, Start

_WORDS = {
    HappeningKind.CLASS_AWAY: "the class is away then",
    HappeningKind.STUDENT_ABSENT: "{who} is absent that day",
    HappeningKind.AIDE_MISSING: "the aide is missing then",
}
_TAKEN = "{space} is taken then"
_GRADES_OUT = "the school is out for {who}’s grade"  # noqa: RUF001 -- as pages write it


@dataclass(frozen=True, slots=True)
class Meets:
    """Who would meet where on a date, as `Planned` has it: spaces by name, and what a sentence calls them."""

    building: int
    teacher: int
    minutes: int
    spaces: Mapping[str, int]
    school_class: int | None
    students: frozenset[tuple[int, str]]
    who: str
    ask: str = ""
    students_from: int | None = None


def said_of_starts(said: Iterable[Said], date: dt.date) -> tuple[Said, ...]:
    """What can take a start of a date."""
    return tuple(one for one in said if one.holds_on(date) and one.kind not in OF_TEACHER)


def starts_as_said(found: Candidates, date: dt.date, meets: Meets, said: Sequence[Said], least: int) -> Candidates:
    """The candidates of a date without those at which not all of the session could be held.

    What one rule bars already isn't barred by that one alone, if something happened then as well.
    """
    if not said:
        return found
    took = {start: by for start in found.starts if (by := _taken_by(start, date, meets, said, least)) is not None}
    left = tuple(one for one in found.starts if one not in took)
    barred = (one for one in found.barred if _taken_by(one, date, meets, said, least) is None)
    return Candidates(left, (*barred, *_barred(took, {one.at for one in left}, meets)))


def _taken_by(
    start: Start | Barred, date: dt.date, meets: Meets, said: Sequence[Said], least: int
) -> HappeningKind | None:
    """What would take some of a session that began there."""
    planned = Planned(
        date=date,
        start=start.at,
        end=start.at + meets.minutes,
        building=meets.building,
        teacher=meets.teacher,
        space=meets.spaces.get(start.space or ""),
        school_class=meets.school_class,
        students=meets.students,
        students_from=meets.students_from,
    )
    return become(planned, said, least).by


def _barred(took: Mapping[Start, HappeningKind], left: set[int], meets: Meets) -> Iterator[Barred]:
    """One sentence for each moment at which nothing is left."""
    told: set[int] = set()
    for start, kind in took.items():
        if start.at not in left and start.at not in told:
            told.add(start.at)
            words = _words(kind, start, meets)
            ask = meets.ask if kind is HappeningKind.SPACE_TAKEN else ""
            yield Barred(start.day, start.at, start.place, HAPPENED, words, ask, start.space, meets.minutes)


def _words(kind: HappeningKind, start: Start, meets: Meets) -> str:
    if kind is HappeningKind.SPACE_TAKEN:
        when = spoken((start.at, start.at + meets.minutes))
        return f"{_TAKEN.format(space=start.space or 'the space')} ({when})"
    return _WORDS.get(kind, _GRADES_OUT).format(who=meets.who)

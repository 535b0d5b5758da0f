"""Starts at which a unit is held together with another teacher's session, and which of them a plan keeps to."""

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from schedule.calendar.starts import Candidates, Need, find_starts
from schedule.calendar.starts_as_said import said_of_starts, starts_as_said
from schedule.joint.agreed import GivenTogether
from schedule.planner.problem import Start
from schedule.weeks.planning.line_week import LineWeek, grades_of
from schedule.weeks.planning.others.elsewhere import Elsewhere
from schedule.weeks.planning.others.joint import is_agreed
from schedule.weeks.planning.sources import Sources
from schedule.weeks.planning.starting.candidates import is_direct, meets_of, named_spaces, need_of


@dataclass(frozen=True, slots=True)
class JointStarts:
    """``starts``: where the unit meets the other's session; ``kept``: those that a plan keeps to.

    ``only``: every session of the unit is given together, so that nothing but ``starts`` is left to it.
    """

    starts: tuple[Start, ...] = ()
    kept: tuple[Start, ...] = ()
    only: bool = False

    @property
    def moments(self) -> frozenset[tuple[str, int]]:
        """Day and minute of each."""
        return frozenset((one.day, one.at) for one in self.starts)

    def among(self, starts: Sequence[Start]) -> tuple[Start, ...]:
        """The unit's starts with these."""
        known = set(self.starts)
        return self.starts if self.only else (*self.starts, *(one for one in starts if one not in known))


def joint_starts(members: Sequence[LineWeek], school_class: int | None, sources: Sources) -> JointStarts:
    """Where a unit stands beside what others hold of its students' joint services, in order of time.

    What is kept to is nothing unless the week is planned by the other's (``sources.follow``).
    """
    partners = sources.joint.partners({one.line.service_id for one in members})
    found = _starts_beside([one for _, one in partners], members, school_class, sources)
    starts = tuple(dict.fromkeys(sorted(found.values(), key=lambda one: (one.day, one.at))))
    lines = {one.line.pk for one in members}
    if not starts or not sources.follow.on or not lines.isdisjoint(sources.follow.apart):
        return JointStarts(starts)
    sessions = max(one.owed.sessions for one in members)
    count = _count(partners, found, sessions)
    if count >= sessions:
        return JointStarts(starts, (), only=True)
    return JointStarts(starts, _kept(starts, count, lines, sources.follow.held))


def _count(partners: Sequence[tuple[GivenTogether, Elsewhere]], found: Collection[Elsewhere], sessions: int) -> int:
    """How many of the unit's sessions are given together in the week."""
    agreed = dict.fromkeys(agreed for agreed, _ in partners)
    can = {
        agreement: len({one for agreed, one in partners if agreed == agreement and one in found})
        for agreement in agreed
    }
    return min(sessions, sum(agreement.most(sessions, theirs) for agreement, theirs in can.items()))


def _kept(
    starts: Sequence[Start], count: int, lines: Collection[int], held: Collection[tuple[int, dt.date, int]]
) -> tuple[Start, ...]:
    """So many starts on as many days, first where the week in force holds the session already."""

    def stands(one: Start) -> bool:
        return any((line, dt.date.fromisoformat(one.day), one.at) in held for line in lines)

    by_day: dict[str, Start] = {}
    for one in sorted(starts, key=lambda one: (not stands(one), one.day, one.at)):
        by_day.setdefault(one.day, one)
    return tuple(by_day.values())[:count]


def _starts_beside(
    others: Iterable[Elsewhere], members: Sequence[LineWeek], school_class: int | None, sources: Sources
) -> dict[Elsewhere, Start]:
    """The unit's start at each session at which it can be held."""
    starts = {one: _start_beside(one, members, school_class, sources) for one in others}
    return {one: start for one, start in starts.items() if start is not None}


def _start_beside(
    other: Elsewhere, members: Sequence[LineWeek], school_class: int | None, sources: Sources
) -> Start | None:
    """The unit's start at another's session; ``None`` where the unit can't be held there then."""
    active = _active(other, members, sources)
    if not active or not _is_agreed(other, active, sources) or not _may_be_in(other, active):
        return None
    facts = sources.facts(other.place, other.date).for_grades(grades_of(members))
    need = need_of(active, active[0].places[other.date], facts, sources.without(other))
    space = next((one.name for one in sources.spaces.get(other.place, ()) if one.pk == other.space), None)
    if need is None or not _in_class(need, other.span, space):
        return None
    there = replace(need, spaces=(), inside=None, at=other.span[0])
    found = find_starts(facts_place(active, other.date), facts, there, sources.contract[other.date])
    found = Candidates(tuple(replace(one, space=space) for one in found.starts))
    meets = meets_of(active, other.date, school_class, sources)
    said = said_of_starts(sources.said, other.date)
    return next(iter(starts_as_said(found, other.date, meets, said, sources.least).starts), None)


def facts_place(active: Sequence[LineWeek], date: dt.date) -> str:
    """The code of the building where they are on a date."""
    return active[0].places[date].building.code


def _active(other: Elsewhere, members: Sequence[LineWeek], sources: Sources) -> list[LineWeek]:
    """Those of a unit who are owed it on the other's date, if they are there and its minutes are the same."""
    leads = next((one for one in members if one.active_on(other.date) and one.held_elsewhere is None), None)
    if leads is None or other.date not in sources.contract or leads.places[other.date].building_id != other.place:
        return []
    if leads.owed.minutes != other.span[1] - other.span[0]:
        return []
    return [one for one in members if one.joins_on(other.date, leads)]


def _is_agreed(other: Elsewhere, active: Sequence[LineWeek], sources: Sources) -> bool:
    """Whether everyone who would be in both sessions has them together; in a consultation its service alone is."""
    both = [one for one in active if one.line.plan.student_id in other.students or not is_direct(one.line)]
    agreed = sources.joint.agreed
    return bool(both) and all(is_agreed(agreed.get(one.line.service_id, ()), other) for one in both)


def _may_be_in(other: Elsewhere, active: Sequence[LineWeek]) -> bool:
    """Whether the other's space is one that each line allows, where it names any."""
    return all(other.space in spaces for spaces in named_spaces(active))


def _in_class(need: Need, span: tuple[int, int], space: str | None) -> bool:
    """A pushed-in session stays in the class's own period, where the class is."""
    if need.inside is None:
        return True
    return any(one.span[0] <= span[0] and span[1] <= one.span[1] and one.space == space for one in need.inside)

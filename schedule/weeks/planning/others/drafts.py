"""Drafts that other teachers are at work on: nobody's time is taken by them, but planning goes around them."""

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import Q

from accounts.models import Person
from jobs.models import Job
from schedule.calendar.spans import Span, most_at_once
from schedule.calendar.starts import spoken
from schedule.planner.problem import Barred, Group, Service, Start
from schedule.weeks.models import PlanRun
from schedule.weeks.planning.others.elsewhere import Elsewhere, Use, held_by_others, spans_in_use
from schedule.weeks.planning.others.under_way import drafts_under_way
from schedule.weeks.planning.sources import Sources
from schedule.weeks.planning.units import UnitInfo
from schedule.weeks.versions.content import SessionContent
from travel.places.models import Building

IN_A_DRAFT = "in_a_draft"
TO_SUNDAY = dt.timedelta(days=6)


def being_planned(teacher: Person, monday: dt.date) -> list[str]:
    """Other teachers of the district whose planning runs have this week in hand, by name."""
    runs = PlanRun.objects.filter(
        district=teacher.district_id,
        job__state__in=[Job.State.WAITING, Job.State.RUNNING],
        first_date__lte=monday + TO_SUNDAY,
        last_date__gte=monday,
    ).exclude(teacher=teacher)
    return sorted({str(run.teacher) for run in runs.select_related("teacher")})


# ---- going around them ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Around:
    """What others' drafts hold in a week. ``despite``: lines that are planned as if there were none of them."""

    held: tuple[Elsewhere, ...] = ()
    despite: frozenset[int] = frozenset()

    def units[U: (Service, Group)](self, units: Sequence[U], room: "Room") -> tuple[U, ...]:
        """The units without starts that a draft is in the way of; services tell of these."""
        if not self.held:
            return tuple(units)
        return tuple(self._unit(one, room) for one in units)

    def _unit[U: (Service, Group)](self, unit: U, room: "Room") -> U:
        info = room.infos[unit.id]
        if not self.despite.isdisjoint(info.lines):
            return unit
        barred: list[Barred] = []
        starts: list[Start] = []
        for one in unit.starts:
            beside = (one.day, one.at) in info.joint.moments
            met = None if beside else room.met(info, one, unit.minutes, self.held)
            if met is None:
                starts.append(one)
            else:
                barred.append(
                    Barred(one.day, one.at, one.place, IN_A_DRAFT, met[0], met[1], one.space, one.minutes)
                )
        if isinstance(unit, Service):
            return replace(unit, starts=tuple(starts), barred=(*unit.barred, *barred))
        return replace(unit, starts=tuple(starts))


@dataclass(frozen=True, slots=True)
class Room:
    """The week that is planned around drafts. ``stay``: what it holds already gives way to no draft."""

    infos: Mapping[str, UnitInfo]
    sources: Sources
    buildings: Mapping[str, Building]
    spaces: Mapping[tuple[str, str], int]
    stay: frozenset[tuple[int, dt.date, int]] = frozenset()

    def met(self, info: UnitInfo, start: Start, minutes: int, held: Sequence[Elsewhere]) -> tuple[str, str] | None:
        """What of others' drafts stands against a start, in words, and whom to ask; ``None`` where nothing does."""
        date = dt.date.fromisoformat(start.day)
        if any((line, date, start.at) in self.stay for line in info.lines):
            return None
        span = (start.at, start.at + (start.minutes or minutes))
        then = [one for one in held if one.meets(date, span)]
        return next(self._said(info, start, span, then), None) if then else None

    def _said(
        self, info: UnitInfo, start: Start, span: Span, then: Sequence[Elsewhere]
    ) -> Iterator[tuple[str, str]]:
        for one in then:
            shared = [code for student, code in sorted(info.students.items()) if student in one.students]
            if shared:
                yield f"a draft of {one.teacher}: {one.words(shared[0])}", one.teacher
            if info.school_class is not None and info.school_class == one.school_class:
                yield f"a draft of {one.teacher}: {one.words(info.label)}", one.teacher
        yield from self._full(info, start, span, then)

    def _full(
        self, info: UnitInfo, start: Start, span: Span, then: Sequence[Elsewhere]
    ) -> Iterator[tuple[str, str]]:
        """A space that others' weeks in force leave room in, and their drafts don't."""
        space = self.spaces.get((start.place, start.space or ""))
        there = [one for one in then if one.space == space]
        if space is None or not there:
            return
        building, date = self.buildings[start.place].pk, dt.date.fromisoformat(start.day)
        fits = next(one.classes_that_fit for one in self.sources.spaces[building] if one.pk == space)
        uses = [
            *self.sources.uses.get((space, date), ()),
            *(Use(one.span, one.school_class, students=one.students) for one in there),
        ]
        if most_at_once(spans_in_use(uses, info.school_class), span) >= fits:
            who = there[0].teacher
            yield f"a draft of {who}: {start.space} is taken {spoken(there[0].span)}", who


def around_drafts(
    teacher: Person, monday: dt.date, students: Collection[int], buildings: Collection[int]
) -> Around:
    """What others' drafts hold of a week's students, classes and spaces."""
    drafts = drafts_under_way(teacher, [monday])
    if not drafts:
        return Around()
    concerns = Q(student__in=students) | Q(session__building__in=buildings)
    held = held_by_others(teacher, concerns, monday, monday + TO_SUNDAY, Q(session__week__in=drafts))
    return Around(held)


def moments_of(sessions: Collection[SessionContent]) -> frozenset[tuple[int, dt.date, int]]:
    """Which line is held when."""
    return frozenset((line, one.date, one.start) for one in sessions for line in one.lines)

"""At which slots the other teacher of a joint service is free and in the building, to give it together."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import Q

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.calendar.models import BusyTime
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.spans import Span, overlap
from schedule.joint.agreed import GivenTogether
from schedule.joint.selectors import given_together
from schedule.make_ups.beside import is_held, is_in_the_way, is_there
from schedule.make_ups.minutes import MakeUpSlot
from schedule.weeks.day_truth import Part, Standing
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.day_shapes import part_of, standings_of
from travel.places.models import Building


def with_mates(lines: Iterable[ServiceLine], slots: Sequence[MakeUpSlot]) -> list[MakeUpSlot]:
    """The slots with the names of those who could give them as well, by the weeks that are in force.

    One query where none of the lines is given together. The number grows with the other teachers alone.
    """
    if not slots:
        return []
    first, last = min(one.date for one in slots), max(one.date for one in slots)
    given = _given(list(lines), first, last)
    days = _days(given, first, last) if given else []
    if not days:
        return list(slots)
    codes = Building.objects.filter(
        district=days[0].teacher.district, code__in={one.building_code for one in slots}
    )
    buildings = dict(codes.values_list("code", "pk"))
    return [_with_mates(one, buildings[one.building_code], given, days) for one in slots]


@dataclass(frozen=True, slots=True)
class _Given:
    """Between two days a teacher gives a service that goes together with one of the lines'."""

    teacher: Person
    service: int
    first: dt.date
    last: dt.date


@dataclass(frozen=True, slots=True)
class _Day:
    """One date of another teacher: what is planned in the week in force, what stands against it, busy times.

    `joint`: by key, sessions of what is given together.
    """

    teacher: Person
    date: dt.date
    parts: Sequence[Part]
    standing: Standing
    busy: Sequence[Span]
    joint: Collection[str]

    def has_room(self, building: int, span: Span) -> bool:
        """Whether it can be given together then: nothing else is planned, or it is booked already."""
        return (
            (is_held(self.parts, building, span, self.joint) or is_there(self.parts, building, span))
            and not is_in_the_way(self.standing, building, span)
            and not any(overlap(one, span) for one in self.busy)
        )


def _given(lines: Collection[ServiceLine], first: dt.date, last: dt.date) -> list[_Given]:
    """Who gives what goes together with these lines, by the terms and the agreement of each day."""
    said = _said({one.service_id for one in lines}, first, last)
    if not said:
        return []
    rows = ServiceLine.objects.filter(service__in={one.partner for one in said}, start__lte=last, end__gte=first)
    rows = rows.exclude(provider__in={one.provider_id for one in lines}).select_related("provider__district")
    pairs = [(row, one) for row in rows.order_by("pk") for one in said if one.partner == row.service_id]
    return [
        _Given(row.provider, row.service_id, max(row.start, one.first), min(row.end, one.last or row.end))
        for row, one in pairs
    ]


def _said(services: Collection[int], first: dt.date, last: dt.date) -> list[GivenTogether]:
    """What is agreed of these services, from their side."""
    agreed = given_together(Q(service__in=services) | Q(partner__in=services), first, last)
    return [one for service in sorted(services) for one in agreed.get(service, ())]


def _days(given: Collection[_Given], first: dt.date, last: dt.date) -> list[_Day]:
    """Each date of the weeks in force of those who give it."""
    teachers = {one.teacher for one in given}
    parts: dict[int, dict[dt.date, list[Part]]] = defaultdict(lambda: defaultdict(list))
    for model in (PlannedSession, DayItem):
        rows = model.objects.filter(
            week__teacher__in=teachers, week__status=WeekPlan.Status.PUBLISHED, date__range=(first, last)
        )
        for row in rows.select_related("week"):
            parts[row.week.teacher_id][row.date].append(part_of(row))
    busy, joint = _busy(teachers, first, last), _joint(given, first, last)
    return [
        _Day(one, date, parts[one.pk][date], standing, busy.get((one.pk, date), ()), joint)
        for one in sorted(teachers, key=lambda one: one.pk)
        if one.pk in parts
        for date, standing in standings_of(one, parts[one.pk]).items()
    ]


def _joint(given: Collection[_Given], first: dt.date, last: dt.date) -> frozenset[str]:
    """The sessions of these services in weeks in force, by key."""
    rows = SessionAttendee.objects.filter(
        service_line__service__in={one.service for one in given},
        session__week__status=WeekPlan.Status.PUBLISHED,
        session__date__range=(first, last),
    )
    return frozenset(map(str, rows.values_list("session__uid", flat=True)))


def _busy(teachers: Collection[Person], first: dt.date, last: dt.date) -> Mapping[tuple[int, dt.date], list[Span]]:
    found: dict[tuple[int, dt.date], list[Span]] = defaultdict(list)
    rows = BusyTime.objects.filter(calendar__teacher__in=teachers, date__range=(first, last))
    for teacher, date, start, end in rows.values_list("calendar__teacher", "date", "start", "end"):
        found[teacher, date].append((minutes_of(start), minutes_of(end)))
    return found


def _with_mates(slot: MakeUpSlot, building: int, given: Iterable[_Given], days: Iterable[_Day]) -> MakeUpSlot:
    giving = {one.teacher.pk for one in given if one.first <= slot.date <= one.last}
    free = [
        str(one.teacher)
        for one in days
        if one.date == slot.date and one.teacher.pk in giving and one.has_room(building, (slot.start, slot.end))
    ]
    return replace(slot, mates=tuple(free))

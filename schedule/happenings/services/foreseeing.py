"""What something would do, found by doing it and taking it back: nothing of it is saved."""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal
from functools import reduce
from operator import or_
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Case, CharField, Count, Q, Value, When

from accounts.models import Person, Substitution, held_on
from accounts.selectors import today_of
from caseload.delivery.selectors.log import reasons_of
from caseload.plans.names import name_warnings
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import Happening
from schedule.happenings.effects import DriveEffect, HappeningEffects, SessionEffect, minutes_by_effect
from schedule.happenings.reasons import REASON_OF
from schedule.happenings.selectors import as_held_during, sessions_during
from schedule.happenings.services.saying import happening_say
from schedule.weeks.data import DayDetail, WeekDetail
from schedule.weeks.day_truth import off_words, otherwise_words, short_words
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.day_shapes import AsHeld
from schedule.weeks.selectors.detail import build_detail
from travel.places.models import Building, BuildingStaff

MOST_WEEKS = 6
"""Weeks whose drives are compared: each is read twice."""
type Days = Mapping[tuple[int, dt.date], DayDetail]


def happening_foresee(
    *, actor: Person, values: Mapping[str, Any], buildings: Sequence[Building] = (), now: dt.datetime | None = None
) -> HappeningEffects:
    """What it would do; raises what `happening_say` raises."""
    with transaction.atomic():
        first, last = values.get("first_date"), values.get("last_date") or values.get("first_date")
        before = DayPicture(actor, first, last) if first and last else None
        row = happening_say(actor=actor, values=values, buildings=buildings, now=now)
        found = effects_since(actor, row, before or DayPicture(actor, row.first_date, row.last_date))
        transaction.set_rollback(True)
    return found


class DayPicture:
    """How the sessions of some dates are held, and the drives of those weeks, as it stands now."""

    def __init__(self, actor: Person, first: dt.date, last: dt.date) -> None:
        self.actor, self.first, self.last = actor, first, last
        self.sessions = sessions_during(actor, first, last)
        self.held = as_held_during(actor, first, last)
        self.weeks = list({row.week_id: row.week for row in self.sessions}.values())[:MOST_WEEKS]
        self.days = _days(actor, self.weeks)


def _days(actor: Person, weeks: Iterable[WeekPlan]) -> dict[tuple[int, dt.date], DayDetail]:
    details: list[WeekDetail] = [build_detail(actor, week) for week in weeks]
    return {(one.teacher_id, day.date): day for one in details for day in one.days}


def effects_since(actor: Person, row: Happening, before: DayPicture) -> HappeningEffects:
    """What has changed since a picture was taken; minutes that fall out, by the reason of what happened."""
    after = as_held_during(actor, before.first, before.last)
    changed = [one for one in before.sessions if before.held[one.uid] != after[one.uid]]
    attending = _attending(changed)
    sessions = tuple(
        _session(one, before.held[one.uid], after[one.uid], attending.get(one.pk, 0)) for one in changed
    )
    lost = [one.minutes * max(1, one.students) for one in sessions if one.what == "out"]
    lost += _absent(changed, before.held, after)
    reason = REASON_OF[HappeningKind(row.kind)]
    table = {one.code: one.effect_on(row.first_date) for one in reasons_of(row.district)}
    return HappeningEffects(
        sessions=sessions,
        drives=_drives(actor, before),
        minutes=minutes_by_effect(((reason, minutes) for minutes in lost), table),
        told=people_concerned(actor, changed),
        entries=tuple(f"{one}, {one.building or 'every school'}" for one in row.entries.select_related("building")),
        more_days=_unread(changed, before.weeks),
        names=tuple(name_warnings(actor, row.note)),
    )


def _drives(actor: Person, before: DayPicture) -> tuple[DriveEffect, ...]:
    names = {one.teacher_id: str(one.teacher) for one in before.weeks}
    return tuple(
        _drive(before.days[key], day, names[key[0]])
        for key, day in _days(actor, before.weeks).items()
        if key in before.days and _route(before.days[key]) != _route(day)
    )


def _unread(changed: Iterable[PlannedSession], weeks: Iterable[WeekPlan]) -> int:
    """Teachers' days with a change whose drives weren't compared."""
    read = {one.pk for one in weeks}
    return len({(one.week.teacher_id, one.date) for one in changed if one.week_id not in read})


def _attending(sessions: Iterable[PlannedSession]) -> dict[int, int]:
    """How many students are planned in each."""
    rows = SessionAttendee.objects.filter(session__in=[one.pk for one in sessions]).order_by()
    return dict(rows.values_list("session").annotate(students=Count("student", distinct=True)))


def _absent(
    changed: Iterable[PlannedSession], before: Mapping[UUID, AsHeld], after: Mapping[UUID, AsHeld]
) -> Iterable[int]:
    """Minutes of students who are absent from sessions that go on."""
    for one in changed:
        if after[one.uid].off is None:
            away = after[one.uid].without - before[one.uid].without
            yield len(away) * _planned_minutes(one)


def _planned_minutes(one: PlannedSession) -> int:
    return (one.end.hour - one.start.hour) * 60 + one.end.minute - one.start.minute


def _session(one: PlannedSession, before: AsHeld, after: AsHeld, students: int) -> SessionEffect:
    what, why = _what(one, before, after)
    return SessionEffect(
        date=one.date,
        start=one.start,
        end=one.end,
        teacher=str(one.week.teacher),
        building=one.building.name,
        label=one.school_class.name if one.school_class else one.get_setting_display(),
        what=what,
        why=why,
        minutes=_left(one, before) - _left(one, after),
        students=students,
    )


def _left(one: PlannedSession, held: AsHeld) -> int:
    if held.off is not None:
        return 0
    return _planned_minutes(one) if held.short is None else held.short.minutes


def _what(one: PlannedSession, before: AsHeld, after: AsHeld) -> tuple[str, str]:
    names = one.school_names
    if after.off is not None:
        return "out", off_words(after.off, names)
    if after.short is not None and after.short != before.short:
        return "shorter", short_words(after.short, names)
    if before.off is not None:
        return "back", "it is held after all"
    told = sorted(filter(None, map(otherwise_words, after.otherwise)))
    absent = len(after.without - before.without)
    told += [f"{absent} student{'s' if absent != 1 else ''} absent"] if absent else []
    return "otherwise", "; ".join(told) or "it is held as planned again"


def _route(day: DayDetail) -> tuple[str, ...]:
    driven = [one for one in day.items if one.kind == "drive" and not one.off]
    ordered = sorted(driven, key=lambda one: one.start_minute)
    return tuple(f"{one.origin_name} to {one.building_name}" for one in ordered)


def _drive(before: DayDetail, after: DayDetail, teacher: str) -> DriveEffect:
    return DriveEffect(
        date=after.date,
        teacher=teacher,
        before=", ".join(_route(before)) or "no drive",
        after=", ".join(_route(after)) or "no drive",
        minutes_before=before.drive_minutes,
        minutes_after=after.drive_minutes,
        miles_before=_miles(before),
        miles_after=_miles(after),
    )


def _miles(day: DayDetail) -> Decimal:
    return sum((one.miles for one in day.items if not one.off), Decimal(0))


def people_concerned(actor: Person, sessions: Collection[PlannedSession]) -> tuple[str, ...]:
    """Whom it concerns that these sessions change, by name: not whoever says it.

    Their teachers, who stands in for them on those days, the offices of those schools, and the coordinators.
    """
    if not sessions:
        return ()
    teachers = {one.week.teacher_id for one in sessions}
    dates = [one.date for one in sessions]
    covers = Substitution.objects.filter(
        teacher__in=teachers, first_date__lte=max(dates), last_date__gte=min(dates)
    )
    today, offices = (
        today_of(actor),
        BuildingStaff.objects.filter(building__in={pk for one in sessions for pk in one.school_names}),
    )
    reasons = (
        (Person.Role.TEACHER, Q(pk__in=teachers)),
        (Person.Role.SUBSTITUTE, Q(pk__in=covers.values("substitute"))),
        (Person.Role.COORDINATOR, held_on(today, Person.Role.COORDINATOR)),
        (Person.Role.OFFICE, held_on(today, Person.Role.OFFICE) & Q(pk__in=offices.values("person"))),
    )
    role = Case(*(When(why, then=Value(role)) for role, why in reasons), output_field=CharField())
    people = Person.objects.filter(reduce(or_, (why for _, why in reasons)), district=actor.district_id)
    people = people.filter(is_active=True).exclude(pk=actor.pk).annotate(concerned=role)
    return tuple(
        f"{one} ({Person.Role(one.concerned).label.lower()})" for one in people.order_by("concerned", "last_name")
    )

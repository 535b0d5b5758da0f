"""Reads where a day stands: what has begun, what is logged, where the teacher is, what falls out."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from accounts.models import Person
from caseload.delivery.models import DeliveryVersion
from schedule.calendar.models import Happening, TeacherRules
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.day_shape import DayShape
from schedule.weeks.day_truth import DRIVE, MEETING, SESSION, Part
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.rest.moment import PREPARATION, Rest, cut_at
from schedule.weeks.selectors.day_shapes import AsHeld, sessions_as_held, shapes_of, straight_legs
from schedule.weeks.versions.content import SessionContent, WeekContent
from schedule.weeks.versions.history import content_in_force


def rest_from(teacher: Person, in_force: WeekContent, date: dt.date, minute: int) -> Rest:
    """The rest of a week in force from a minute of a date on (0: from the beginning of the date)."""
    kept, left = cut_at(in_force, date, minute, logged_otherwise(in_force.sessions))
    if minute:
        kept, left = replace(kept, unplaced=left.unplaced), replace(left, unplaced=())
    return _from_there(teacher, in_force, Rest(date, minute, None, kept, left))


def rest_of_draft(week: WeekPlan, content: WeekContent) -> tuple[Rest, WeekContent] | None:
    """The rest that a draft plans, cut out of what it holds now, and that of the week in force.

    ``None`` for any other version, and where nothing is in force anymore. Sessions that stay where they stood, to
    fall out there, are none of the rest.
    """
    run = week.plan_run if week.status == WeekPlan.Status.DRAFT else None
    in_force = content_in_force(week.teacher, week.monday)
    if run is None or run.first_time is None or in_force is None:
        return None
    was = rest_from(week.teacher, in_force, run.first_date, minutes_of(run.first_time))
    stays = {one.uid for one in was.kept.sessions} | falling_out(week.teacher, was.left.sessions)
    still = _unmoved(in_force, content)
    kept, left = cut_at(content, was.date, minutes_of(run.first_time), stays & still)
    held = times_held(week.teacher, [one for one in was.left.sessions if one.uid in still])
    return Rest(was.date, was.begins, was.place, kept, left).holding(held), was.left


def _unmoved(one: WeekContent, other: WeekContent) -> set[str]:
    """The sessions that stand at the same time in both."""
    stood = {(session.uid, session.date, session.start) for session in one.sessions}
    return {session.uid for session in other.sessions if (session.uid, session.date, session.start) in stood}


def logged_otherwise(sessions: Collection[SessionContent]) -> set[str]:
    """The sessions that somebody has logged: not those that are logged because something took them."""
    uids = [one.uid for one in sessions]
    rows = DeliveryVersion.objects.current().filter(entry__session_uid__in=uids, delivered_minutes__isnull=False)
    rows = rows.exclude(sending__in=Happening.objects.standing().values("sending"))
    return {str(uid) for uid in rows.values_list("entry__session_uid", flat=True)}


def falling_out(teacher: Person, sessions: Iterable[SessionContent]) -> set[str]:
    """Those of a week in force that aren't held on their day, by what is known of it."""
    held = _as_held(teacher, sessions)
    return {str(uid) for uid, one in held.items() if one.off is not None and not one.for_good}


def times_held(teacher: Person, sessions: Collection[SessionContent]) -> dict[str, tuple[int, int]]:
    """From when to when those of a week in force are held that don't fall out."""
    held = _as_held(teacher, sessions)
    planned = {one.uid: (one.start, one.end) for one in sessions}
    return {
        str(uid): (one.short.start, one.short.end) if one.short is not None else planned[str(uid)]
        for uid, one in held.items()
        if one.off is None
    }


def _as_held(teacher: Person, sessions: Iterable[SessionContent]) -> Mapping[UUID, AsHeld]:
    parts: dict[dt.date, list[Part]] = defaultdict(list)
    for one in sessions:
        parts[one.date].append(_session_part(one))
    return {uid: one for (uid, _), one in sessions_as_held(teacher, parts).items()}


@dataclass(frozen=True, slots=True)
class _Doing:
    """Something of the day that takes place, and where it leaves the teacher."""

    start: int
    end: int
    building: int | None
    kind: str


def _from_there(teacher: Person, in_force: WeekContent, rest: Rest) -> Rest:
    """With where the teacher is by what was held and driven, and when that ends; on a day not begun, as ever."""
    begun = [one for one in _day_of(teacher, in_force, rest.date) if one.start < rest.begins]
    if not begun:
        return rest
    there = [one.building for one in sorted(begun, key=_latest) if one.building is not None]
    free = max(rest.begins, max(one.end for one in begun) + _setting_up(teacher, begun))
    return replace(rest, begins=free, place=there[0] if there else None)


def _setting_up(teacher: Person, begun: Iterable[_Doing]) -> int:
    """Minutes before the next session, where one visit lies behind."""
    if not any(one.kind in {SESSION, MEETING} for one in begun):
        return 0
    return TeacherRules.objects.filter(teacher=teacher).values_list("setup_minutes", flat=True).first() or 0


def _latest(one: _Doing) -> tuple[int, int]:
    return -one.start, -one.end


def _day_of(teacher: Person, content: WeekContent, date: dt.date) -> list[_Doing]:
    """What takes place on a date, straight drives included."""
    parts = [_session_part(one) for one in content.sessions if one.date == date]
    parts += [
        Part(one.kind, one.start, one.end, one.building, one.origin) for one in content.items if one.date == date
    ]
    if not parts:
        return []
    shapes = shapes_of(teacher, {date: parts})
    return [*_held(parts, shapes[date].off), *_straight(teacher, shapes, date)]


def _held(parts: Sequence[Part], off: Collection[int]) -> list[_Doing]:
    return [_doing(one) for at, one in enumerate(parts) if at not in off]


def _doing(one: Part) -> _Doing:
    """Preparation waits for the rest."""
    return _Doing(one.start, one.start if one.kind == PREPARATION else one.end, one.building, one.kind)


def _straight(teacher: Person, shapes: Mapping[dt.date, DayShape], date: dt.date) -> list[_Doing]:
    legs = straight_legs(teacher, shapes).get(date, ())
    return [_Doing(one.start, one.end, one.building.pk, DRIVE) for one in legs]


def _session_part(one: SessionContent) -> Part:
    return Part(SESSION, one.start, one.end, one.building, key=one.uid, students_from=one.students_from)

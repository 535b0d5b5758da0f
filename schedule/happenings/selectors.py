"""Reads of what happened: which sessions it took, and what stands."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from caseload.plans.names import student_names
from caseload.plans.naming import CODES_ONLY, StudentNames
from schedule.calendar.happened import OF_SCHOOLS, OF_TEACHER, HappeningKind
from schedule.calendar.models import Happening
from schedule.calendar.selectors.covers import Covers, covers_between
from schedule.calendar.words import listed
from schedule.happenings.reasons import why
from schedule.log.selectors.sessions import LogSession, log_sessions, sessions_to_log
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import AsHeld, as_held

LAST_SCHOOL_DAY = 4
"""Friday: after it no week is left to be planned again."""


def happening_get(viewer: Person, pk: int) -> Happening:
    """One that the viewer may see; raises `ApplicationError` (404) for any other."""
    row = Happening.objects.visible_to(viewer).filter(pk=pk).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def happenings_from(viewer: Person, date: dt.date) -> QuerySet[Happening]:
    """What stands from a date on, as far as the viewer may see it."""
    rows = Happening.objects.visible_to(viewer).standing().filter(last_date__gte=date)
    rows = rows.select_related("teacher", "space__building", "school_class__building", "student", "said_by")
    return rows.prefetch_related("buildings")


def happenings_of_day(viewer: Person, teacher: Person, date: dt.date) -> list[Happening]:
    """What stands on a teacher's date, but for what is about other teachers alone.

    On most days that is nothing, so what belongs to each is read only where there is one.
    """
    found = STANDING(viewer.district_id, date, teacher.pk)
    return list(happenings_from(viewer, date).filter(pk__in=found)) if found else []


STANDING = SqlOnce(
    lambda district, date, teacher: (
        Happening.objects.standing()
        .filter(
            Q(teacher=None) | Q(teacher=teacher), district_id=district, first_date__lte=date, last_date__gte=date
        )
        .order_by()
        .values_list("pk", flat=True)
    )
)


@dataclass(frozen=True, slots=True)
class HappeningView:
    """One thing that stands, in words; a student by name where the viewer may know it.

    `rest`: the date from which the rest of its week can be planned again; empty once it is over. `today`: whether
    it is about today. `teacher`: whose week is planned again, where it is about one.
    `may_cover`: the viewer may arrange who stands in; `stands_in`: who does, by name.
    """

    pk: int
    words: str
    about: str
    when: str
    note: str
    said_by: str
    may_take_back: bool
    rest: dt.date | None
    today: dt.date | None
    teacher: int | None
    may_cover: bool = False
    stands_in: str = ""


def told_of(viewer: Person, rows: Iterable[Happening]) -> list[HappeningView]:
    """Happenings as lists show them."""
    every = list(rows)
    about = {one.student_id for one in every if one.student_id is not None}
    names = student_names(viewer, among=about) if about else CODES_ONLY
    today = today_of(viewer)
    covers = _covers_of(every)
    return [_told(viewer, one, names, today, covers) for one in every]


def _covers_of(rows: Iterable[Happening]) -> Covers:
    """Who stands in on the days of the absences among them; no query without any."""
    away = [one for one in rows if one.kind == HappeningKind.AWAY and one.teacher_id is not None]
    if not away:
        return Covers()
    teachers = {one.teacher_id for one in away if one.teacher_id is not None}
    return covers_between(teachers, min(one.first_date for one in away), max(one.last_date for one in away))


def _stands_in(row: Happening, covers: Covers) -> str:
    if row.kind != HappeningKind.AWAY:
        return ""
    found = [
        one.called
        for one in covers.every
        if one.teacher == row.teacher_id and one.first <= row.last_date and one.last >= row.first_date
    ]
    return listed(list(dict.fromkeys(found))) if found else ""


def _told(viewer: Person, row: Happening, names: StudentNames, today: dt.date, covers: Covers) -> HappeningView:
    mine = viewer.has_perm("week.change") and (
        viewer.is_coordinator or viewer.pk in {row.said_by_id, row.teacher_id}
    )
    return HappeningView(
        pk=row.pk,
        words=row.get_kind_display(),
        about=_about(viewer, row, names),
        when=_when(row),
        note=row.note,
        said_by=str(row.said_by),
        may_take_back=mine,
        rest=_ahead(row, today),
        today=today if row.first_date <= today <= row.last_date else None,
        teacher=viewer.pk if viewer.is_teacher else row.teacher_id,
        may_cover=row.kind == HappeningKind.AWAY and (viewer.is_coordinator or viewer.pk == row.teacher_id),
        stands_in=_stands_in(row, covers),
    )


def _ahead(row: Happening, today: dt.date) -> dt.date | None:
    """From which date on the rest of the week that it touches can be planned again."""
    first = max(row.first_date, today + dt.timedelta(days=1))
    return first if first <= row.last_date or first.weekday() in range(1, LAST_SCHOOL_DAY + 1) else None


def _about(viewer: Person, row: Happening, names: StudentNames) -> str:
    """Whom or what it is about; one's own name isn't said."""
    if row.student is not None:
        return names.full.get(row.student.pk) or row.student.code
    if row.space is not None:
        return f"{row.space.name}, {row.space.building}"
    if row.school_class is not None:
        return f"{row.school_class.name}, {row.school_class.building}"
    if row.kind in OF_SCHOOLS:
        return _schools(row)
    return "" if row.teacher in {None, viewer} else str(row.teacher)


def _schools(row: Happening) -> str:
    schools = ", ".join(one.name for one in row.buildings.all()) or "every school"
    return f"{schools} (grades {row.grades})" if row.grades else schools


def _when(row: Happening) -> str:
    """Its dates and times."""
    one_day = row.first_date == row.last_date
    span = date_words(row.first_date) if one_day else span_words(row.first_date, row.last_date)
    times = [f"from {row.start:%-I:%M %p}"] if row.start else []
    times += [f"until {row.end:%-I:%M %p}"] if row.end else []
    if row.minutes and not times:
        times = [f"by {row.minutes} minutes"]
    return " ".join([span + ("," if times else ""), *times])


def sessions_during(viewer: Person, first: dt.date, last: dt.date) -> list[PlannedSession]:
    """Sessions of weeks in force between two dates that the viewer may see, with what their words need."""
    rows = PlannedSession.objects.filter(
        week__status=WeekPlan.Status.PUBLISHED,
        week__in=WeekPlan.objects.visible_to(viewer),
        date__range=(first, last),
    )
    return list(
        rows.select_related("week__teacher__district", "building", "students_from", "school_class").order_by(
            "date", "start"
        )
    )


def as_held_during(viewer: Person, first: dt.date, last: dt.date) -> Mapping[UUID, AsHeld]:
    """What the sessions between two dates come to as it stands."""
    rows = sessions_during(viewer, first, last)
    return as_held([row.week.teacher for row in rows], rows)


def fallen_out(
    row: Happening, date: dt.date, now: dt.datetime | None = None, week: WeekPlan | None = None
) -> list[LogSession]:
    """Sessions of a date (and a week) that fell out by something and wait for a log, as whoever said it logs them.

    Of a student who is absent from a session that goes on, that session with the student alone.
    """
    rows = _sessions_about(row, date, week)
    if row.kind == HappeningKind.STUDENT_ABSENT:
        alone = (_alone(each, row) for each in log_sessions(row.said_by, rows, now))
        return [one for one in alone if one.waiting]
    planned = list(rows.select_related("week__teacher__district"))
    held = as_held([one.week.teacher for one in planned], planned)
    wanted = why(HappeningKind(row.kind), some_grades=bool(row.grades))
    off = {uid for uid, one in held.items() if one.is_off_by(wanted)}
    return [one for one in log_sessions(row.said_by, rows.filter(uid__in=off), now) if one.waiting]


def _sessions_about(row: Happening, date: dt.date, week: WeekPlan | None) -> QuerySet[PlannedSession]:
    """Sessions of a date (and a week) that it may be about, as whoever said it logs them."""
    rows = sessions_to_log(row.said_by).filter(date=date, **({} if week is None else {"week": week}))
    if HappeningKind(row.kind) in OF_TEACHER | {HappeningKind.AIDE_MISSING}:
        rows = rows.filter(week__teacher=row.teacher)
    if row.kind == HappeningKind.STUDENT_ABSENT:
        rows = rows.filter(attendees__student=row.student).distinct()
    buildings = [one.pk for one in row.buildings.all()]
    there = Q(building__in=buildings) | Q(students_from__in=buildings)
    return rows.filter(there) if buildings else rows


def _alone(session: LogSession, row: Happening) -> LogSession:
    return replace(session, attendees=tuple(one for one in session.attendees if one.student_id == row.student_id))

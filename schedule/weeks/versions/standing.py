"""The standing timetable in force, as the sessions that a week is compared with."""

import datetime as dt
from collections.abc import Iterable

from accounts.models import Person
from caseload.plans.selectors import Versions, line_on, versions_by_line
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.models import TimetableSession, TimetableVersion
from schedule.weeks.versions.content import SessionContent

WEEK = dt.timedelta(weeks=1)


def standing_in_force(teacher: Person, monday: dt.date) -> TimetableVersion | None:
    """The teacher's standing timetable for the week of a Monday: of those that hold then the one published last."""
    rows = TimetableVersion.objects.filter(teacher=teacher, first_day__lt=monday + WEEK, last_day__gte=monday)
    return standing_among(rows.in_force(), monday)


def standing_among(rows: Iterable[TimetableVersion], monday: dt.date) -> TimetableVersion | None:
    """The same of a teacher's timetables in force, read already, the one published last first."""
    return next((one for one in rows if one.first_day < monday + WEEK and one.last_day >= monday), None)


def standing_sessions(timetable: TimetableVersion, monday: dt.date) -> tuple[SessionContent, ...]:
    """Its sessions with the versions of services that hold in the week of a Monday.

    A session bears a date of its weekday, at or before that week, such that no two of a service fall on one moment:
    a pattern for A and for B weeks, or for several cycle days, would else look like one session. A session on a
    cycle day bears some date; its ``cycle_day`` says when it stands.
    """
    rows = list(timetable.sessions.prefetch_related("attendees"))
    versions = versions_by_line({one.service_line_id for row in rows for one in row.attendees.all()})
    taken: set[tuple[str, dt.date, int]] = set()
    found: list[SessionContent] = []
    for row in rows:
        at, date = minutes_of(row.start), monday + dt.timedelta(days=row.weekday or 0)
        while (row.planner_key, date, at) in taken:
            date -= WEEK
        taken.add((row.planner_key, date, at))
        found.append(_content(row, date, _lines(row, monday, versions)))
    return tuple(found)


def _lines(row: TimetableSession, monday: dt.date, versions: Versions) -> Iterable[int]:
    last = monday + dt.timedelta(days=6)
    return (line_on(one.service_line_id, last, versions) for one in row.attendees.all())


def _content(row: TimetableSession, date: dt.date, lines: Iterable[int]) -> SessionContent:
    return SessionContent(
        uid="",
        date=date,
        start=minutes_of(row.start),
        end=minutes_of(row.end),
        building=row.building_id,
        key=row.planner_key,
        setting=row.setting,
        lines=tuple(sorted(lines)),
        space=row.space_id,
        school_class=row.school_class_id,
        cycle_day=row.cycle_day,
    )

"""Rows of those who serve as tables: their rules and hours, posts, and what two of them give together."""

from collections.abc import Iterable

from accounts.models import Person
from schedule.assigning.models import TeacherPost
from schedule.calendar.models import ContractDay, Meeting, TeacherRules
from schedule.covers.selectors import covers_arranged, sessions_told
from schedule.imports.files.cells import Values, code_of, fields_of
from schedule.imports.tables.columns import Table
from schedule.joint.models import JointService
from schedule.joint.selectors import line_at
from schedule.meetings.models import CommonMeeting
from travel.drives.models import OwnDriveTime


def teacher_rules(viewer: Person, table: Table) -> Iterable[Values]:
    """Each teacher's rules."""
    rows = TeacherRules.objects.visible_to(viewer).select_related("teacher", "start_place", "end_place")
    for row in rows.order_by("teacher__username"):
        links = {
            "teacher": row.teacher.username,
            "start_place": code_of(row.start_place),
            "end_place": code_of(row.end_place),
        }
        yield fields_of(row, table, *links) | links


def contract_days(viewer: Person, table: Table) -> Iterable[Values]:
    """Contract hours by teacher and weekday."""
    rows = ContractDay.objects.visible_to(viewer).select_related("teacher")
    return (
        fields_of(row, table, "teacher") | {"teacher": row.teacher.username}
        for row in rows.order_by("teacher__username", "weekday")
    )


def meetings(viewer: Person, table: Table) -> Iterable[Values]:
    """Meetings by teacher."""
    rows = Meeting.objects.visible_to(viewer).select_related("teacher", "building")
    for row in rows.order_by("teacher__username", "pk"):
        links = {"teacher": row.teacher.username, "building": code_of(row.building)}
        yield fields_of(row, table, *links) | links


def own_drive_times(viewer: Person, table: Table) -> Iterable[Values]:
    """Teachers' own drive times."""
    rows = OwnDriveTime.objects.visible_to(viewer).select_related("teacher", "origin", "destination")
    for row in rows.order_by("teacher__username", "origin__code", "destination__code"):
        links = {
            "teacher": row.teacher.username,
            "origin": row.origin.code,
            "destination": row.destination.code,
        }
        yield fields_of(row, table, *links) | links


def posts(viewer: Person, table: Table) -> Iterable[Values]:
    """Posts, of each teacher the earliest first."""
    del table
    rows = TeacherPost.objects.visible_to(viewer).select_related("teacher", "base").prefetch_related("not_at")
    for row in rows.order_by("teacher__username", "first_day"):
        yield {
            "teacher": row.teacher.username,
            "first_day": row.first_day,
            "share": row.share,
            "base": row.base.code if row.base is not None else "",
            "field": row.field,
            "not_at": sorted(one.code for one in row.not_at.all()),
        }


def joint_sessions(viewer: Person, table: Table) -> Iterable[Values]:
    """Joint sessions by student; each service is told by the terms that it has on their first day."""
    del table
    rows = JointService.objects.visible_to(viewer).select_related("service__student", "partner")
    for row in rows.order_by("service__student__code", "first_day", "pk"):
        mine, theirs = line_at(row.service, row.first_day), line_at(row.partner, row.first_day)
        if mine is None or theirs is None:
            continue
        yield {
            "student": row.service.student.code,
            "teacher": mine.provider.username,
            "statement": mine.statement,
            "setting": mine.setting,
            "partner": theirs.provider.username,
            "their_statement": theirs.statement,
            "their_setting": theirs.setting,
            "first_day": row.first_day,
            "last_day": row.last_day,
            "times_a_week": row.times_a_week,
        }


def common_meetings(viewer: Person, table: Table) -> Iterable[Values]:
    """Common meetings by title and day; a common lunch has no columns here."""
    meetings = CommonMeeting.objects.visible_to(viewer).filter(kind=CommonMeeting.Kind.MEETING)
    rows = meetings.select_related("building", "called_by")
    ordered = rows.order_by("title", "date", "weekday", "start", "pk")
    for row in ordered.prefetch_related("teachers", "asked"):
        links = {
            "building": code_of(row.building),
            "called_by": row.called_by.username if row.called_by is not None else "",
            "teachers": sorted(one.username for one in row.teachers.all()),
            "asked": sorted(one.username for one in row.asked.all()),
        }
        yield fields_of(row, table, *links) | links


def covers(viewer: Person, table: Table) -> Iterable[Values]:
    """Who stands in for a teacher, by teacher and days. Somebody without a sign-in has a name."""
    del table
    rows = list(covers_arranged(viewer).order_by("teacher__username", "first_date", "pk"))
    told = sessions_told(rows)
    for row in rows:
        yield {
            "teacher": row.teacher.username,
            "substitute": "" if row.substitute.by_link else row.substitute.username,
            "called": row.substitute.called if row.substitute.by_link else "",
            "first_date": row.first_date,
            "last_date": row.last_date,
            "sessions": told[row.pk],
        }

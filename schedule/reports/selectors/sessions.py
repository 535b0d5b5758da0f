"""Every session of a district between two dates with every version of its log, for the auditor's file."""

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import QuerySet

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_YOUR_ROLE
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, TeamDecision
from caseload.delivery.words import EFFECT_WORDS
from caseload.months.models import LogMonth, LogMonthAct, month_of
from caseload.plans.models import ServiceLine, Student, enrollment_nearest
from schedule.calendar.selectors.school_days import minutes_of
from schedule.reports.audit_rows import AT_SCHOOL, IN_WEEK, AuditDecision, AuditRow
from schedule.weeks.models import SessionAttendee, WeekPlan
from schedule.weeks.selectors.leaving import gone_among

MOST_ROWS = 100_000
TOO_MANY = (
    "These are {count:,} rows, more than the {most:,} that one file holds. Choose fewer days, or one teacher."
)


def session_rows(viewer: Person, first: dt.date, last: dt.date, teacher: Person | None = None) -> list[AuditRow]:
    """By date, time, student and version; of one teacher's where a teacher is given.

    The number of queries is fixed. Raises `ApplicationError`: 403 for anybody but a coordinator, ``dates_swapped``,
    ``too_many_rows``.
    """
    found = _found(_district(viewer), first, last, teacher)
    rows = [row for entry in found.entries for row in found.versions(entry)]
    gone = gone_among(_attendees(_district(viewer), first, last, teacher))
    off = gone.left | gone.handed_over
    planned = [one for one in found.attendees if (one.session.uid, one.service_line_id) not in off]
    rows += [found.waiting(one) for one in planned if not found.is_logged(one)]
    return sorted(
        rows, key=lambda row: (row.date, row.start or dt.time(), row.student, row.entry or 0, row.version or 0)
    )


@dataclass(frozen=True, slots=True)
class _Sessions:
    """What the rows are made of."""

    entries: tuple[DeliveryEntry, ...]
    attendees: tuple[SessionAttendee, ...]
    by_uid: Mapping[uuid.UUID, SessionAttendee]
    logged: frozenset[tuple[object, ...]]
    closed: Mapping[tuple[int, dt.date], LogMonthAct]

    def is_logged(self, one: SessionAttendee) -> bool:
        """By the session's uid, or by service, date and time where a later version of the week lost that."""
        session = one.session
        spot = (one.service_line_id, session.date, session.start)
        return (one.service_line_id, session.uid) in self.logged or spot in self.logged

    def versions(self, entry: DeliveryEntry) -> list[AuditRow]:
        """A row for each version of an entry."""
        planned = self.by_uid.get(entry.session_uid) if entry.session_uid is not None else None
        closed = self.closed.get((entry.service_line.provider_id, month_of(entry.date)))
        session = _session_row(entry, planned)
        decisions = {one.reason_id: one for one in entry.decisions.all()}
        return [
            replace(
                session,
                version=one.number,
                counts=one.number == entry.version,
                delivered=one.delivered_minutes,
                note=one.note,
                given_by=one.given_by,
                given_under=one.given_under,
                logged_by=str(one.logged_by),
                logged_at=one.logged_at,
                closed_on=closed.at.date() if closed is not None else None,
                amends=closed is not None and one.logged_at > closed.at,
                **_reason(entry, one, decisions),
            )
            for one in entry.versions.all()
        ]

    def waiting(self, one: SessionAttendee) -> AuditRow:
        """A planned session that nobody logged."""
        session, line = one.session, one.service_line
        closed = self.closed.get((line.provider_id, month_of(session.date)))
        return AuditRow(
            entry=None,
            student=one.student.code,
            date=session.date,
            start=session.start,
            planned=minutes_of(session.end) - minutes_of(session.start),
            place=str(session.building),
            place_from=IN_WEEK,
            space=_space(one),
            service=line.statement,
            service_type=line.get_service_type_display(),
            setting=session.get_setting_display(),
            provider=str(session.week.teacher),
            makes_up=session.makes_up,
            closed_on=closed.at.date() if closed is not None else None,
        )


def _district(viewer: Person) -> District:
    if viewer.district is None or not viewer.is_coordinator:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    return viewer.district


def _found(district: District, first: dt.date, last: dt.date, teacher: Person | None) -> _Sessions:
    if last < first:
        raise ApplicationError("The last date is before the first.", code="dates_swapped")
    entries = _entries(district, first, last, teacher)
    attendees = _attendees(district, first, last, teacher)
    versions = DeliveryVersion.objects.filter(entry__in=entries).count()
    if (count := versions + attendees.count()) > MOST_ROWS:
        raise ApplicationError(TOO_MANY.format(count=count, most=MOST_ROWS), code="too_many_rows")
    rows, planned = tuple(entries), tuple(attendees)
    spots = {(one.service_line_id, one.date, one.start) for one in rows}
    uids = {(one.service_line_id, one.session_uid) for one in rows}
    by_uid = {one.session.uid: one for one in planned}
    return _Sessions(rows, planned, by_uid, frozenset(spots | uids), _closed(district))


def _entries(
    district: District, first: dt.date, last: dt.date, teacher: Person | None
) -> QuerySet[DeliveryEntry, DeliveryEntry]:
    every = DeliveryEntry.objects.all() if teacher is None else DeliveryEntry.objects.given_for(teacher)
    rows = every.filter(student__district=district, date__gte=first, date__lte=last)
    rows = rows.select_related("student__building", "service_line__provider", "provider")
    more = ("versions__reason__effects", "versions__logged_by", "decisions", "student__enrollments__building")
    return rows.prefetch_related(*more)


def _attendees(
    district: District, first: dt.date, last: dt.date, teacher: Person | None
) -> QuerySet[SessionAttendee, SessionAttendee]:
    """Who is in the sessions of published weeks."""
    rows = SessionAttendee.objects.filter(
        student__district=district,
        session__week__status=WeekPlan.Status.PUBLISHED,
        session__date__gte=first,
        session__date__lte=last,
    )
    rows = rows.filter(session__week__teacher=teacher) if teacher is not None else rows
    more = ("session__building", "session__space", "session__week__teacher", "student", "service_line__provider")
    return rows.select_related(*more)


def _closed(district: District) -> dict[tuple[int, dt.date], LogMonthAct]:
    """Since when a teacher's month is closed."""
    acts = LogMonthAct.objects.filter(
        month__district=district, month__status=LogMonth.Status.CLOSED, act=LogMonthAct.Act.CLOSED
    )
    return {(one.month.teacher_id, one.month.month): one for one in acts.select_related("month").order_by("at")}


def _session_row(entry: DeliveryEntry, planned: SessionAttendee | None) -> AuditRow:
    """What was planned, by the published week where one held the session."""
    line, student = entry.service_line, entry.student
    place = planned.session.building if planned is not None else _school(student, line, entry.date)
    return AuditRow(
        entry=entry.pk,
        student=student.code,
        date=entry.date,
        start=entry.start,
        planned=entry.planned_minutes,
        place=str(place),
        place_from=IN_WEEK if planned is not None else AT_SCHOOL,
        space=_space(planned),
        service=line.statement,
        service_type=line.get_service_type_display(),
        setting=entry.get_setting_display(),
        provider=str(entry.provider or line.provider),
        makes_up=entry.makes_up,
        makes_up_for=entry.makes_up_for,
    )


def _reason(
    entry: DeliveryEntry, version: DeliveryVersion, decisions: Mapping[int, TeamDecision]
) -> dict[str, Any]:
    """Why minutes were missed, what the district's table did with it then, and what the team decided."""
    reason = version.reason
    if reason is None:
        return {}
    effect = EFFECT_WORDS[reason.effect_on(entry.date)]
    return {"reason": reason.words, "effect": effect, "decision": _decision(decisions.get(reason.pk))}


def _school(student: Student, line: ServiceLine, date: dt.date) -> object:
    return enrollment_nearest(student, date, line.building_id).building


def _space(one: SessionAttendee | None) -> str:
    return str(one.session.space.name) if one is not None and one.session.space is not None else ""


def _decision(row: TeamDecision | None) -> AuditDecision | None:
    return AuditDecision(row.get_effect_display(), row.decided_by, row.decided_on) if row is not None else None

"""A teacher's month of the log as it stands: what would be signed, what was, and what differs since.

What is signed doesn't depend on who looks: the caller asks first whether the viewer may see the teacher's months.
"""

import calendar
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Min, Prefetch, QuerySet

from accounts.errors import ApplicationError
from accounts.fields import month_read
from accounts.models import District, Person, held_ever
from accounts.services import NOT_THERE
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, MissedReason, TeamDecision
from caseload.delivery.rows import LineLedger
from caseload.months.models import LogMonth, LogMonthAct, LogMonthRules, month_of
from caseload.plans.models import ServiceLine, Student
from caseload.plans.names import student_names
from caseload.retention.selectors import logs_erased
from schedule.closing.content import (
    Content,
    Difference,
    differences,
    is_same_log,
    month_content,
    note_digest,
    sessions_of,
    without,
)
from schedule.closing.data import TermsTold
from schedule.log.selectors.ledger import ledgers_of
from schedule.weeks.models import WeekPlan

BAD_MONTH = "That isn't a month. Use a month such as 2026-09."


def month_in_address(text: str) -> dt.date:
    """``2026-09`` in an address or a body; raises `ApplicationError` (400) for what is no month."""
    month = month_read(text)
    if month is None:
        raise ApplicationError(BAD_MONTH, code="bad_month", status=400)
    return month


def month_end(month: dt.date) -> dt.date:
    """Its last day."""
    return month.replace(day=calendar.monthrange(month.year, month.month)[1])


def month_teachers(viewer: Person) -> QuerySet[Person]:
    """Whose months the viewer sees: the own, or all of the district, of those as well who have left."""
    if viewer.district_id is None:
        return Person.objects.none()
    rows = Person.objects.filter(held_ever(Person.Role.TEACHER), district=viewer.district).select_related(
        "district"
    )
    return rows if viewer.is_coordinator else rows.filter(pk=viewer.pk)


def month_teacher(viewer: Person, teacher_id: int) -> Person:
    """A teacher whose months the viewer sees; raises `ApplicationError` (404) for anybody else."""
    found = month_teachers(viewer).filter(pk=teacher_id).first()
    if found is None or found.district is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return found


def month_rules(district: District) -> LogMonthRules:
    """What the district does about changes in a closed month; not saved where it has said nothing."""
    return LogMonthRules.objects.filter(district=district).first() or LogMonthRules(district=district)


def entries_of_month(teacher: Person, month: dt.date) -> list[DeliveryEntry]:
    """The log of a teacher's sessions in a month, with every version and decision."""
    versions = DeliveryVersion.objects.select_related("reason", "logged_by").order_by("number")
    decisions = TeamDecision.objects.select_related("reason", "recorded_by").order_by("recorded_at", "pk")
    mine = DeliveryEntry.objects.given_for(teacher)
    rows = mine.filter(date__gte=month, date__lte=month_end(month)).select_related("student", "service_line")
    with_versions = rows.prefetch_related(Prefetch("versions", queryset=versions))
    return list(with_versions.prefetch_related(Prefetch("decisions", queryset=decisions)))


def content_of(teacher: Person, month: dt.date) -> dict[str, Any]:
    """What the teacher's month says now (see schedule.closing.content)."""
    if teacher.district is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    entries = entries_of_month(teacher, month)
    ledgers = _ledgers(teacher, teacher.district, month, {entry.student_id for entry in entries})
    return month_content(
        teacher=teacher.pk,
        month=f"{month:%Y-%m}",
        entries=[_entry(entry) for entry in entries],
        not_logged=_not_logged(ledgers, month),
        figures=[_figures(one) for one in ledgers],
    )


def _ledgers(teacher: Person, district: District, month: dt.date, logged: set[int]) -> list[LineLedger]:
    """The ledgers of the teacher's services up to the month's last day."""
    last = month_end(month)
    lines = ServiceLine.objects.filter(provider=teacher).owed_between(month, last)
    wanted = logged | set(lines.values_list("plan__student", flat=True))
    students = Student.objects.filter(pk__in=wanted, district=district).select_related("building__district")
    found = ledgers_of(district, list(students), last)
    return [one for ledger in found for one in ledger.lines if one.line.provider_id == teacher.pk]


def _not_logged(ledgers: Iterable[LineLedger], month: dt.date) -> list[dict[str, Any]]:
    """Sessions of published weeks in the month that nobody logged."""
    return [
        {
            "session": f"{row.planned.uid}/{row.line_id}",
            "date": row.planned.date.isoformat(),
            "start": f"{row.planned.start:%H:%M}",
            "service": row.line_id,
            "student": one.line.plan.student_id,
            "planned": row.planned.minutes,
        }
        for one in ledgers
        for row in (*one.rows, *one.outside)
        if row.planned is not None and row.record.delivered is None and month_of(row.planned.date) == month
    ]


def _figures(one: LineLedger) -> dict[str, Any]:
    figures = one.figures
    return {
        "service": one.line.pk,
        "student": one.line.plan.student_id,
        "owed": figures.owed,
        "delivered": figures.delivered,
        "made_up": figures.made_up,
        "behind": figures.behind,
    }


def _entry(entry: DeliveryEntry) -> dict[str, Any]:
    return {
        "entry": entry.pk,
        "date": entry.date.isoformat(),
        "start": f"{entry.start:%H:%M}" if entry.start else "",
        "student": entry.student_id,
        "service": entry.service_line_id,
        "planned": entry.planned_minutes,
        "setting": entry.setting,
        "makes_up": int(entry.makes_up),
        "makes_up_for": entry.makes_up_for.isoformat() if entry.makes_up_for else "",
        "versions": [
            {
                "number": one.number,
                "delivered": one.delivered_minutes,
                "reason": one.reason.code if one.reason is not None else "",
                "note": note_digest(one.note),
                "by": one.logged_by_id,
                "at": one.logged_at.isoformat(),
            }
            for one in entry.versions.all()
        ],
        "decisions": [
            {
                "id": one.pk,
                "reason": one.reason.code,
                "effect": one.effect,
                "decided_by": one.decided_by,
                "decided_on": one.decided_on.isoformat(),
                "by": one.recorded_by_id,
                "at": one.recorded_at.isoformat(),
            }
            for one in entry.decisions.all()
        ],
    }


@dataclass(frozen=True, slots=True)
class LogMonthView:
    """A teacher's month of the log.

    `kept` is what was signed or closed last (None: nothing, or it was reopened), `since` what differs from it now,
    `erased` the students whose records were erased by schedule: what was signed of them stands.
    """

    teacher: Person
    month: dt.date
    row: LogMonth
    is_over: bool
    acts: tuple[LogMonthAct, ...]
    now: Content
    kept: LogMonthAct | None
    since: tuple[Difference, ...]
    erased: frozenset[int] = frozenset()

    @property
    def is_stale(self) -> bool:
        """Whether the sessions are other ones than those that were signed, but for what was erased by schedule."""
        if self.kept is None:
            return False
        return not is_same_log(without(self.kept.content, self.erased), without(self.now, self.erased))

    @property
    def erased_sessions(self) -> int:
        """How many of the sessions that were signed or closed are of students whose records were erased."""
        return sessions_of(self.kept.content, self.erased) if self.kept is not None else 0

    @property
    def last_day(self) -> dt.date:
        """The month's."""
        return month_end(self.month)


def month_row(teacher: Person, month: dt.date) -> LogMonth:
    """The month's row; not saved where nothing was done to it yet."""
    row = LogMonth.objects.filter(teacher=teacher, month=month).first()
    return row or LogMonth(teacher=teacher, district=teacher.district, month=month)


def month_view(teacher: Person, month: dt.date, today: dt.date) -> LogMonthView:
    """A month as it stands, beside what was signed or closed."""
    row, now = month_row(teacher, month), content_of(teacher, month)
    acts = tuple(row.acts.select_related("by")) if row.pk else ()
    kept = acts[-1] if acts and acts[-1].act != LogMonthAct.Act.REOPENED else None
    erased = logs_erased(teacher) if kept is not None else frozenset()
    since: tuple[Difference, ...] = ()
    if kept is not None:
        since = differences(without(kept.content, erased), without(now, erased), _reason_words(teacher))
    return LogMonthView(teacher, month, row, today > month_end(month), acts, now, kept, since, erased)


def _reason_words(teacher: Person) -> dict[str, str]:
    return dict(MissedReason.objects.filter(district=teacher.district).values_list("code", "words"))


@dataclass(frozen=True, slots=True)
class MonthLine:
    """A month in the list."""

    month: dt.date
    row: LogMonth
    is_over: bool
    signed: LogMonthAct | None
    closed: LogMonthAct | None


def months_of(teacher: Person, today: dt.date) -> list[MonthLine]:
    """From the first month that was published or logged to the present one, the latest first."""
    first = _first_day(teacher) or today
    rows = {row.month: row for row in LogMonth.objects.filter(teacher=teacher).prefetch_related("acts__by")}
    found, month = [], month_of(today)
    while month >= month_of(first):
        row = rows.get(month) or LogMonth(teacher=teacher, district=teacher.district, month=month)
        acts = list(row.acts.all()) if row.pk else []
        after = max((place for place, one in enumerate(acts) if one.act == LogMonthAct.Act.REOPENED), default=-1)
        standing = {LogMonthAct.Act(one.act): one for one in acts[after + 1 :]}
        signed, closed = standing.get(LogMonthAct.Act.SIGNED), standing.get(LogMonthAct.Act.CLOSED)
        found.append(MonthLine(month, row, today > month_end(month), signed, closed))
        month = month_of(month - dt.timedelta(days=1))
    return found


def _first_day(teacher: Person) -> dt.date | None:
    weeks = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED)
    entries = DeliveryEntry.objects.given_for(teacher)
    rows = LogMonth.objects.filter(teacher=teacher)
    found = (
        weeks.aggregate(first=Min("monday"))["first"],
        entries.aggregate(first=Min("date"))["first"],
        rows.aggregate(first=Min("month"))["first"],
    )
    return min((day for day in found if day is not None), default=None)


def told_of(viewer: Person, view: LogMonthView) -> TermsTold:
    """Names and statements for all that a month's page names."""
    students = {row["student"] for part in ("entries", "not_logged", "figures") for row in view.now[part]}
    students |= {one.student for one in view.since}
    services = {one.service for one in view.since}
    listed = student_names(viewer).listed
    lines = ServiceLine.objects.visible_to(viewer).filter(pk__in=services)
    return TermsTold(
        {student: listed[student] for student in students if student in listed},
        dict(lines.values_list("pk", "statement")),
    )

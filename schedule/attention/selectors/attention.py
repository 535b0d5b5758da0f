"""Who needs attention first: what waits with a teacher's students, each row with its next step."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from accounts.dates import date_words
from accounts.models import Person
from caseload.delivery.in_force import is_in_force
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.rows import LineLedger, StudentLedger
from caseload.delivery.selectors.log import undecided_entries
from caseload.plans.models import Plan
from schedule.attention.causes import Parted, count_words, part_by_cause
from schedule.attention.selectors.ends import beyond_rows, ended_rows, unserved_rows
from schedule.attention.selectors.forecast import LineOutlook, TeacherLedgers, line_outlooks, teacher_ledgers
from schedule.attention.selectors.goals import waiting_rows
from schedule.attention.selectors.rows import AttentionRow, Kind, behind_rows, closings_ahead, short_rows
from schedule.calendar.models import MarkingPeriod
from schedule.log.selectors.sessions import unlogged_sessions
from schedule.make_ups.selectors.needs import MakeUpNeed, needs_from

PLAN_ENDS_DAYS = 60
REVIEW_DAYS = 60
REPORT_DAYS = 14
"""How far ahead dates are shown. The 60 days are what was asked for; the others are common practice, no source."""


@dataclass(frozen=True, slots=True)
class Attention:
    """The rows of a teacher, most urgent first, and the sums above them."""

    teacher: Person
    today: dt.date
    rows: tuple[AttentionRow, ...]
    students: int

    @property
    def parted(self) -> Parted[AttentionRow]:
        """Rows that differ, and those that share a cause."""
        return part_by_cause(self.rows)

    @property
    def behind_minutes(self) -> int:
        """Minutes behind now over all rows."""
        return sum(row.minutes for row in self.rows if row.kind is Kind.BEHIND)

    def of(self, kind: Kind) -> tuple[AttentionRow, ...]:
        """Rows of one kind."""
        return tuple(row for row in self.rows if row.kind is kind)


def attention(viewer: Person, teacher: Person, today: dt.date) -> Attention:
    """What waits with one teacher's students on a day.

    The number of queries is fixed: it grows neither with the caseload nor with the district. Raises
    `ApplicationError` (404) for a teacher who isn't the viewer's to plan.
    """
    loaded = teacher_ledgers(viewer, teacher, today)
    return attention_from(viewer, loaded, line_outlooks(loaded))


def attention_from(viewer: Person, loaded: TeacherLedgers, outlooks: tuple[LineOutlook, ...]) -> Attention:
    """The same from ledgers and outlooks that the caller has."""
    teacher, today = loaded.teacher, loaded.today
    needs = needs_from(loaded.own_lines(), loaded.lines, today)
    rows = [
        *behind_rows(needs.values(), loaded.reason_words),
        *unserved_rows(viewer, teacher, today),
        *ended_rows(viewer, teacher, today),
        *_undecided(viewer, teacher),
        *_unlogged(viewer, teacher, today),
        *beyond_rows(viewer, teacher, today),
        *short_rows(outlooks, closings_ahead(loaded), loaded.make_up_days, _spare(needs)),
        *_plan_dates(loaded),
        *_reports(loaded),
        *waiting_rows(viewer, teacher, today),
        *_problems(loaded),
    ]
    rows.sort(key=lambda row: (row.kind, row.due, -row.minutes, row.student.code if row.student else ""))
    return Attention(teacher, today, tuple(rows), len(loaded.ledgers))


def _spare(needs: Mapping[int, MakeUpNeed]) -> Mapping[int, int]:
    """Booked minutes beyond what is open today, by line."""
    return {line: need.spare for line, need in needs.items()}


def _undecided(viewer: Person, teacher: Person) -> Iterator[AttentionRow]:
    for row in undecided_entries(viewer, teacher):
        yield _undecided_row(row)


def _undecided_row(row: DeliveryVersion) -> AttentionRow:
    entry = row.entry
    missed = entry.planned_minutes - (row.delivered_minutes or 0)
    reason = row.reason.words.lower() if row.reason else "no reason"
    return AttentionRow(
        Kind.UNDECIDED,
        f"{count_words(missed, 'minute', 'minutes')} missed on {date_words(entry.date)} ({reason}): owed or not?",
        entry.date,
        entry.student,
        entry.service_line_id,
        entry.service_line.statement,
        missed,
        entry.pk,
        cause=f"{reason} on {date_words(entry.date)}",
    )


def _unlogged(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    waiting = unlogged_sessions(viewer, teacher, today)
    if waiting:
        count = "1 session waits" if len(waiting) == 1 else f"{len(waiting)} sessions wait"
        words = f"{count} to be logged, the oldest from {date_words(waiting[0].date)}."
        minutes = sum(one.minutes * len(one.waiting) for one in waiting)
        yield AttentionRow(Kind.UNLOGGED, words, waiting[0].date, minutes=minutes, things=len(waiting))


def _plan_dates(loaded: TeacherLedgers) -> Iterator[AttentionRow]:
    """Plans that end without a successor, and annual reviews (34 CFR 300.324(b)(1)(i): at least annually)."""
    today = loaded.today
    ends = today + dt.timedelta(days=PLAN_ENDS_DAYS)
    students = {line.plan.student_id for line in loaded.lines.values()}
    plans = list(Plan.objects.filter(student__in=students, end__gte=today).select_related("student"))
    for plan in sorted(plans, key=lambda one: (one.end, one.pk)):
        if plan.start > today:
            continue
        if plan.end <= ends and not any(_follows(other, plan) for other in plans):
            days = (plan.end - today).days
            words = f"Ends on {date_words(plan.end)}, in {days} days, and no plan follows."
            cause = f"plans end on {date_words(plan.end)}"
            yield AttentionRow(Kind.PLAN_ENDS, words, plan.end, plan.student, cause=cause)
        review = plan.annual_review
        if review is not None and review <= today + dt.timedelta(days=REVIEW_DAYS):
            when = "was due" if review < today else "is due"
            words = f"The review {when} on {date_words(review)}."
            cause = f"reviews on {date_words(review)}"
            yield AttentionRow(Kind.REVIEW, words, review, plan.student, cause=cause)


def _follows(other: Plan, plan: Plan) -> bool:
    return other.student_id == plan.student_id and other.start > plan.start and other.end > plan.end


def _reports(loaded: TeacherLedgers) -> Iterator[AttentionRow]:
    """Progress is reported periodically, such as with report cards (34 CFR 300.320(a)(3)(ii))."""
    rows = MarkingPeriod.objects.filter(
        district=loaded.teacher.district,
        last_day__range=(loaded.today, loaded.today + dt.timedelta(days=REPORT_DAYS)),
    )
    students = sum(any(is_in_force(one.line, loaded.today) for one in s.lines) for s in loaded.ledgers)
    for period in rows:
        if students:
            words = f"{period.name} ends on {date_words(period.last_day)}: reports for {students} students."
            yield AttentionRow(Kind.REPORT, words, period.last_day)


def _problems(loaded: TeacherLedgers) -> Iterator[AttentionRow]:
    for student, one in loaded.own_lines():
        if one.problem and is_in_force(one.line, loaded.today):
            yield _problem_row(student, one, loaded.today)


def _problem_row(student: StudentLedger, one: LineLedger, today: dt.date) -> AttentionRow:
    return AttentionRow(
        Kind.PROBLEM, one.problem, today, student.student, one.line.pk, one.line.statement, cause=one.problem
    )

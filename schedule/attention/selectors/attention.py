"""Who needs attention first: what waits with a teacher's students, each row with its next step."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum

from accounts.dates import date_words
from accounts.models import Person
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.rows import LineLedger, StudentLedger, is_in_force
from caseload.delivery.selectors.log import undecided_entries
from caseload.ledger.outlook import Outlook
from caseload.plans.models import Plan, Student
from schedule.attention.selectors.forecast import LineOutlook, TeacherLedgers, line_outlooks, teacher_ledgers
from schedule.calendar.models import MarkingPeriod
from schedule.log.selectors.sessions import unlogged_sessions
from schedule.make_ups.selectors.slots import MakeUpNeed, needs_from

PLAN_ENDS_DAYS = 60
REVIEW_DAYS = 60
REPORT_DAYS = 14
"""How far ahead dates are shown. The 60 days are what was asked for; the others are common practice, no source."""


class Kind(IntEnum):
    """Why a row is there; the smaller, the sooner."""

    BEHIND = 1
    UNDECIDED = 2
    UNLOGGED = 3
    SHORT = 4
    PLAN_ENDS = 5
    REVIEW = 6
    REPORT = 7
    PROBLEM = 8


KIND_WORDS = {
    Kind.BEHIND: "Behind now",
    Kind.UNDECIDED: "The team decides",
    Kind.UNLOGGED: "Not logged",
    Kind.SHORT: "Will be behind",
    Kind.PLAN_ENDS: "Plan ends",
    Kind.REVIEW: "Annual review",
    Kind.REPORT: "Progress report",
    Kind.PROBLEM: "Can't be counted",
}


@dataclass(frozen=True, slots=True)
class AttentionRow:
    """One thing that waits. `student` and `line_id` are empty where it isn't about one; `due` is its date.

    `words` name no student; `minutes` are those that it is about.
    """

    kind: Kind
    words: str
    due: dt.date
    student: Student | None = None
    line_id: int | None = None
    statement: str = ""
    minutes: int = 0
    entry_id: int | None = None

    @property
    def label(self) -> str:
        """The kind in words."""
        return KIND_WORDS[self.kind]


@dataclass(frozen=True, slots=True)
class Attention:
    """The rows of a teacher, most urgent first, and the sums above them."""

    teacher: Person
    today: dt.date
    rows: tuple[AttentionRow, ...]
    students: int

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
    needs = needs_from(loaded.own_lines(), loaded.lines, today)
    rows = [
        *_behind(needs.values()),
        *_undecided(viewer, teacher),
        *_unlogged(viewer, teacher, today),
        *_short(line_outlooks(loaded)),
        *_plan_dates(loaded),
        *_reports(loaded),
        *_problems(loaded),
    ]
    rows.sort(key=lambda row: (row.kind, row.due, -row.minutes, row.student.code if row.student else ""))
    return Attention(teacher, today, tuple(rows), len(loaded.ledgers))


def _minutes(count: int) -> str:
    return "1 minute" if count == 1 else f"{count} minutes"


def _behind(needs: Iterable[MakeUpNeed]) -> Iterator[AttentionRow]:
    for need in needs:
        if need.due is not None:
            booked = sum(one.minutes for one in need.booked)
            words = f"{_minutes(need.minutes)} to make up by {date_words(need.due)}"
            words += f"; {_minutes(booked)} booked already." if booked else "."
            yield AttentionRow(
                Kind.BEHIND, words, need.due, need.student, need.line.pk, need.line.statement, need.minutes
            )


def _undecided(viewer: Person, teacher: Person) -> Iterator[AttentionRow]:
    for row in undecided_entries(viewer, teacher):
        yield _undecided_row(row)


def _undecided_row(row: DeliveryVersion) -> AttentionRow:
    entry = row.entry
    missed = entry.planned_minutes - (row.delivered_minutes or 0)
    reason = row.reason.words.lower() if row.reason else "no reason"
    return AttentionRow(
        Kind.UNDECIDED,
        f"{_minutes(missed)} missed on {date_words(entry.date)} ({reason}): owed or not?",
        entry.date,
        entry.student,
        entry.service_line_id,
        entry.service_line.statement,
        missed,
        entry.pk,
    )


def _unlogged(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    waiting = unlogged_sessions(viewer, teacher, today)
    if waiting:
        count = "1 session waits" if len(waiting) == 1 else f"{len(waiting)} sessions wait"
        words = f"{count} to be logged, the oldest from {date_words(waiting[0].date)}."
        minutes = sum(one.minutes * len(one.waiting) for one in waiting)
        yield AttentionRow(Kind.UNLOGGED, words, waiting[0].date, minutes=minutes)


def _short(outlooks: Iterable[LineOutlook]) -> Iterator[AttentionRow]:
    for one in outlooks:
        seen = one.doubtful
        if seen is not None:
            yield AttentionRow(
                Kind.SHORT,
                outlook_words(seen),
                seen.until,
                one.student,
                one.line.pk,
                one.line.statement,
                seen.forecast.gap,
            )


def outlook_words(seen: Outlook) -> str:
    """An outlook in a sentence."""
    found = seen.forecast
    if found.gap:
        text = (
            f"{found.needed} minutes are needed by {seen.name} and {found.planned} are planned: {found.gap} short."
        )
    else:
        text = (
            f"At the past rate of missed sessions ({found.rate:.0%}) it ends short by {seen.name} with a "
            f"probability of {found.ends_short:.0%}."
        )
    if found.reserve is None:
        return f"{text} No realistic number of make-ups is enough: ask the plan's team."
    if found.reserve:
        return f"{text} Hold {'1 make-up' if found.reserve == 1 else f'{found.reserve} make-ups'} in reserve."
    return text


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
            yield AttentionRow(Kind.PLAN_ENDS, words, plan.end, plan.student)
        review = plan.annual_review
        if review is not None and review <= today + dt.timedelta(days=REVIEW_DAYS):
            when = "was due" if review < today else "is due"
            yield AttentionRow(Kind.REVIEW, f"The review {when} on {date_words(review)}.", review, plan.student)


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
    return AttentionRow(Kind.PROBLEM, one.problem, today, student.student, one.line.pk, one.line.statement)

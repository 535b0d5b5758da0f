"""A student's service record, and a teacher's month."""

import calendar
import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.delivery.rows import LedgerRow, LineLedger, StudentLedger
from caseload.ledger.figures import figures_together
from caseload.ledger.report_data import Cell, Chart, Report, ReportTable, step_chart
from caseload.plans.models import ServiceLine, Student
from schedule.log.selectors.ledger import ledgers_of, student_ledger
from schedule.reports.selectors.shared import FIGURES, figure_cells, made, rules_of, sums
from schedule.weeks.planning.load import district_of_teacher
from schedule.weeks.selectors.scope import teacher_require


def student_report(viewer: Person, student: Student, first: dt.date, last: dt.date, today: dt.date) -> Report:
    """A student's service record: figures up to `last`, and the sessions from `first` on.

    Raises `ApplicationError`: 404 for a student out of sight, ``dates_swapped``.
    """
    if last < first:
        raise ApplicationError("The last date is before the first.", code="dates_swapped")
    found = student_ledger(viewer, student, last)
    services = [_line_cells(one) for one in found.lines]
    tables = [
        ReportTable(
            "Services",
            ("Service", "Type", "Setting", "From", "To", *FIGURES),
            tuple(services),
            frozenset(range(5, 5 + len(FIGURES))),
        ),
        _periods(found, first),
        _sessions(found, first, last),
    ]
    district = found.student.district
    return Report(
        kind="student",
        key=f"student-{student.pk}-{last}",
        title="Service record",
        subject=f"{found.student.full_name} ({found.student.code})",
        facts=(
            ("School", str(found.student.building)),
            ("Grade", found.student.get_grade_display()),
            ("Dates", f"{span_words(first, last)}; figures are up to the last date"),
            made(viewer, today),
        ),
        tables=tuple(table for table in tables if table.rows),
        rules=rules_of(district, last),
        chart=_chart(found, last),
        notes=tuple(f"{one.line.statement}: {one.problem}" for one in found.lines if one.problem),
    )


def _line_cells(one: LineLedger) -> tuple[Cell, ...]:
    line = one.line
    return (
        line.statement,
        line.get_service_type_display(),
        line.get_setting_display(),
        line.start.isoformat(),
        line.end.isoformat(),
        *figure_cells(one.figures),
    )


def _periods(found: StudentLedger, first: dt.date) -> ReportTable:
    rows = [
        (
            one.line.statement,
            account.span.name,
            account.due,
            account.delivered + account.made_up,
            account.still_owed,
            " ".join(account.reasoning),
        )
        for one in found.lines
        if one.ledger is not None
        for account in one.ledger.periods
        if account.span.last >= first
    ]
    columns = ("Service", "Period", "Owed", "Delivered", "Still owed", "Reasoning")
    return ReportTable("Periods", columns, tuple(rows), frozenset({2, 3, 4}))


def _sessions(found: StudentLedger, first: dt.date, last: dt.date) -> ReportTable:
    dated = [
        (row, one.line)
        for one in found.lines
        for row in (*one.rows, *one.outside)
        if first <= row.record.day <= last
    ]
    dated.sort(key=lambda pair: (pair[0].record.day, pair[0].start or dt.time()))
    rows = tuple(_session_cells(row, line) for row, line in dated)
    columns = ("Date", "Service", "Planned", "Delivered", "Missed", "What happened")
    return ReportTable("Sessions", columns, rows, frozenset({2, 3, 4}))


def _session_cells(row: LedgerRow, line: ServiceLine) -> tuple[Cell, ...]:
    record = row.record
    if record.delivered is None:
        words = "not logged"
    elif record.missed:
        words = row.words or "no reason given"
    else:
        words = "as planned" if record.delivered == record.minutes else "more than planned"
    if record.makes_up:
        words = f"make-up, {words}"
    return (record.day.isoformat(), line.statement, record.minutes, record.delivered or 0, record.missed, words)


def _chart(found: StudentLedger, last: dt.date) -> Chart | None:
    """Direct services together; consultation counts apart."""
    lines = [one for one in found.lines if one.ledger is not None and not one.is_consultation]
    first = min((one.counts_from for one in lines), default=last)
    return step_chart(_owed_by(lines, last), _held_by(lines, last), first, last) if first < last else None


def _owed_by(lines: Iterable[LineLedger], last: dt.date) -> list[tuple[dt.date, int]]:
    """Minutes due by the end of each period."""
    ledgers = [one.ledger for one in lines if one.ledger is not None]
    return [(min(account.span.last, last), account.due) for ledger in ledgers for account in ledger.periods]


def _held_by(lines: Iterable[LineLedger], last: dt.date) -> list[tuple[dt.date, int]]:
    """Minutes delivered, by date."""
    rows = [row.record for one in lines for row in one.rows]
    return [(record.day, record.delivered or 0) for record in rows if record.day <= last]


# ---- a teacher's month -----------------------------------------------------------------------------------


@dataclass(slots=True)
class _Month:
    """What one student's sessions of a month add up to, in minutes."""

    planned: int = 0
    delivered: int = 0
    made_up: int = 0
    unlogged: int = 0
    missed: Counter[str] = field(default_factory=Counter)

    def add(self, row: LedgerRow) -> None:
        """Count one session."""
        record = row.record
        if record.makes_up:
            self.made_up += record.delivered or 0
            return
        self.planned += record.minutes
        self.delivered += record.delivered or 0
        self.unlogged += record.minutes if record.delivered is None else 0
        if record.missed:
            self.missed[row.words or "no reason given"] += record.missed


def teacher_report(viewer: Person, teacher: Person, month: dt.date, today: dt.date) -> Report:
    """A teacher's month: the sessions of each student's services in it, and what is still owed at its end."""
    teacher_require(viewer, teacher)
    district = district_of_teacher(teacher)
    first = month.replace(day=1)
    last = month.replace(day=calendar.monthrange(month.year, month.month)[1])
    until = min(last, max(today, first))
    lines = ServiceLine.objects.filter(provider=teacher, plan__student__district=district)
    lines = lines.owed_between(first, last)
    students = Student.objects.filter(plans__lines__in=lines).select_related("building__district").distinct()
    own = set(lines.values_list("pk", flat=True))
    rows: list[tuple[Cell, ...]] = []
    missed: Counter[str] = Counter()
    for found in ledgers_of(district, list(students), until):
        ledgers = [one for one in found.lines if one.line.pk in own]
        held = _Month()
        for one in ledgers:
            for row in (*one.rows, *one.outside):
                if first <= row.record.day <= until:
                    held.add(row)
        missed += held.missed
        figures = figures_together(one.figures for one in ledgers)
        rows.append(
            (
                found.student.code,
                f"{found.student.last_name}, {found.student.first_name}",
                held.planned,
                held.delivered,
                held.made_up,
                sum(held.missed.values()),
                held.unlogged,
                figures.behind,
            )
        )
    columns = (
        "Code",
        "Student",
        "Planned",
        "Delivered",
        "Made up",
        "Missed",
        "Not logged",
        "Still owed at the end",
    )
    return Report(
        kind="teacher",
        key=f"teacher-{teacher.pk}-{first:%Y-%m}",
        title="Teacher's month",
        subject=str(teacher),
        facts=(("Month", f"{first:%B %Y}"), ("Up to", date_words(until)), made(viewer, today)),
        tables=(
            ReportTable("Students", columns, tuple(rows), frozenset(range(2, 8)), sums(rows, 2)),
            ReportTable(
                "Missed minutes by reason", ("Reason", "Minutes"), tuple(missed.most_common()), frozenset({1})
            ),
        ),
        rules=rules_of(district, until),
    )

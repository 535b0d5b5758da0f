"""A student's service record, and a teacher's month."""

import calendar
import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import Q

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.delivery.in_force import in_force
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.rows import LedgerRow, LineLedger, StudentLedger
from caseload.delivery.words import in_turn, statements_in_turn
from caseload.ledger.compensatory import CompensatoryAccount
from caseload.ledger.figures import LedgerStretch, MinuteFigures, figures_together, ledger_since
from caseload.ledger.report_data import FIGURES, Cell, Chart, Report, ReportTable, step_chart
from caseload.plans.frequency import FrequencyError
from caseload.plans.models import ServiceLine, Student, enrollment_nearest
from caseload.plans.reviewed import dates_require, student_spans
from schedule.log.known import KnownOn
from schedule.log.selectors.ledger import ledgers_of, student_ledger
from schedule.reports.selectors.known import known_facts, known_notes
from schedule.reports.selectors.shared import figure_cells, made, rules_of, sums
from schedule.weeks.planning.load import district_of_teacher
from schedule.weeks.selectors.scope import teacher_require


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One service on a service record: whole periods from the record's first date on, and their sessions."""

    one: LineLedger
    since: LedgerStretch
    last: dt.date

    @property
    def rows(self) -> list[LedgerRow]:
        """The sessions that its figures are made of, in any order."""
        return [row for row in self.one.rows if self.since.first <= row.record.day <= self.last]

    @property
    def outside(self) -> list[LedgerRow]:
        """Sessions of its dates that no period counts."""
        return [row for row in self.one.outside if self.since.first <= row.record.day <= self.last]

    @property
    def versions(self) -> tuple[ServiceLine, ...]:
        """What was owed under in its dates: each version of the service that is in force on one of them."""
        return self.versions_between(self.since.first, self.last)

    @property
    def name(self) -> str:
        """The service by its statements, one after the other where it changed."""
        return statements_in_turn(self.versions)

    def versions_between(self, first: dt.date, last: dt.date) -> tuple[ServiceLine, ...]:
        """The versions that are in force on a day between two dates; the latest where none is."""
        found = tuple(one for one in self.one.versions if _meets(in_force(one), first, last))
        return found or (self.one.line,)

    def version_of(self, row: LedgerRow) -> ServiceLine:
        """The version that a session stood under."""
        return next((one for one in self.one.versions if one.pk == row.line_id), self.one.line)

    @property
    def made_up_before(self) -> int:
        """Minutes of its make-ups that went to what was open before."""
        made_up = sum(row.record.delivered or 0 for row in self.rows if row.record.makes_up)
        spare = self.one.ledger.spare_make_up if self.one.ledger is not None else 0
        return max(made_up - self.since.figures.made_up - spare, 0)


def _meets(days: tuple[dt.date, dt.date], first: dt.date, last: dt.date) -> bool:
    return days[0] <= last and first <= days[1]


def _read_as(line: ServiceLine) -> str:
    """What a statement is counted by; empty where its parts make no frequency, which a note says."""
    try:
        return line.read_as
    except FrequencyError:
        return ""


def _sheet(one: LineLedger, first: dt.date, last: dt.date) -> _Sheet:
    since = ledger_since(one.ledger, first) if one.ledger is not None else None
    return _Sheet(one, since or LedgerStretch(first, (), MinuteFigures(), 0), last)


def student_report(
    viewer: Person,
    student: Student,
    first: dt.date,
    last: dt.date,
    today: dt.date,
    known: KnownOn | None = None,
) -> Report:
    """A student's service record up to `last`, from the period that holds `first`, now or as `known`.

    Services, periods, sessions and chart are of the same whole periods, and agree to the minute; what was open
    before them is told apart. Raises `ApplicationError`: 404 for a student out of sight, ``dates_swapped``, and
    ``outside_review`` for dates that a reviewer doesn't see.
    """
    if last < first:
        raise ApplicationError("The last date is before the first.", code="dates_swapped")
    dates_require(viewer, student_spans(viewer, student), first, last)
    found = student_ledger(viewer, student, last, known)
    sheets = [_sheet(one, first, last) for one in found.lines]
    services = [_line_cells(sheet) for sheet in sheets]
    tables = [
        ReportTable(
            "Services",
            ("Service", "Read as", "Type", "Setting", "From", "To", *FIGURES),
            tuple(services),
            frozenset(range(6, 6 + len(FIGURES))),
        ),
        _terms(sheets),
        _open_before(sheets),
        _compensatory(found.compensatory),
        _periods(sheets),
        _sessions(sheets),
    ]
    district = found.student.district
    where = enrollment_nearest(found.student, last)
    return Report(
        kind="student",
        key=f"student-{student.pk}-{last}",
        title="Service record",
        subject=f"{found.student.full_name} ({found.student.code})",
        facts=(
            ("School", str(where.building)),
            ("Grade", where.get_grade_display()),
            ("Dates", f"{span_words(first, last)}; whole periods, figures up to the last date"),
            *known_facts(known),
            made(viewer, today),
        ),
        tables=tuple(table for table in tables if table.rows),
        rules=rules_of(district, last, known),
        chart=_chart(sheets, last),
        notes=(*known_notes(district, known), *_notes(sheets)),
    )


def _notes(sheets: Iterable[_Sheet]) -> Iterable[str]:
    """What the tables can't say by themselves."""
    for sheet in sheets:
        if sheet.one.problem:
            yield f"{sheet.name}: {sheet.one.problem}"
        if sheet.made_up_before:
            yield f"{sheet.name}: {sheet.made_up_before} minutes of make-ups went to what was open before."


def _line_cells(sheet: _Sheet) -> tuple[Cell, ...]:
    """A service with its figures: from the first day of its first version in the dates to the last of its last."""
    versions = sheet.versions
    return (
        sheet.name,
        in_turn(map(_read_as, versions)),
        in_turn(one.get_service_type_display() for one in versions),
        in_turn(one.get_setting_display() for one in versions),
        versions[0].start,
        versions[-1].end,
        *figure_cells(sheet.since.figures),
    )


def _terms(sheets: Iterable[_Sheet]) -> ReportTable:
    """What services that changed in the dates owe from when to when, and who gives them."""
    rows = [
        (
            one.statement,
            one.get_service_type_display(),
            one.get_setting_display(),
            one.start,
            one.end,
            str(one.provider),
            _read_as(one),
        )
        for sheet in sheets
        if len(sheet.versions) > 1
        for one in sheet.versions
    ]
    columns = ("Service", "Type", "Setting", "From", "To", "Provider", "Read as")
    return ReportTable("Services that changed", columns, tuple(rows))


def _open_before(sheets: Iterable[_Sheet]) -> ReportTable:
    rows = [(sheet.name, sheet.since.open_before) for sheet in sheets if sheet.since.open_before]
    return ReportTable("Open from before", ("Service", "Still owed"), tuple(rows), frozenset({1}))


def _compensatory(accounts: Iterable[CompensatoryAccount]) -> ReportTable:
    """What the team decided to give, an account of its own."""
    rows = [(one.decided_by, one.decided_on, one.until, one.minutes, one.given, one.left) for one in accounts]
    columns = ("Decided by", "Decided on", "To be given by", "Minutes", "Given", "Left")
    return ReportTable("Compensatory time", columns, tuple(rows), frozenset({3, 4, 5}))


def _periods(sheets: Iterable[_Sheet]) -> ReportTable:
    rows = [
        (
            statements_in_turn(sheet.versions_between(account.span.first, min(account.span.last, sheet.last))),
            account.span.name,
            account.due,
            account.delivered + account.made_up,
            account.still_owed,
            " ".join(account.reasoning),
        )
        for sheet in sheets
        for account in sheet.since.periods
    ]
    columns = ("Service", "Period", "Owed", "Delivered", "Still owed", "Reasoning")
    return ReportTable("Periods", columns, tuple(rows), frozenset({2, 3, 4}))


def _sessions(sheets: Iterable[_Sheet]) -> ReportTable:
    dated = [
        (row, sheet.version_of(row), counted)
        for sheet in sheets
        for rows, counted in ((sheet.rows, True), (sheet.outside, False))
        for row in rows
    ]
    dated.sort(key=lambda one: (one[0].record.day, one[0].start or dt.time()))
    people = Person.objects.in_bulk({row.provider_id for row, _, _ in dated if row.provider_id is not None})
    rows = tuple(
        (*_session_cells(row, line, counted=counted), _given_by(row, people)) for row, line, counted in dated
    )
    columns = ("Date", "Service", "Planned", "Delivered", "Missed", "What happened", "Given by")
    return ReportTable("Sessions", columns, rows, frozenset({2, 3, 4}))


def _given_by(row: LedgerRow, people: Mapping[int, Person]) -> str:
    """Who gave a session and under whom: its provider, if nobody said otherwise; empty if nothing was given."""
    if not row.record.delivered:
        return ""
    provider = people.get(row.provider_id or 0)
    entry = row.entry
    given = entry.given_by if entry is not None and entry.given_by else str(provider or "")
    return f"{given}, under {entry.given_under}" if entry is not None and entry.given_under else given


def _session_cells(row: LedgerRow, line: ServiceLine, *, counted: bool) -> tuple[Cell, ...]:
    record = row.record
    if record.delivered is None:
        words = "not logged"
    elif record.missed:
        words = row.words or "no reason given"
    else:
        words = "as planned" if record.delivered == record.minutes else "more than planned"
    words = f"make-up, {words}" if record.makes_up else words
    words = words if counted else f"{words}; not counted: no period of the service holds this day"
    return (record.day, line.statement, record.minutes, record.delivered or 0, record.missed, words)


def _chart(sheets: Iterable[_Sheet], last: dt.date) -> Chart | None:
    """Direct services together; consultation counts apart."""
    shown = [sheet for sheet in sheets if sheet.one.ledger is not None and not sheet.one.is_consultation]
    first = min((max(sheet.since.first, sheet.one.counts_from) for sheet in shown), default=last)
    return step_chart(_owed_by(shown, last), _held_by(shown), first, last) if first < last else None


def _owed_by(sheets: Iterable[_Sheet], last: dt.date) -> list[tuple[dt.date, int]]:
    """Minutes due by the end of each period."""
    return [(min(account.span.last, last), account.due) for sheet in sheets for account in sheet.since.periods]


def _held_by(sheets: Iterable[_Sheet]) -> list[tuple[dt.date, int]]:
    """Minutes delivered, by date."""
    return [(row.record.day, row.record.delivered or 0) for sheet in sheets for row in sheet.rows]


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


def _held_by_teacher(found: StudentLedger, teacher: Person, first: dt.date, last: dt.date) -> _Month:
    """The sessions between two dates that were this teacher's, whoever has the service since."""
    held = _Month()
    for one in found.lines:
        for row in (*one.rows, *one.outside):
            if first <= row.record.day <= last and row.provider_id == teacher.pk:
                held.add(row)
    return held


def teacher_report(
    viewer: Person, teacher: Person, month: dt.date, today: dt.date, known: KnownOn | None = None
) -> Report:
    """A teacher's month, now or as `known`: the sessions that were the teacher's, and what is owed at its end."""
    teacher_require(viewer, teacher)
    district = district_of_teacher(teacher)
    first = month.replace(day=1)
    last = month.replace(day=calendar.monthrange(month.year, month.month)[1])
    until = min(last, max(today, first))
    lines = ServiceLine.objects.filter(provider=teacher, plan__student__district=district)
    lines = lines.owed_between(first, last)
    given = DeliveryEntry.objects.filter(provider=teacher, student__district=district, date__range=(first, last))
    students = Student.objects.filter(Q(plans__lines__in=lines) | Q(pk__in=given.values("student")))
    students = students.select_related("building__district").distinct()
    rows: list[tuple[Cell, ...]] = []
    missed: Counter[str] = Counter()
    for found in ledgers_of(district, list(students), until, known):
        held = _held_by_teacher(found, teacher, first, until)
        missed += held.missed
        figures = figures_together(one.figures for one in found.lines if one.line.provider_id == teacher.pk)
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
        facts=(("Month", f"{first:%B %Y}"), ("Up to", date_words(until)), *known_facts(known), made(viewer, today)),
        tables=(
            ReportTable("Students", columns, tuple(rows), frozenset(range(2, 8)), sums(rows, 2)),
            ReportTable(
                "Missed minutes by reason", ("Reason", "Minutes"), tuple(missed.most_common()), frozenset({1})
            ),
        ),
        rules=rules_of(district, until, known),
        notes=known_notes(district, known),
    )

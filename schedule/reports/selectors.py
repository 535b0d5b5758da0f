"""Reports of minutes: a student's service record, a teacher's month, a building, a district.

Every number comes from the ledgers. Building and district go through their students a few hundred at a time, so
that memory doesn't grow with the district.
"""

import calendar
import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from django.db.models import QuerySet

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_YOUR_ROLE
from caseload.delivery.models import LedgerSettings
from caseload.delivery.rows import LedgerRow, LineLedger, StudentLedger
from caseload.delivery.selectors.log import reasons_of, settings_of
from caseload.delivery.words import EFFECT_WORDS
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.ledger.figures import MinuteFigures, figures_together
from caseload.ledger.report_data import Cell, Chart, Report, ReportTable, report_from_json, step_chart
from caseload.ledger.terms import SHORT_WEEK_WORDS, LedgerRules, ShortWeek
from caseload.plans.models import ServiceLine, Student
from schedule.log.selectors.ledger import ledgers_of, student_ledger
from schedule.reports.models import StoredReport
from schedule.weeks.planning.load import district_of_teacher
from schedule.weeks.selectors.scope import teacher_require
from travel.places.models import Building

CHUNK = 250
"""Students whose ledgers are worked out together."""

AT_ONCE = 500
"""With more students than this a district's report is made in the background."""

BEING_MADE = "The report of so many students is being worked out. Show it again in a minute or two."
ASK_FOR_IT = "The report of so many students takes a minute or two. Press “Work it out”, then show it again."

FIGURES = (
    "Owed",
    "Delivered",
    "Made up",
    "Missed",
    "Not owed",
    "Team decides",
    "Not logged",
    "Still owed",
    "Ahead",
)


def figure_cells(found: MinuteFigures) -> tuple[int, ...]:
    """Figures in the order of `FIGURES`."""
    return (
        found.owed,
        found.delivered,
        found.made_up,
        found.missed_minutes,
        found.not_owed,
        found.undecided,
        found.unlogged,
        found.behind,
        found.ahead,
    )


def rule_sentences(settings: LedgerSettings, rules: LedgerRules) -> tuple[str, ...]:
    """The rules in force, as they are printed on every report, and who decides."""
    days = settings.make_up_days
    sentences = [
        f"A short week owes: {SHORT_WEEK_WORDS[ShortWeek(settings.short_week)]}.",
        "Minutes above what a period owes "
        + ("count for other periods." if settings.carry_ahead else "are shown and never carried over."),
        f"Missed minutes should be made up within {days} days.",
    ]
    if settings.counts_from is not None:
        sentences.append(f"Minutes are counted from {date_words(settings.counts_from)}.")
    by_effect: dict[str, list[str]] = defaultdict(list)
    for code, effect in rules.effects.items():
        by_effect[EFFECT_WORDS[effect]].append(rules.words.get(code, code))
    sentences += [f"Missed and {words}: {', '.join(names)}." for words, names in by_effect.items()]
    return (*sentences, NO_JUDGMENT)


def _rules_of(district: District) -> tuple[str, ...]:
    settings = settings_of(district)
    return rule_sentences(settings, settings.rules(reasons_of(district)))


def _made(viewer: Person, today: dt.date) -> tuple[str, str]:
    return "Made", f"{date_words(today)} by {viewer}"


# ---- a student -------------------------------------------------------------------------------------------


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
            _made(viewer, today),
        ),
        tables=tuple(table for table in tables if table.rows),
        rules=rule_sentences(settings_of(district), found.rules),
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
    owed = [
        (min(account.span.last, last), account.due)
        for one in lines
        if one.ledger is not None
        for account in one.ledger.periods
    ]
    held = [
        (row.record.day, row.record.delivered or 0) for one in lines for row in one.rows if row.record.day <= last
    ]
    first = min((one.counts_from for one in lines), default=last)
    return step_chart(owed, held, first, last) if first < last else None


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
        facts=(("Month", f"{first:%B %Y}"), ("Up to", date_words(until)), _made(viewer, today)),
        tables=(
            ReportTable("Students", columns, tuple(rows), frozenset(range(2, 8)), _sums(rows, 2)),
            ReportTable(
                "Missed minutes by reason", ("Reason", "Minutes"), tuple(missed.most_common()), frozenset({1})
            ),
        ),
        rules=_rules_of(district),
    )


def _sums(rows: Sequence[tuple[Cell, ...]], texts: int) -> tuple[Cell, ...]:
    """The last row: "Together" and the sums of the columns after the first `texts`."""
    if not rows:
        return ()
    width = len(rows[0])
    sums = [sum(int(row[at]) for row in rows) for at in range(texts, width)]
    return ("Together", *[""] * (texts - 1), *sums)


# ---- many students ---------------------------------------------------------------------------------------


def ledgers_in_chunks(district: District, students: QuerySet[Student], as_of: dt.date) -> Iterator[StudentLedger]:
    """Ledgers of many students, some hundreds at a time."""
    ids = list(students.order_by("building__code", "code").values_list("pk", flat=True).distinct())
    for at in range(0, len(ids), CHUNK):
        rows = Student.objects.filter(pk__in=ids[at : at + CHUNK]).select_related("building__district")
        yield from ledgers_of(district, list(rows.order_by("building__code", "code")), as_of)


def building_report(viewer: Person, building: Building, as_of: dt.date, today: dt.date) -> Report:
    """Every student of a building whom the viewer may see, up to a date."""
    students = Student.objects.visible_to(viewer).filter(building=building)
    rows: list[tuple[Cell, ...]] = []
    for found in ledgers_in_chunks(building.district, students, as_of):
        name = f"{found.student.last_name}, {found.student.first_name}"
        if any(not one.is_consultation for one in found.lines):
            rows.append((found.student.code, name, "Direct", *figure_cells(found.direct)))
        if any(one.is_consultation for one in found.lines):
            rows.append((found.student.code, name, "Consultation", *figure_cells(found.consultation)))
    columns = ("Code", "Student", "Type", *FIGURES)
    numbers = frozenset(range(3, 3 + len(FIGURES)))
    return Report(
        kind="building",
        key=f"building-{building.pk}-{as_of}",
        title="Building",
        subject=building.name,
        facts=(("Up to", date_words(as_of)), _made(viewer, today)),
        tables=(ReportTable("Students", columns, tuple(rows), numbers, _sums(rows, 3)),),
        rules=_rules_of(building.district),
        notes=() if viewer.is_coordinator else ("Only students of your own caseload are counted.",),
    )


def district_report(viewer: Person, as_of: dt.date, today: dt.date) -> Report:
    """A district by building and by teacher, up to a date. For coordinators; raises `ApplicationError` (403)."""
    district = viewer.district
    if district is None or not viewer.is_coordinator:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    by_building: dict[tuple[str, int], _Group] = defaultdict(_Group)
    by_teacher: dict[tuple[str, int], _Group] = defaultdict(_Group)
    for found in ledgers_in_chunks(district, Student.objects.visible_to(viewer), as_of):
        building = found.student.building
        by_building[building.name, building.pk].add(found.student.pk, (one.figures for one in found.lines))
        for one in found.lines:
            teacher = one.line.provider
            by_teacher[str(teacher), teacher.pk].add(found.student.pk, [one.figures])
    return Report(
        kind="district",
        key=f"district-{as_of}",
        title="District",
        subject=district.name,
        facts=(("Up to", date_words(as_of)), _made(viewer, today)),
        tables=(_grouped("Buildings", by_building), _grouped("Teachers", by_teacher)),
        rules=_rules_of(district),
    )


@dataclass(slots=True)
class _Group:
    """Figures of several students together."""

    figures: MinuteFigures = field(default_factory=MinuteFigures)
    students: set[int] = field(default_factory=set)
    behind: set[int] = field(default_factory=set)

    def add(self, student: int, figures: Iterable[MinuteFigures]) -> None:
        """Count a student's services."""
        mine = figures_together(figures)
        self.figures += mine
        self.students.add(student)
        if mine.behind > mine.unlogged:
            self.behind.add(student)


def _grouped(title: str, groups: dict[tuple[str, int], _Group]) -> ReportTable:
    rows: list[tuple[Cell, ...]] = [
        (name, len(one.students), len(one.behind), *figure_cells(one.figures))
        for (name, _), one in sorted(groups.items())
    ]
    columns = (title, "Students", "Students behind", *FIGURES)
    return ReportTable(title, columns, tuple(rows), frozenset(range(1, len(columns))), _sums(rows, 1))


# ---- a large district ------------------------------------------------------------------------------------


def district_is_large(viewer: Person) -> bool:
    """Whether the district's report takes too long for one page."""
    return Student.objects.visible_to(viewer).count() > AT_ONCE


def stored_report(viewer: Person, as_of: dt.date) -> StoredReport | None:
    """The newest report up to a date that was asked for in the background, made or not."""
    return StoredReport.objects.visible_to(viewer).filter(as_of=as_of).select_related("job").first()


def district_report_shown(viewer: Person, as_of: dt.date, today: dt.date) -> Report:
    """A district's report: worked out at once, or for a large district what was made in the background.

    Raises `ApplicationError` (403) for anybody but a coordinator, ``ask_for_it`` and ``being_made``.
    """
    if not viewer.is_coordinator or not district_is_large(viewer):
        return district_report(viewer, as_of, today)
    stored = stored_report(viewer, as_of)
    if stored is not None and stored.content:
        return report_from_json(stored.content)
    if stored is not None and not stored.job.is_over:
        raise ApplicationError(BEING_MADE, code="being_made")
    raise ApplicationError(ASK_FOR_IT, code="ask_for_it")

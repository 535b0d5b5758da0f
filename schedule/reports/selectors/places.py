"""Reports of a building and of a district.

Both go through their students a few hundred at a time, so that memory doesn't grow with the district.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_YOUR_ROLE
from caseload.delivery.rows import StudentLedger
from caseload.ledger.figures import MinuteFigures, figures_together
from caseload.ledger.report_data import FIGURES, Cell, Report, ReportTable, report_from_json
from caseload.plans.enrollment.selectors import enrollments_known, students_at
from caseload.plans.models import Student, enrollment_nearest
from caseload.plans.reviewed import building_spans, dates_require
from schedule.log.known import KnownOn
from schedule.log.selectors.ledger import ledgers_of
from schedule.reports.models import StoredReport
from schedule.reports.selectors.known import known_facts, known_notes
from schedule.reports.selectors.shared import figure_cells, made, rules_of, sums
from travel.places.models import Building

CHUNK = 250
"""Students whose ledgers are worked out together."""

AT_ONCE = 500
"""With more students than this a district's report is made in the background."""

BEING_MADE = "The report of so many students is being worked out. Show it again in a minute or two."
OWN_ONLY = "Only students of your own caseload are counted."
ASK_FOR_IT = "The report of so many students takes a minute or two. Press “Work it out”, then show it again."


def ledgers_in_chunks(
    district: District, students: QuerySet[Student], as_of: dt.date, known: KnownOn | None = None
) -> Iterator[StudentLedger]:
    """Ledgers of many students, some hundreds at a time."""
    ids = list(students.order_by("building__code", "code").values_list("pk", flat=True).distinct())
    for at in range(0, len(ids), CHUNK):
        rows = Student.objects.filter(pk__in=ids[at : at + CHUNK]).select_related("building__district")
        rows = rows.prefetch_related("enrollments__building")
        yield from ledgers_of(district, list(rows.order_by("building__code", "code")), as_of, known)


def building_report(
    viewer: Person, building: Building, as_of: dt.date, today: dt.date, known: KnownOn | None = None
) -> Report:
    """Every student of a building whom the viewer may see, up to a date, now or as `known`.

    Raises `ApplicationError` (``outside_review``) for a date that a reviewer doesn't see.
    """
    dates_require(viewer, building_spans(viewer, building), as_of, as_of)
    students = _students_of(viewer, building, as_of, known)
    rows: list[tuple[Cell, ...]] = []
    for found in ledgers_in_chunks(building.district, students, as_of, known):
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
        facts=(("Up to", date_words(as_of)), *known_facts(known), made(viewer, today)),
        tables=(ReportTable("Students", columns, tuple(rows), numbers, sums(rows, 3)),),
        rules=rules_of(building.district, as_of, known),
        notes=(*known_notes(building.district, known), *_only(viewer)),
    )


def _only(viewer: Person) -> tuple[str, ...]:
    """Whom a building's report counts, where that isn't everybody."""
    return () if viewer.is_coordinator or viewer.is_reviewer else (OWN_ONLY,)


def _students_of(viewer: Person, building: Building, as_of: dt.date, known: KnownOn | None) -> QuerySet[Student]:
    """The viewer's students at a building on a date, now or as `known`."""
    students = Student.objects.visible_to(viewer)
    if known is None:
        return students.filter(students_at(building.pk, as_of, as_of))
    then = enrollments_known(building.district, set(students.values_list("pk", flat=True)), known.moment)
    there = [
        student
        for student, rows in then.items()
        for one in rows
        if one.building_id == building.pk and as_of in one.stay
    ]
    return students.filter(Q(pk__in=there) | Q(enrollments__isnull=True, building=building))


def district_report(viewer: Person, as_of: dt.date, today: dt.date, known: KnownOn | None = None) -> Report:
    """A district by building and by teacher, up to a date. For coordinators; raises `ApplicationError` (403)."""
    district = viewer.district
    if district is None or not viewer.is_coordinator:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    by_building: dict[tuple[str, int], _Group] = defaultdict(_Group)
    by_teacher: dict[tuple[str, int], _Group] = defaultdict(_Group)
    for found in ledgers_in_chunks(district, Student.objects.visible_to(viewer), as_of, known):
        building = enrollment_nearest(found.student, as_of).building
        by_building[building.name, building.pk].add(found.student.pk, (one.figures for one in found.lines))
        for one in found.lines:
            teacher = one.line.provider
            by_teacher[str(teacher), teacher.pk].add(found.student.pk, [one.figures])
    return Report(
        kind="district",
        key=f"district-{as_of}",
        title="District",
        subject=district.name,
        facts=(("Up to", date_words(as_of)), *known_facts(known), made(viewer, today)),
        tables=(_grouped("Buildings", by_building), _grouped("Teachers", by_teacher)),
        rules=rules_of(district, as_of, known),
        notes=known_notes(district, known),
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
        if mine.is_open:
            self.behind.add(student)


def _grouped(title: str, groups: dict[tuple[str, int], _Group]) -> ReportTable:
    rows: list[tuple[Cell, ...]] = [
        (name, len(one.students), len(one.behind), *figure_cells(one.figures))
        for (name, _), one in sorted(groups.items())
    ]
    columns = (title, "Students", "Students behind", *FIGURES)
    return ReportTable(title, columns, tuple(rows), frozenset(range(1, len(columns))), sums(rows, 1))


# ---- a large district ------------------------------------------------------------------------------------


def district_is_large(viewer: Person) -> bool:
    """Whether the district's report takes too long for one page."""
    return Student.objects.visible_to(viewer).count() > AT_ONCE


def stored_report(viewer: Person, as_of: dt.date, known: KnownOn | None = None) -> StoredReport | None:
    """The newest report up to a date, now or as `known`, that was asked for in the background, made or not."""
    rows = StoredReport.objects.visible_to(viewer).filter(as_of=as_of, known=known.day if known else None)
    return rows.select_related("job").first()


def district_report_shown(viewer: Person, as_of: dt.date, today: dt.date, known: KnownOn | None = None) -> Report:
    """A district's report: worked out at once, or for a large district what was made in the background.

    Raises `ApplicationError` (403) for anybody but a coordinator, ``ask_for_it`` and ``being_made``.
    """
    if not viewer.is_coordinator or not district_is_large(viewer):
        return district_report(viewer, as_of, today, known)
    stored = stored_report(viewer, as_of, known)
    if stored is not None and stored.content:
        return report_from_json(stored.content)
    if stored is not None and not stored.job.is_over:
        raise ApplicationError(BEING_MADE, code="being_made")
    raise ApplicationError(ASK_FOR_IT, code="ask_for_it")

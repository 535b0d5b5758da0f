"""Reads who saw what, for whoever answers for the district."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from accounts.models import Person
from accounts.services import permission_require
from caseload.access.models import Access
from caseload.care.models import CareView
from caseload.care.selectors.seen import page_words
from caseload.plans.models import Student
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames

PERMISSION = "access.view"
MOST = 1000
"""Lines on a page, and of one kind; the file has all."""
NO_ROLE = "none"
"""Asks for what stands in no role: a calendar fetched, a sign-in refused, and what came before roles were kept."""
WORDS = {
    "accesses": "who saw what",
    "care_views": "what substitutes saw",
    "goal_list": "a student’s goals",  # noqa: RUF001 -- as pages write it
    "goal_detail": "a goal with its data",
    "log_entry": "an entry of the log",
    "log_month": "a month of the log",
    "log_months": "months of the log",
    "make_ups": "minutes to make up",
    "mileage": "mileage",
    "plan": "planning",
    "progress_report": "a progress report",
    "progress_reports": "progress reports",
    "report_home": "the list of reports",
    "team_decisions": "decisions of plans’ teams",  # noqa: RUF001 -- as above
    "log": "a day of the log",
    "log_session": "a session of the log",
    "log_correct": "a correction of the log",
    "week": "a week",
    "week_edit": "a week",
    "week_print": "a week, to print",
    "week_version": "a week",
    "workload": "workloads",
    "student_list": "the list of students",
    "students_found": "students found by name or code",
    "student_detail": "a student’s page",  # noqa: RUF001 -- as pages write it
    "student_archive": "everything kept about a student",
    "student_ledger": "a student’s minutes",  # noqa: RUF001 -- as above
    "import_export": "a table of the district",
    "report_student": "the report of a student",
    "report_teacher": "the report of a teacher",
    "report_building": "the report of a building",
    "report_district": "the district’s report",  # noqa: RUF001 -- as above
    "report_sessions": "sessions with every version of their log",
    "progress_report_print": "a progress report",
    "feed_file": "a calendar as a file",
    "attention": "who needs attention",
    "voucher_file": "a mileage voucher",
}


@dataclass(frozen=True, slots=True)
class AccessAsked:
    """Which accesses: between two dates, by somebody, about one student, of one kind, in one role; None for all."""

    first: dt.date
    last: dt.date
    person: Person | None = None
    student: Student | None = None
    kind: str = ""
    role: str = ""


@dataclass(frozen=True, slots=True)
class AccessLine:
    """Who, when, what, whom and why, in words."""

    at: dt.datetime
    who: str
    role: str
    done: str
    what: str
    students: tuple[str, ...]
    count: int
    why: str

    @property
    def whom(self) -> str:
        """The students by name, or how many."""
        return ", ".join(self.students) or (f"{self.count} students" if self.count else "")


def accesses(viewer: Person, asked: AccessAsked) -> list[AccessLine]:
    """Accesses of the viewer's district, the latest first; what substitutes were shown of care among them."""
    permission_require(viewer, PERMISSION)
    rows = _found(viewer, asked)
    cared = _cared(viewer, asked)
    ids = {pk.pk for row in rows for pk in row.students.all()} | {one.student_id for one in cared}
    names = student_names(viewer, among=ids)
    lines = [_line(row, names) for row in rows] + [_cared_line(one, names) for one in cared]
    return sorted(lines, key=lambda one: one.at, reverse=True)


def _bounds(asked: AccessAsked) -> tuple[dt.datetime, dt.datetime]:
    zone = timezone.get_current_timezone()
    begin = dt.datetime.combine(asked.first, dt.time(), zone)
    return begin, dt.datetime.combine(asked.last + dt.timedelta(days=1), dt.time(), zone)


def _found(viewer: Person, asked: AccessAsked) -> QuerySet[Access]:
    begin, end = _bounds(asked)
    rows = Access.objects.visible_to(viewer).filter(at__gte=begin, at__lt=end)
    if asked.person is not None:
        rows = rows.filter(person=asked.person)
    if asked.student is not None:
        wide = Q(count__gt=0, students=None)
        rows = rows.filter(Q(students=asked.student) | wide)
    if asked.kind:
        rows = rows.filter(kind=asked.kind)
    if asked.role:
        rows = rows.filter(role="" if asked.role == NO_ROLE else asked.role)
    return rows.select_related("person").prefetch_related("students")


def _cared(viewer: Person, asked: AccessAsked) -> Sequence[CareView]:
    if asked.kind not in {"", Access.Kind.VIEW} or asked.role not in {"", Person.Role.SUBSTITUTE}:
        return []
    begin, end = _bounds(asked)
    rows = CareView.objects.visible_to(viewer).filter(seen_at__gte=begin, seen_at__lt=end)
    if asked.person is not None:
        rows = rows.filter(viewer=asked.person)
    if asked.student is not None:
        rows = rows.filter(student=asked.student)
    return list(rows.select_related("viewer", "student"))


def _line(row: Access, names: StudentNames) -> AccessLine:
    students = tuple(sorted(names.full.get(one.pk) or one.code for one in row.students.all()))
    what = WORDS.get(row.page) or (page_words(row.page) if row.page else "")
    about = f"{what} ({row.about})" if what and row.about else what or row.about
    did = row.get_kind_display()
    return AccessLine(row.at, str(row.person), row.role_words, did, about, students, row.count, row.why)


def _cared_line(row: CareView, names: StudentNames) -> AccessLine:
    name = names.full.get(row.student_id) or row.student.code
    what = f"{page_words(row.page)}, with supports, cautions or contacts"
    role = Person.Role.SUBSTITUTE.label
    why = "stands in for their teacher"
    return AccessLine(row.seen_at, str(row.viewer), role, Access.Kind.VIEW.label, what, (name,), 1, why)

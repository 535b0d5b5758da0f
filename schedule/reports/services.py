"""Reports that leave the program as files: each is written down with who, when, what and, if given, why.

34 CFR 99.32 asks for a record of each disclosure.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import models, transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.files import FILE_TYPES
from accounts.models import AuditEntry, District, Person
from accounts.selectors import today_of, working_as
from accounts.services import NOT_THERE, NOT_YOUR_ROLE, audit_write, permission_require
from caseload.ledger.report_data import Report, report_to_json
from caseload.plans.models import Student
from jobs.services import job_add
from schedule.log.known import KnownOn, known_on
from schedule.reports.archive import archive_file
from schedule.reports.files import report_file, report_file_name, session_file
from schedule.reports.models import StoredReport
from schedule.reports.selectors.archive import student_tables
from schedule.reports.selectors.places import district_report
from schedule.reports.selectors.sessions import session_rows

KIND = "district_report"
EXPORTED = "report_export"
LONGEST_WHY = 300
WHY_MISSING = "Say for whom the file is made, and why: it holds the notes of students' records."

ABOUT = (
    "This is everything that the program keeps about the student, one table below the other.",
    "Each table is also a CSV file beside this page. Nothing else is needed to read it.",
    "The student's plan, and the school's own records, decide where they say otherwise.",
)


@dataclass(frozen=True, slots=True)
class ReportFile:
    """A file to be sent."""

    name: str
    content_type: str
    content: bytes


def report_export(
    *, actor: Person, district: District, subject: models.Model, report: Report, form: str, why: str = ""
) -> ReportFile:
    """Make the file of a report that the actor has been shown, and write the disclosure down.

    `subject` is the row that the report is about. Raises `ApplicationError`: ``unknown_form``, ``why_too_long``, or
    ``no_pdf`` where PDF can't be made; then nothing is written down.
    """
    if form not in FILE_TYPES:
        raise ApplicationError("Choose PDF, XLSX or CSV.", code="unknown_form", status=400)
    _why_require(why)
    content = report_file(report, form)
    audit_write(
        actor=actor,
        district=district,
        action=EXPORTED,
        row=subject,
        changes={"report": [None, report.key], "form": [None, form], "why": [None, why]},
    )
    return ReportFile(report_file_name(report, form), FILE_TYPES[form], content)


def session_file_export(
    *, actor: Person, first: dt.date, last: dt.date, teacher: Person | None, form: str, why: str
) -> ReportFile:
    """The auditor's file of the district, or of one teacher's services, and a record of who had it made and why.

    Raises `ApplicationError`: 403 for anybody but a coordinator, 404 for a teacher of another district,
    ``unknown_form``, ``why_missing``, ``why_too_long``, and what `session_rows` raises; then nothing is recorded.
    """
    district = _district_require(actor)
    if teacher is not None and teacher.district_id != district.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if form not in ("csv", "xlsx"):
        raise ApplicationError("Choose XLSX or CSV.", code="unknown_form", status=400)
    if not why.strip():
        raise ApplicationError(WHY_MISSING, code="why_missing")
    _why_require(why)
    rows = session_rows(actor, first, last, teacher)
    key = f"sessions-{first}-{last}" + (f"-teacher-{teacher.pk}" if teacher is not None else "")
    audit_write(
        actor=actor,
        district=district,
        action=EXPORTED,
        row=teacher or district,
        changes={
            "report": [None, key],
            "form": [None, form],
            "why": [None, why.strip()],
            "rows": [None, len(rows)],
        },
    )
    return ReportFile(f"{key}.{form}", FILE_TYPES[form], session_file(rows, form))


def student_archive(*, actor: Person, student: Student, why: str) -> ReportFile:
    """A zip with a page and a CSV file a table, of all rows about a student.

    Raises `ApplicationError`: ``why_missing``, ``why_too_long``, 403 for the role, 404 for a student out of sight;
    then nothing is written down.
    """
    permission_require(actor, "caseload.change")
    if not Student.objects.changeable_by(actor).filter(pk=student.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not why.strip():
        raise ApplicationError(WHY_MISSING, code="why_missing")
    _why_require(why)
    made_on = f"Made on {date_words(today_of(actor))} by {actor}."
    tables = [(one.name, one.title, one.headers, one.rows) for one in student_tables(student)]
    content = archive_file(f"Records of {student.full_name}", [made_on, *ABOUT], tables)
    key = f"student-{student.pk}-everything"
    audit_write(
        actor=actor,
        district=student.district,
        action=EXPORTED,
        row=student,
        changes={"report": [None, key], "form": [None, "zip"], "why": [None, why.strip()]},
    )
    return ReportFile(f"{key}.zip", "application/zip", content)


def _why_require(why: str) -> None:
    if len(why) > LONGEST_WHY:
        raise ApplicationError(f"Say why in at most {LONGEST_WHY} characters.", code="why_too_long")


def district_report_start(*, actor: Person, as_of: dt.date, known: KnownOn | None = None) -> StoredReport:
    """Ask for a district's report, now or as `known`, in the background; asking again meanwhile gives the same one.

    Raises `ApplicationError` (403) for anybody but a coordinator.
    """
    district = _district_require(actor)
    day = known.day if known is not None else None
    key = f"{KIND}:{district.pk}:{as_of}" + (f":{day}" if day else "")
    with transaction.atomic():
        payload = {"district": district.pk, "as_of": as_of, "known": day}
        job = job_add(kind=KIND, payload=payload, district=district.pk, unique_key=key)
        row, added = StoredReport.objects.get_or_create(
            job=job, defaults={"district": district, "as_of": as_of, "known": day, "requested_by": actor}
        )
        if added:
            audit_write(actor=actor, district=district, action="district_report_start", row=row)
    return row


def district_report_make(*, job_id: str, report: Callable[[Mapping[str, Any]], None]) -> dict[str, Any]:
    """Work a district's report out; writes nothing. Raises `ApplicationError` where it was deleted in the
    meantime."""
    row = StoredReport.objects.select_related("requested_by__district", "district").filter(job_id=job_id).first()
    if row is None:
        raise ApplicationError("The report that this work belonged to was deleted.", code="gone")
    report({"message": "Adding up the students' ledgers.", "percent": 1})
    known = known_on(row.known, row.district.time_zone) if row.known is not None else None
    asked = working_as(row.requested_by, Person.Role.COORDINATOR)
    made = district_report(asked, row.as_of, today_of(asked), known)
    return report_to_json(made)


def district_report_save(*, job_id: str, content: Mapping[str, Any]) -> None:
    """Keep what was worked out; call it inside a transaction."""
    StoredReport.objects.filter(job_id=job_id).update(content=dict(content))


def _district_require(actor: Person) -> District:
    if actor.district is None or not actor.is_coordinator:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    return actor.district


def exports_of(viewer: Person, most: int = 50) -> list[AuditEntry]:
    """The latest files that left the program: all of the district for a coordinator, else one's own."""
    rows = AuditEntry.objects.visible_to(viewer).filter(action=EXPORTED).select_related("actor")
    return list(rows[:most])

"""Reports that leave the program as files: each is written down with who, when, what and, if given, why.

34 CFR 99.32 asks for a record of each disclosure.
"""

from dataclasses import dataclass

from django.db import models

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District, Person
from accounts.services import audit_write
from caseload.report_data import Report
from schedule.report_files import TYPES, report_file, report_file_name

EXPORTED = "report_export"
LONGEST_WHY = 300


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
    if form not in TYPES:
        raise ApplicationError("Choose PDF, XLSX or CSV.", code="unknown_form", status=400)
    if len(why) > LONGEST_WHY:
        raise ApplicationError(f"Say why in at most {LONGEST_WHY} characters.", code="why_too_long")
    content = report_file(report, form)
    audit_write(
        actor=actor,
        district=district,
        action=EXPORTED,
        row=subject,
        changes={"report": [None, report.key], "form": [None, form], "why": [None, why]},
    )
    return ReportFile(report_file_name(report, form), TYPES[form], content)


def exports_of(viewer: Person, most: int = 50) -> list[AuditEntry]:
    """The latest files that left the program: all of the district for a coordinator, else one's own."""
    rows = AuditEntry.objects.visible_to(viewer).filter(action=EXPORTED).select_related("actor")
    return list(rows[:most])

"""A signed progress report leaves the program: who took it, when, in which version and why is written down.

34 CFR 99.32 asks for a record of each disclosure.
"""

import datetime as dt
from collections.abc import Callable

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.files import FILE_TYPES
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require
from schedule.reports.services import EXPORTED, LONGEST_WHY, ReportFile
from schedule.telling.models import ProgressReport
from schedule.telling.services.reports import WRITE

NOT_SIGNED = "This report isn't signed. Read each part, sign it, and print it then: nothing leaves unread."
AUDIENCES = ("team", "family")


def report_send[T](
    *, actor: Person, report: ProgressReport, audience: str, why: str, make: Callable[[], T], form: str
) -> T:
    """What is to leave, made by `make`, if the report is signed; written down once it is made.

    Raises `ApplicationError`: 403, 404, ``not_signed``, ``why_too_long``, and what `make` raises.
    """
    permission_require(actor, WRITE)
    if not ProgressReport.objects.changeable_by(actor).filter(pk=report.pk).exists() or audience not in AUDIENCES:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not report.is_signed:
        raise ApplicationError(NOT_SIGNED, code="not_signed")
    if len(why) > LONGEST_WHY:
        raise ApplicationError(f"Say why in at most {LONGEST_WHY} characters.", code="why_too_long")
    with transaction.atomic():
        made = make()
        changes = {
            "report": [None, f"progress-{report.pk}-{audience}"],
            "form": [None, form],
            "why": [None, why.strip()],
        }
        audit_write(actor=actor, district=report.district, action=EXPORTED, row=report, changes=changes)
    return made


def pdf_file(report: ProgressReport, audience: str, content: bytes) -> ReportFile:
    """The PDF under a name of ids and dates."""
    name = f"progress-{report.pk}-{audience}-{dt.date.isoformat(report.last_day)}.pdf"
    return ReportFile(name, FILE_TYPES["pdf"], content)

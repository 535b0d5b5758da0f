"""Supports and cautions of a student, written down as the student's own record has them."""

from caseload.care.models import Caution, Support
from caseload.care.written import ON_RECORD
from caseload.plans.models import Student


def write_care(student: Student, *, supports: str = "", cautions: str = "") -> None:
    """One text each, in place of the one before; empty for none."""
    for model, text in ((Support, supports), (Caution, cautions)):
        model.objects.filter(student=student, source=ON_RECORD).delete()
        if text:
            model.objects.create(student=student, text=text, source=ON_RECORD)

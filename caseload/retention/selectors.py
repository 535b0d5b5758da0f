"""Reads of what was erased."""

from accounts.models import Person
from caseload.retention.models import ErasedRows
from caseload.retention.schedule import PLANS, STUDENTS


def logs_erased(teacher: Person) -> frozenset[int]:
    """Ids of the students of the teacher's district whose log was erased. One query."""
    rows = ErasedRows.objects.filter(district=teacher.district, kind__in=(STUDENTS, PLANS))
    return frozenset(one for one in rows.values_list("student_number", flat=True) if one is not None)

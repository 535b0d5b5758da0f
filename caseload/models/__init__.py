"""Tables of the caseload floor."""

from caseload.models.plan import Plan, ServiceLine
from caseload.models.school_class import SchoolClass
from caseload.models.student import Student, StudentHold

__all__ = ["Plan", "SchoolClass", "ServiceLine", "Student", "StudentHold"]

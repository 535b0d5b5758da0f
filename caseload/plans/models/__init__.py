"""Tables of students, plans and classes."""

from caseload.plans.models.plan import Plan, ServiceLine
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.models.service import ContinuingService
from caseload.plans.models.student import Student, StudentHold

__all__ = ["ContinuingService", "Plan", "SchoolClass", "ServiceLine", "Student", "StudentHold"]

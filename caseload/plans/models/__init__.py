"""Tables of students, plans and classes."""

from caseload.plans.models.enrollment import (
    CaseloadAssignment,
    Enrollment,
    enrollment_nearest,
    enrollment_on,
    enrollments_of,
    stays_of,
)
from caseload.plans.models.plan import Plan, ServiceLine
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.models.service import ContinuingService
from caseload.plans.models.student import Student, StudentHold

__all__ = [
    "CaseloadAssignment",
    "ContinuingService",
    "Enrollment",
    "Plan",
    "SchoolClass",
    "ServiceLine",
    "Student",
    "StudentHold",
    "enrollment_nearest",
    "enrollment_on",
    "enrollments_of",
    "stays_of",
]

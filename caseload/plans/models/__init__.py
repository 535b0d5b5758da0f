"""Tables of students, plans and classes."""

from caseload.plans.models.enrollment import (
    DATED,
    CaseloadAssignment,
    Enrollment,
    caseload_teacher_on,
    enrollment_nearest,
    enrollment_on,
    enrollments_of,
    enrollments_shown,
    stays_of,
)
from caseload.plans.models.plan import Plan, ServiceLine
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.models.service import ContinuingService
from caseload.plans.models.student import Student, StudentHold

__all__ = [
    "DATED",
    "CaseloadAssignment",
    "ContinuingService",
    "Enrollment",
    "Plan",
    "SchoolClass",
    "ServiceLine",
    "Student",
    "StudentHold",
    "caseload_teacher_on",
    "enrollment_nearest",
    "enrollment_on",
    "enrollments_of",
    "enrollments_shown",
    "stays_of",
]

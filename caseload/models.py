"""Tables of the caseload floor."""

from caseload.access.models import Access
from caseload.care.models import CareSettings, Caution, CautionTag, Contact, Support, Try
from caseload.delivery.models.compensatory import CompensatoryTime
from caseload.delivery.models.delivery import DeliveryEntry, DeliveryVersion, TeamDecision
from caseload.delivery.models.rules import LedgerSettings, MissedReason, ReasonEffect
from caseload.months.models import LogMonth, LogMonthAct, LogMonthRules
from caseload.plans.models.enrollment import CaseloadAssignment, Enrollment
from caseload.plans.models.plan import Plan, ServiceLine
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.models.service import ContinuingService
from caseload.plans.models.student import Student, StudentHold
from caseload.progress.models import DataPoint, GoalRules, PhaseChange, StudentGoal
from caseload.retention.models import (
    ErasedRows,
    ErasureHold,
    ErasureRun,
    ParentsWord,
    PermanentRecord,
    RetentionRule,
)
from caseload.teams.models import Team

__all__ = [
    "Access",
    "CareSettings",
    "CaseloadAssignment",
    "Caution",
    "CautionTag",
    "CompensatoryTime",
    "Contact",
    "ContinuingService",
    "DataPoint",
    "DeliveryEntry",
    "DeliveryVersion",
    "Enrollment",
    "ErasedRows",
    "ErasureHold",
    "ErasureRun",
    "GoalRules",
    "LedgerSettings",
    "LogMonth",
    "LogMonthAct",
    "LogMonthRules",
    "MissedReason",
    "ParentsWord",
    "PermanentRecord",
    "PhaseChange",
    "Plan",
    "ReasonEffect",
    "RetentionRule",
    "SchoolClass",
    "ServiceLine",
    "Student",
    "StudentGoal",
    "StudentHold",
    "Support",
    "Team",
    "TeamDecision",
    "Try",
]

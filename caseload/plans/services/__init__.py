"""Writes of the room, by what they are about."""

from caseload.plans.services.changes import plan_renew, service_change, service_correct
from caseload.plans.services.enrollments import (
    assignment_take_back,
    caseload_assign,
    enrollment_save,
    enrollment_take_back,
    student_leave,
    student_move,
)
from caseload.plans.services.handing_over import (
    caseload_hand_back,
    caseload_hand_over,
    caseload_hand_over_undo,
    caseload_hand_overs_undo,
    hand_over_foreseen,
)
from caseload.plans.services.kept import change_undo
from caseload.plans.services.records import (
    hold_delete,
    hold_save,
    plan_delete,
    plan_replace_provisional,
    plan_save,
    school_class_delete,
    school_class_save,
    service_line_delete,
    service_line_save,
)
from caseload.plans.services.statements import FREQUENCY_PARTS, READ_PARTS, statement_told, statement_values
from caseload.plans.services.students import student_add_without_plan, student_delete, student_save

__all__ = [
    "FREQUENCY_PARTS",
    "READ_PARTS",
    "assignment_take_back",
    "caseload_assign",
    "caseload_hand_back",
    "caseload_hand_over",
    "caseload_hand_over_undo",
    "caseload_hand_overs_undo",
    "change_undo",
    "enrollment_save",
    "enrollment_take_back",
    "hand_over_foreseen",
    "hold_delete",
    "hold_save",
    "plan_delete",
    "plan_renew",
    "plan_replace_provisional",
    "plan_save",
    "school_class_delete",
    "school_class_save",
    "service_change",
    "service_correct",
    "service_line_delete",
    "service_line_save",
    "statement_told",
    "statement_values",
    "student_add_without_plan",
    "student_delete",
    "student_leave",
    "student_move",
    "student_save",
]

"""Writes of joint sessions.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from django.db.models import Q

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, record_change, record_remove
from accounts.services.undo import last_change_undo
from caseload.plans.models import Student
from schedule.joint.models import JointService
from schedule.joint.selectors import UNDO, last_joint_change, line_at

PERMISSION = "caseload.change"


def joint_service_save(*, actor: Person, row: JointService, values: Mapping[str, Any]) -> JointService:
    """Say which sessions of two services are given together, from which day on.

    Weeks that are planned already stay as they are until they are planned again.
    """
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="joint_service_save",
        permission=PERMISSION,
        rules=[joint_services_go_together, joint_service_said_once],
    )


def joint_services_go_together(row: JointService, values: Mapping[str, Any]) -> dict[str, str]:
    """Two teachers give them, both with the student or both as consultations, and for as long."""
    del values
    mine, theirs = line_at(row.service, row.first_day), line_at(row.partner, row.first_day)
    if mine is None or theirs is None:
        return {"partner": "This service has no terms."}
    if mine.provider_id == theirs.provider_id:
        return {"partner": f"{mine.provider} gives both. Choose a service of another teacher."}
    if mine.service_type != theirs.service_type:
        return {
            "partner": "One is a consultation, which is held without the student, the other isn't. Choose two "
            "consultations, or two services that the student comes to."
        }
    if None not in {mine.minutes, theirs.minutes} and mine.minutes != theirs.minutes:
        return {
            "partner": f"One has {mine.minutes} minutes a session, the other {theirs.minutes}. A joint session is "
            "one session of each, so both need the same minutes."
        }
    return {}


def joint_service_said_once(row: JointService, values: Mapping[str, Any]) -> dict[str, str]:
    """The same two services are said to be given together once at a time."""
    del values
    pair = Q(service=row.service_id, partner=row.partner_id) | Q(service=row.partner_id, partner=row.service_id)
    lasts = Q(last_day__isnull=True) | Q(last_day__gte=row.first_day)
    others = JointService.objects.filter(pair, lasts).exclude(pk=row.pk)
    if row.last_day is not None:
        others = others.filter(first_day__lte=row.last_day)
    return {"first_day": "This is said already for some of these days. Change that."} if others.exists() else {}


def joint_service_remove(*, actor: Person, row: JointService) -> None:
    """Take it away, as if it had never been said. What ends is given a last day instead."""
    record_remove(actor=actor, row=row, action="joint_service_remove", permission=PERMISSION)


def joint_service_take_back(*, actor: Person, student: Student, seen: int | None = None) -> None:
    """Undo what was done last to the joint sessions of a student. `seen`: the id of the change that the person saw.

    Raises as `accounts.services.undo.last_change_undo`, and 404 for a student out of sight.
    """
    if not Student.objects.changeable_by(actor).filter(pk=student.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    last_change_undo(
        actor=actor,
        model=JointService,
        last=last_joint_change(student),
        seen=seen,
        action=UNDO,
        permission=PERMISSION,
        rules=[joint_services_go_together, joint_service_said_once],
    )

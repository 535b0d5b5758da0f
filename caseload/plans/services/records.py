"""Writes of the caseload floor: plans, service lines, times when a student can't be taken, classes.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import record_change, record_remove
from caseload.plans import rules
from caseload.plans.hooks import hold_is_held_against_the_floors_above, line_is_held_against_the_floors_above
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, StudentHold
from caseload.plans.selectors import line_before
from caseload.plans.services.statements import FREQUENCY_PARTS, READ_PARTS, statement_values

PERMISSION = "caseload.change"
LINE_VALUES = (
    "statement",
    "reading",
    "setting",
    "provider",
    "service_type",
    "largest_group",
    "pushed_into",
    "allowed_spaces",
    "held_in",
    "way_minutes",
)


def plan_save(*, actor: Person, row: Plan, values: Mapping[str, Any]) -> Plan:
    """Save a plan; a student's plans don't overlap, and its services stay inside it."""
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="plan_save",
        permission=PERMISSION,
        rules=[rules.plan_does_not_overlap, rules.plan_holds_its_lines],
    )


def plan_replace_provisional(*, actor: Person, row: Plan, values: Mapping[str, Any]) -> Plan:
    """The plan has come: save it as in force, and end the provisional plan the day before it starts.

    `row` is a new plan of the student. A provisional plan that would begin on or after the new one's start is
    deleted. Raises `ApplicationError` where planned weeks still need its services.
    """
    start = values.get("start")
    with transaction.atomic():
        if isinstance(start, dt.date):
            for old in row.student.plans.filter(status=Plan.Status.PROVISIONAL, end__gte=start):
                _plan_end_before(actor=actor, plan=old, start=start)
        return plan_save(actor=actor, row=row, values={**values, "status": Plan.Status.IN_FORCE})


def _plan_end_before(*, actor: Person, plan: Plan, start: dt.date) -> None:
    if plan.start >= start:
        try:
            plan_delete(actor=actor, row=plan)
        except ApplicationError as error:
            raise ApplicationError(
                f"Weeks from {date_words(plan.start)} on are already planned with the provisional "
                f"services. Start the plan after {date_words(plan.start)}, or take those weeks back first.",
                code=error.code,
            ) from error
        return
    last = start - dt.timedelta(days=1)
    for line in plan.lines.filter(end__gt=last):
        if line.start > last:
            service_line_delete(actor=actor, row=line)
        else:
            record_change(
                actor=actor, row=line, values={"end": last}, action="service_line_save", permission=PERMISSION
            )
    plan_save(actor=actor, row=plan, values={"end": last})


def plan_delete(*, actor: Person, row: Plan) -> None:
    """Delete a plan with its service lines. Refused while a planned week or the log needs one of them."""
    student = row.student
    with transaction.atomic():
        record_remove(actor=actor, row=row, action="plan_delete", permission=PERMISSION)
        _services_without_versions_delete(student)


def service_line_save(*, actor: Person, row: ServiceLine, values: Mapping[str, Any]) -> ServiceLine:
    """Save a service line; `statement` is read into the parts of the frequency, which can't be given by hand.

    Where it can mean two things, `reading` is the canonical text of the one that a person chose. Dates are the
    plan's, and the provider is the caseload teacher, where none are given. A new line goes on with the service that
    ends the day before, where there is one of its type and setting and no more than one.
    """
    given = {
        name: value
        for name, value in values.items()
        if name not in READ_PARTS and not (value is None and name in {"start", "end", "provider"})
    }
    wanted = str(given.pop("reading", "") or "")
    problems: dict[str, ValidationError] = {}
    try:
        given.update(_read(row, given, wanted))
    except ValidationError as error:
        problems["statement"] = error
    _line_complete(row)
    before = line_before(row, given) if not row.names_service else None
    if before is not None:
        row.service = before.service
    return record_change(
        actor=actor,
        row=row,
        values=given,
        action="service_line_save",
        permission=PERMISSION,
        exclude=FREQUENCY_PARTS if problems else (),
        problems=problems,
        rules=[
            rules.provider_teaches,
            rules.spaces_are_in_the_building,
            rules.either_here_or_elsewhere,
            rules.versions_follow_each_other,
            line_is_held_against_the_floors_above,
        ],
    )


def _read(row: ServiceLine, given: Mapping[str, Any], wanted: str) -> Mapping[str, Any]:
    """What the statement says, where it or the reading is told; raises `ValidationError`."""
    if "statement" not in given and not wanted and row.statement:
        return {}
    text, day = str(given.get("statement", row.statement)), given.get("start") or row.start or row.plan.start
    return statement_values(text, district=row.plan.student.district, day=day, wanted=wanted, row=row)


def _line_complete(row: ServiceLine) -> None:
    defaults = {"start": row.plan.start, "end": row.plan.end, "provider_id": row.plan.student.caseload_teacher_id}
    for name, value in defaults.items():
        if getattr(row, name) is None:
            setattr(row, name, value)


def service_line_delete(*, actor: Person, row: ServiceLine) -> None:
    """Delete a service line. Refused while a planned week (also as unplaced) or the delivery log needs it."""
    student = row.plan.student
    with transaction.atomic():
        record_remove(actor=actor, row=row, action="service_line_delete", permission=PERMISSION)
        _services_without_versions_delete(student)


def _services_without_versions_delete(student: Student) -> None:
    """What has no terms anymore is no service."""
    student.services.filter(versions=None).delete()


def hold_save(*, actor: Person, row: StudentHold, values: Mapping[str, Any]) -> StudentHold:
    """Save a time when a student can't be taken."""
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="hold_save",
        permission=PERMISSION,
        rules=[hold_is_held_against_the_floors_above],
    )


def hold_delete(*, actor: Person, row: StudentHold) -> None:
    """Delete a time when a student can't be taken: the next plan may use it, planned weeks stay as they are."""
    record_remove(actor=actor, row=row, action="hold_delete", permission=PERMISSION)


def school_class_save(*, actor: Person, row: SchoolClass, values: Mapping[str, Any]) -> SchoolClass:
    """Save a class of a building."""
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="school_class_save",
        permission=PERMISSION,
        rules=[rules.class_stays_with_its_students],
    )


def school_class_delete(*, actor: Person, row: SchoolClass) -> None:
    """Delete a class with its physical education times and feeds; its students stay, without a class.

    Refused while services are pushed into it or planned sessions are its own.
    """
    record_remove(actor=actor, row=row, action="school_class_delete", permission=PERMISSION)

"""Writes of students: new ones, what is their own, and what changes from a day on.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import record_change, record_remove
from caseload.plans import rules
from caseload.plans.models import Plan, ServiceLine, Student
from caseload.plans.services.enrollments import (
    PLACE,
    SHOWN,
    caseload_assign,
    enrollment_save,
    enrollment_shown,
    student_enroll,
    student_move,
)
from caseload.plans.services.records import LINE_VALUES, PERMISSION, plan_save, service_line_save

DATED = (*SHOWN, "caseload_teacher")
FROM_WHICH_DAY = (
    "From which day? Days before it keep what held then. To correct what was always wrong, change the student's "
    "enrollment."
)


def student_save(*, actor: Person, row: Student, values: Mapping[str, Any]) -> Student:
    """Save a student; the caseload is the actor's where no teacher is given.

    A known student's school, class, grade or caseload teacher changes from a day on, which `values` names as
    `from_day`; what was always wrong is corrected in the enrollment itself (`enrollment_save`). The first and the
    last day are those of the enrollment that the record shows.
    """
    if row.pk:
        return _known_student_save(actor=actor, row=row, values=values)
    nobody = getattr(row, "caseload_teacher_id", None) is None and "caseload_teacher" not in values
    if nobody and actor.is_teacher:
        row.caseload_teacher = actor
    with transaction.atomic():
        saved = record_change(
            actor=actor,
            row=row,
            values={name: value for name, value in values.items() if name != "from_day"},
            action="student_save",
            permission=PERMISSION,
            rules=[rules.caseload_teacher_teaches],
        )
        student_enroll(student=saved)
    return saved


def _known_student_save(*, actor: Person, row: Student, values: Mapping[str, Any]) -> Student:
    """What is the student's own at once, what holds from a day on by a move, an assignment or a last day."""
    dated = {name: values[name] for name in DATED if name in values and values[name] != getattr(row, name)}
    own = {name: value for name, value in values.items() if name not in {*DATED, "from_day"}}
    with transaction.atomic():
        saved = record_change(actor=actor, row=row, values=own, action="student_save", permission=PERMISSION)
        if dated:
            student_change_from(actor=actor, student=saved, from_day=values.get("from_day"), values=dated)
    return saved


def student_delete(*, actor: Person, row: Student) -> None:
    """Delete a student with plans, service lines and the times when the student can't be taken.

    Refused while a planned week or the delivery log names the student.
    """
    record_remove(actor=actor, row=row, action="student_delete", permission=PERMISSION)


def student_add_without_plan(*, actor: Person, row: Student, values: Mapping[str, Any]) -> Student:
    """Add a student who came without a plan, with a provisional plan of one service line.

    Beside the student's fields `values` holds `statement` (such as ``2 x 30 min/week``) and, if they are known,
    `plan_start`, `plan_end` and the other fields of a service line. Without dates the services begin on the
    student's first day (or `today`, which must then be given) and run to the end of June. A student who moves in
    gets services like those before until the plan is there (34 CFR 300.323(e) and (f)).
    """
    start = values.get("plan_start") or values.get("first_day") or values.get("today")
    if not isinstance(start, dt.date):
        raise ValidationError({"plan_start": "Say on which day the services start."})
    end = values.get("plan_end") or rules.school_year_end(start)
    line_values = {name: values[name] for name in LINE_VALUES if name in values}
    own = {"plan_start", "plan_end", "today", *LINE_VALUES}
    with transaction.atomic():
        student = student_save(
            actor=actor, row=row, values={name: value for name, value in values.items() if name not in own}
        )
        plan = _provisional_plan_save(actor=actor, student=student, start=start, end=end)
        line = ServiceLine(plan=plan, provider=student.caseload_teacher, start=start, end=end)
        if "setting" not in line_values:
            line.setting = ServiceLine.Setting.ONE_TO_ONE
        service_line_save(actor=actor, row=line, values=line_values)
    return student


def _provisional_plan_save(*, actor: Person, student: Student, start: dt.date, end: dt.date) -> Plan:
    try:
        return plan_save(
            actor=actor,
            row=Plan(student=student),
            values={"status": Plan.Status.PROVISIONAL, "start": start, "end": end},
        )
    except ValidationError as error:
        # The caller knows these fields as the plan's.
        raise ValidationError(
            {
                f"plan_{name}" if name in {"start", "end"} else name: texts
                for name, texts in error.error_dict.items()
            }
        ) from error


def student_change_from(
    *, actor: Person, student: Student, from_day: dt.date | None, values: Mapping[str, Any]
) -> None:
    """Whatever of `DATED` changes, as one: a move, an assignment, and the days of the enrollment that is shown.

    Without a day class, grade and caseload teacher change from today on. Raises `ValidationError` at ``from_day``
    where another building is given without a day, or with a first day that isn't later than the one that is known.
    """
    place = _among(values, PLACE)
    days = _among(values, ("first_day", "last_day"))
    if "building" in place:
        from_day = from_day or _day_of_arrival(student, days)
    day = from_day or today_of(actor)
    with transaction.atomic():
        if "caseload_teacher" in values:
            caseload_assign(actor=actor, student=student, teacher=values["caseload_teacher"], from_day=day)
        # A student who hasn't come yet, or has left, has nothing on other days that could keep its own.
        if place and (from_day or day in enrollment_shown(actor, student).stay):
            student_move(actor=actor, student=student, from_day=day, values=place)
            place, days = {}, _among(days, ("last_day",))
        if place or days:
            enrollment_save(actor=actor, row=enrollment_shown(actor, student), values={**place, **days})


def _among(values: Mapping[str, Any], names: Iterable[str]) -> dict[str, Any]:
    return {name: values[name] for name in names if name in values}


def _day_of_arrival(student: Student, days: Mapping[str, Any]) -> dt.date:
    """A new first day at a new school is the day of the move."""
    first: dt.date | None = days.get("first_day")
    if first is None or (student.first_day is not None and first <= student.first_day):
        raise ValidationError({"from_day": FROM_WHICH_DAY})
    return first

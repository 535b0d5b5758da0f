"""Writes of routines and their parts, and of which routine a session has.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role or somebody else's routine, 404 for
what is out of sight).
"""

import datetime as dt
import uuid
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.idempotency.services import moment_get
from accounts.models import Person
from accounts.services import (
    NOT_THERE,
    Changes,
    audit_write,
    permission_require,
    record_bring_back,
    record_change,
    record_put_away,
)
from caseload.progress.models import StudentGoal
from schedule.class_hour.models import PartEquipment, Routine, RoutineChoice, RoutinePart, RunTap
from schedule.class_hour.selectors.routines import may_change
from schedule.equipment.models import Equipment
from schedule.weeks.models import PlannedSession, WeekPlan

OWN = "week.change"
CHOOSE = "log.write"
MOST_PARTS = 15
USUAL = "usual"
TOO_MANY = f"A routine has at most {MOST_PARTS} parts. Take one out, or put two together."
NO_STUDENTS_ON_SHELF = "A routine on the shelf names no students. Copy it for this group, and leave it out here."
NOT_YOURS = "This routine is another teacher's. Copy it, and change the copy."


def routine_save(*, actor: Person, row: Routine, values: Mapping[str, Any]) -> Routine:
    """Save a routine's own fields; a teacher's new one is the teacher's own."""
    if row.pk:
        _own_require(actor, row)
    elif actor.is_teacher:
        values = {"teacher": actor, **values}
    if values.get("on_shelf", row.on_shelf) and values.get("students", row.pk and row.students.all()):
        raise ValidationError({"students": NO_STUDENTS_ON_SHELF}, code="students_on_shelf")
    return record_change(actor=actor, row=row, values=values, action="routine_save", permission=OWN)


def routine_put_away(*, actor: Person, row: Routine) -> None:
    """Take a routine out of the lists and off its class. `routine_bring_back` undoes it."""
    _own_require(actor, row)
    record_put_away(actor=actor, row=row, action="routine_put_away", permission=OWN)


def routine_bring_back(*, actor: Person, row: Routine) -> Routine:
    """Put it into the lists again. Refused where its class has another one now."""
    _own_require(actor, row)
    return record_bring_back(actor=actor, row=row, action="routine_bring_back", permission=OWN)


def routine_copy(*, actor: Person, row: Routine, variant: str = "") -> Routine:
    """A copy with all parts, the actor's own and without a class; with `variant` a variant of the original.

    A variant is made of one's own only, and serves the same goals. What a coordinator copies belongs to the teacher
    of the original.
    """
    permission_require(actor, OWN)
    if not Routine.objects.changeable_by(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if variant:
        _own_require(actor, row)
    copy = Routine(district=row.district, teacher=actor if actor.is_teacher else row.teacher)
    values = {"name": row.name if variant else f"Copy of {row.name}"[:80], "about": row.about, "variant": variant}
    with transaction.atomic():
        copy.variant_of = (row.variant_of or row) if variant else None
        copy.attention_minutes = row.attention_minutes
        record_change(actor=actor, row=copy, values=values, action="routine_copy", permission=OWN)
        for part in row.parts.in_use():
            _part_copy(part, copy, StudentGoal.objects.changeable_by(actor).filter(routine_parts=part))
    return copy


def _part_copy(part: RoutinePart, into: Routine, goals: Iterable[StudentGoal]) -> None:
    kept = {"id", "routine"}
    fields = [one.attname for one in RoutinePart._meta.concrete_fields if one.name not in kept]
    made = RoutinePart(routine=into, **{name: getattr(part, name) for name in fields})
    made.full_clean()
    made.save()
    made.goals.set(goals)
    for need in part.needs.all():
        PartEquipment.objects.create(part=made, equipment_id=need.equipment_id, count=need.count)


def part_save(*, actor: Person, row: RoutinePart, values: Mapping[str, Any]) -> RoutinePart:
    """Save a part; a new one is the last.

    `values["needs"]`: all the equipment that it takes, counts by `Equipment` id; without it that stays as it is.
    `values["goals"]`: those that it serves, of students whom the actor sees; others' stay.
    """
    _own_require(actor, row.routine)
    own = {name: value for name, value in values.items() if name not in {"needs", "goals"}}
    with transaction.atomic():
        if not row.pk:
            others = RoutinePart.objects.in_use().filter(routine=row.routine)
            if others.count() >= MOST_PARTS:
                raise ValidationError(TOO_MANY, code="too_many_parts")
            row.position = max((one.position for one in row.routine.parts.all()), default=0) + 1
        record_change(actor=actor, row=row, values=own, action="part_save", permission=OWN)
        if "needs" in values:
            _needs_save(actor, row, values["needs"])
        if "goals" in values:
            _goals_save(actor, row, values["goals"])
    return row


def _goals_save(actor: Person, row: RoutinePart, goals: Collection[StudentGoal]) -> None:
    wanted = {one.pk for one in goals}
    if StudentGoal.objects.changeable_by(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ValidationError({"goals": "Choose among your students' goals."}, code="not_listed")
    before = set(row.goals.values_list("pk", flat=True))
    seen = set(StudentGoal.objects.changeable_by(actor).filter(pk__in=before).values_list("pk", flat=True))
    after = (before - seen) | wanted
    if after != before:
        row.goals.set(after)
        changes: Changes = {"goals": [sorted(before), sorted(after)]}
        audit_write(actor=actor, district=row.district, action="part_goals_save", row=row, changes=changes)


def _needs_save(actor: Person, row: RoutinePart, needs: Mapping[int, int]) -> None:
    seen = set(Equipment.objects.changeable_by(actor).filter(pk__in=needs).values_list("pk", flat=True))
    if set(needs) - seen:
        raise ValidationError({"needs": "Choose equipment of your district."}, code="not_listed")
    before = dict(row.needs.values_list("equipment_id", "count"))
    if dict(needs) == before:
        return
    row.needs.all().delete()
    for equipment, count in needs.items():
        need = PartEquipment(part=row, equipment_id=equipment, count=count)
        need.full_clean()
        need.save()
    changes = {"needs": [sorted(before.items()), sorted(needs.items())]}
    audit_write(actor=actor, district=row.district, action="part_needs_save", row=row, changes=changes)


def part_take_out(*, actor: Person, row: RoutinePart) -> None:
    """Take a part out of its routine. `part_bring_back` undoes it."""
    _own_require(actor, row.routine)
    record_put_away(actor=actor, row=row, action="part_take_out", permission=OWN)


def part_bring_back(*, actor: Person, row: RoutinePart) -> RoutinePart:
    """Put it back where it was."""
    _own_require(actor, row.routine)
    if RoutinePart.objects.in_use().filter(routine=row.routine).count() >= MOST_PARTS:
        raise ValidationError(TOO_MANY, code="too_many_parts")
    return record_bring_back(actor=actor, row=row, action="part_bring_back", permission=OWN)


def part_move(*, actor: Person, row: RoutinePart, to: int) -> None:
    """Make it the so-manieth part of its routine, counted from 1; the others close up. Safe to send twice."""
    _own_require(actor, row.routine)
    permission_require(actor, OWN)
    with transaction.atomic():
        parts = [one for one in RoutinePart.objects.in_use().filter(routine=row.routine) if one.pk != row.pk]
        before = row.position
        parts.insert(max(0, to - 1), row)
        for at, one in enumerate(parts, start=1):
            one.position = at
            one.save(update_fields=["position"])
        changes = {"position": [before, row.position]}
        audit_write(actor=actor, district=row.district, action="part_move", row=row, changes=changes)


def routine_choose(
    *, actor: Person, teacher: Person, date: dt.date, uid: uuid.UUID, routine: Routine | None, usual: bool = False
) -> None:
    """Choose the routine of one session (None: no routine that day), or go back to its `usual` one."""
    _session_require(actor, teacher, date, uid)
    if routine is not None and not Routine.objects.changeable_by(actor).filter(pk=routine.pk).exists():
        raise ValidationError({"routine": "Choose one from the list."}, code="not_listed")
    with transaction.atomic():
        kept = RoutineChoice.objects.filter(session_uid=uid).first()
        before = kept.routine_id if kept is not None else USUAL
        RoutineChoice.objects.filter(session_uid=uid).delete()
        row = RoutineChoice(district=teacher.district, session_uid=uid, teacher=teacher, date=date, routine=routine)
        row.full_clean(exclude=["session_uid"])
        changes: Changes = {
            "routine": [before, USUAL if usual else row.routine_id],
            "session": [str(uid), str(uid)],
        }
        if not usual:
            row.save()
        audit_write(actor=actor, district=row.district, action="routine_choose", row=teacher, changes=changes)


def run_tap(
    *,
    actor: Person,
    teacher: Person,
    date: dt.date,
    uid: uuid.UUID,
    client_id: uuid.UUID,
    kind: str,
    part: int = 0,
    at: dt.datetime | None = None,
    now: dt.datetime | None = None,
) -> RunTap:
    """Keep a tap on the clock of a running session; the same client id sent twice is one tap.

    `part` is the id of the part that ran, 0 for none; `at` (aware) is when it was tapped, if it is sent later. It
    says nothing about a student and changes no figure, so that the audit trail has none of it.
    """
    _session_require(actor, teacher, date, uid)
    known = RunTap.objects.filter(client_id=client_id).first()
    if known is not None:
        if (known.made_by_id, known.session_uid) != (actor.pk, uid):
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return known
    row = RunTap(
        district=teacher.district, teacher=teacher, made_by=actor, session_uid=uid, date=date, client_id=client_id,
        kind=kind, part=part, tapped_at=moment_get(at, now),
    )  # fmt: skip
    row.full_clean()
    row.save()
    return row


def _session_require(actor: Person, teacher: Person, date: dt.date, uid: uuid.UUID) -> None:
    """A session of a published week that the actor sees, and a role that acts on sessions."""
    permission_require(actor, CHOOSE)
    rows = PlannedSession.objects.changeable_by(actor).filter(uid=uid, date=date, week__teacher=teacher)
    if not rows.filter(week__status=WeekPlan.Status.PUBLISHED).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _own_require(actor: Person, row: Routine) -> None:
    permission_require(actor, OWN)
    if not Routine.objects.changeable_by(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not may_change(actor, row):
        raise ApplicationError(NOT_YOURS, code="not_your_routine", status=403)

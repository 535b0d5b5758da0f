"""Writes of data points: taken, taken back, counted again.

Whoever sends a point makes its `client_id`, perhaps on a phone without signal: the same one sent twice is stored
once. Two people who take data on one goal at once are both kept.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for the role, 404 for what is out of sight, 409
with a code that tells what is in the way.
"""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.idempotency.services import moment_get
from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE, audit_write, permission_require
from accounts.validation import row_validate
from caseload.delivery.services.log import local_date
from caseload.plans.models import Student
from caseload.progress.measures import Measure
from caseload.progress.models import DataPoint, StudentGoal

TAKE = "data.take"
ID_USED = "Other data were sent under this id. Send these again."
NOT_READ = "Nobody has said how this goal is measured. Answer that on the goal's page first."


@dataclass(frozen=True, slots=True)
class DataTaken:
    """One data point as it was sent; see `DataPoint`. Without `tried` a set has the goal's number of trials.

    `taken_at` (aware) is when it was taken, if it is sent later.
    """

    client_id: uuid.UUID
    goal: StudentGoal
    day: dt.date
    value: Decimal
    tried: int | None = None
    marks: str = ""
    session_uid: uuid.UUID | None = None
    taken_by_name: str = ""
    note: str = ""
    taken_at: dt.datetime | None = None


def data_take(*, actor: Person, taken: DataTaken, now: dt.datetime | None = None) -> DataPoint:
    """Store one data point.

    Refused for a goal that has ended by that day (code ``goal_ended``), that nobody has said how to measure
    (``goal_not_read``), and for a day in the future. What is stored under its id already is answered with that, or
    refused if it says something else (``client_id_used``).

    Where a team shares the log, mates take data on each other's students for its days.
    """
    permission_require(actor, TAKE)
    if not _is_mates(actor, taken.goal, taken.day):
        _goals_require(actor, {taken.goal.pk})
    return _stored(actor, [taken], "data_take", now)[0]


def data_import(
    *, actor: Person, taken: Sequence[DataTaken], action: str = "data_import", now: dt.datetime | None = None
) -> list[DataPoint]:
    """Store several, all or none, in their order."""
    permission_require(actor, TAKE)
    _goals_require(actor, {one.goal.pk for one in taken})
    return _stored(actor, taken, action, now)


def _stored(actor: Person, taken: Sequence[DataTaken], action: str, now: dt.datetime | None) -> list[DataPoint]:
    try:
        with transaction.atomic():
            return [_store(actor, one, action, now) for one in taken]
    except IntegrityError:
        # Somebody stored one of these between our look and our write: look again.
        with transaction.atomic():
            return [_store(actor, one, action, now) for one in taken]


def _goals_require(actor: Person, goals: set[int]) -> None:
    key = ("goals", actor.pk, today_of(actor), frozenset(goals))
    changeable = StudentGoal.objects.changeable_by
    if shared(key, lambda: changeable(actor).filter(pk__in=goals).count(), at_once=True) != len(goals):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _is_mates(actor: Person, goal: StudentGoal, day: dt.date) -> bool:
    """Whether a goal is of a student of somebody with whom the actor shares the log on a date."""
    mates = actor.mates_logged(day)
    if not mates:
        return False
    teachers = Person.objects.filter(pk__in=mates)
    rows = Student.objects.filter(district=actor.district_id).of_teachers(teachers, day)
    return rows.filter(pk=goal.student_id).exists()


def _store(actor: Person, taken: DataTaken, action: str, now: dt.datetime | None) -> DataPoint:
    row = _row_of(actor, taken, moment_get(taken.taken_at, now))
    stored = DataPoint.objects.filter(client_id=taken.client_id).first()
    if stored is not None:
        return _same_or_refuse(stored, row)
    _goal_require(taken)
    _day_require(taken, now)
    _value_require(taken)
    # The id was looked for above, and two at once are told apart by the database.
    row_validate(row, exclude=["client_id"])
    row.save(force_insert=True)
    changes: dict[str, list[Any]] = {
        "day": [None, row.day],
        "value": [None, row.value],
        "goal": [None, row.goal_id],
    }
    audit_write(actor=actor, district=row.district, action=action, row=row, changes=changes)
    return row


def _row_of(actor: Person, taken: DataTaken, taken_at: dt.datetime) -> DataPoint:
    is_set = taken.goal.measure == Measure.TRIALS
    return DataPoint(
        client_id=taken.client_id,
        goal=taken.goal,
        day=taken.day,
        session_uid=taken.session_uid,
        value=taken.value,
        tried=(taken.tried or len(taken.marks) or taken.goal.trials) if is_set else None,
        marks=taken.marks if is_set else "",
        taken_by=actor,
        taken_by_name=taken.taken_by_name.strip(),
        taken_at=taken_at,
        note=taken.note.strip(),
    )


def _same_or_refuse(stored: DataPoint, row: DataPoint) -> DataPoint:
    told = (row.goal_id, row.day, row.value, row.tried, row.marks)
    if told != (stored.goal_id, stored.day, stored.value, stored.tried, stored.marks):
        raise ApplicationError(ID_USED, code="client_id_used")
    return stored


def _goal_require(taken: DataTaken) -> None:
    if not taken.goal.measure:
        raise ApplicationError(NOT_READ, code="goal_not_read")
    last = taken.goal.last_day
    if taken.day > last:
        raise ApplicationError(
            f"This goal ended on {date_words(last)}, so data of {date_words(taken.day)} aren't kept with it. Take "
            "them on the goal that took its place, or give this one a later last day first.",
            code="goal_ended",
        )


def _day_require(taken: DataTaken, now: dt.datetime | None) -> None:
    if taken.day > local_date(taken.goal.student.building, now):
        raise ValidationError({"day": f"{date_words(taken.day)} is in the future. Data are of today or before."})


def _value_require(taken: DataTaken) -> None:
    """A figure that the measure knows."""
    goal, value = taken.goal, taken.value
    levels = len(goal.level_names)
    if goal.measure in {Measure.PROMPT, Measure.RUBRIC} and not (value == int(value) and 1 <= value <= levels):
        raise ValidationError({"value": f"Choose one of the {levels} levels."})
    if goal.measure == Measure.PERCENT and value > 100:
        raise ValidationError({"value": "At most 100 percent."})
    if goal.measure == Measure.TRIALS and value != int(value):
        raise ValidationError({"value": "A whole number of trials."})


def data_undo(*, actor: Person, row: DataPoint) -> DataPoint:
    """Take a data point back: it stays, with who took it back, and counts no longer. Twice has no effect."""
    return _undone_set(actor, row, is_undone=True)


def data_restore(*, actor: Person, row: DataPoint) -> DataPoint:
    """Count a data point again that was taken back."""
    _goal_require(DataTaken(row.client_id, row.goal, row.day, row.value))
    return _undone_set(actor, row, is_undone=False)


def _changeable(actor: Person, row: DataPoint) -> DataPoint | None:
    """The point, locked, if it is the actor's to take back: of the own students, or taken by them for a mate."""
    rows = DataPoint.objects.select_for_update(of=("self",)).filter(pk=row.pk)
    kept = rows.filter(pk__in=DataPoint.objects.changeable_by(actor).filter(pk=row.pk).values("pk")).first()
    if kept is None and row.taken_by_id == actor.pk and _is_mates(actor, row.goal, row.day):
        return rows.first()
    return kept


def _undone_set(actor: Person, row: DataPoint, *, is_undone: bool) -> DataPoint:
    permission_require(actor, TAKE)
    with transaction.atomic():
        kept = _changeable(actor, row)
        if kept is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        if (kept.undone_at is not None) != is_undone:
            before = kept.undone_at
            kept.undone_at, kept.undone_by = (timezone.now(), actor) if is_undone else (None, None)
            kept.save(update_fields=["undone_at", "undone_by"])
            action = "data_undo" if is_undone else "data_restore"
            changes = {"undone_at": [before, kept.undone_at]}
            audit_write(actor=actor, district=kept.district, action=action, row=kept, changes=changes)
    return kept

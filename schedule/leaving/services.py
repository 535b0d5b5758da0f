"""Arranging who has a teacher's students while that teacher is away or once they have left; changed and taken back.

Every hand-over is one of `caseload.plans.services`, so that nothing before the first day is touched. Each raises
`ValidationError` by field, or `ApplicationError`: 403 for anybody but a coordinator, 404 for what is out of sight,
``changed_since`` where a hand-over can't be taken back.
"""

import datetime as dt
from collections.abc import Collection
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.services import audit_write, district_of, permission_require
from caseload.plans.models import ServiceLine, Student
from caseload.plans.services import caseload_hand_over, caseload_hand_overs_undo
from schedule.leaving.models import TeacherLeave
from schedule.leaving.selectors import students_still

PERMISSION = "assigning.plan"
DAY = dt.timedelta(days=1)
FOR_GOOD = (
    "This teacher leaves for good: there is no day of coming back. Take it back, and arrange a leave instead."
)
NOT_THERE_THEN = "Not all of these students are with the teacher on that day. Choose again."
NOBODY = "Nobody is left to hand over on that day. Choose another day."


def leave_arrange(
    *,
    actor: Person,
    teacher: Person,
    receiver: Person,
    first_day: dt.date,
    last_day: dt.date | None = None,
    students: Collection[Student] = (),
) -> TeacherLeave:
    """Hand students over on the first day away, and back on the day after the last; all or nothing.

    Without `students` all go whom the teacher has or serves on that day. Several leaves of the same days share the
    students out among several colleagues.
    """
    permission_require(actor, PERMISSION)
    row = TeacherLeave(
        district=district_of(teacher), teacher=teacher, receiver=receiver, first_day=first_day, last_day=last_day
    )
    row.full_clean(exclude=["handed", "returned"])
    still = list(students_still(actor, teacher, first_day))
    going = [one for one in still if one in students] if students else still
    if not going or len(going) < len(students):
        raise ValidationError({"students": NOT_THERE_THEN if students else NOBODY})
    with transaction.atomic():
        there = caseload_hand_over(
            actor=actor, giver=teacher, receiver=receiver, students=going, from_day=first_day
        )
        row.handed = there.pk
        row.returned = _back(actor, row, going)
        row.save()
        row.students.set(going)
        changes: dict[str, list[Any]] = {
            "teacher": [teacher.pk, receiver.pk],
            "first_day": [None, first_day.isoformat()],
        }
        audit_write(actor=actor, district=row.district, action="leave_arrange", row=row, changes=changes)
    return row


def leave_foreseen(
    *,
    actor: Person,
    teacher: Person,
    receiver: Person,
    first_day: dt.date,
    last_day: dt.date | None = None,
    students: Collection[Student] = (),
) -> list[str]:
    """What arranging it would do, in sentences; all of it is tried, nothing is saved. Raises as arranging does."""
    with transaction.atomic():
        row = leave_arrange(
            actor=actor,
            teacher=teacher,
            receiver=receiver,
            first_day=first_day,
            last_day=last_day,
            students=students,
        )
        words = leave_words(row)
        transaction.set_rollback(True)
    return words


def leave_words(row: TeacherLeave) -> list[str]:
    """What a leave means, in sentences."""
    count = row.students.count()
    students = "1 student of" if count == 1 else f"{count} students of"
    are = "is" if count == 1 else "are"
    there = f"From {date_words(row.first_day)} {students} {row.teacher} {are} with {row.receiver}."
    if row.last_day is None:
        return [there, "They stay there. Minutes stay as they are, and so do days before."]
    back = f"From {date_words(row.last_day + DAY)} they are with {row.teacher} again."
    return [there, back, *_renewals(row), "Minutes stay as they are, and so do days before."]


def _renewals(row: TeacherLeave) -> list[str]:
    """What goes back only once it was renewed: nothing of it is there yet on the day after the last."""
    services = AuditEntry.objects.get(pk=row.handed).changes["services"][1]
    ends = ServiceLine.objects.filter(service__in=services).values("service").annotate(last=Max("end"))
    count = ends.filter(last__lte=row.last_day).count()
    if not count:
        return []
    end = "1 service ends" if count == 1 else f"{count} services end"
    meanwhile = f"What is renewed in the meantime is with {row.receiver}"
    return [f"{end} before that. {meanwhile}: save the last day once more then, and it goes back as well."]


def leave_last_day_change(*, actor: Person, row: TeacherLeave, last_day: dt.date) -> TeacherLeave:
    """The teacher comes back sooner or later than was said: the students go back on the day after another last day.

    Raises ``ApplicationError`` (``for_good``) for a teacher who left.
    """
    permission_require(actor, PERMISSION)
    if row.last_day is None or row.returned is None:
        raise ApplicationError(FOR_GOOD, code="for_good")
    before = row.last_day
    row.last_day = last_day
    row.full_clean()
    with transaction.atomic():
        caseload_hand_overs_undo(actor=actor, entries=[row.returned])
        row.returned = _back(actor, row, list(row.students.all()))
        row.save(update_fields=["last_day", "returned"])
        changes = {"last_day": [before.isoformat(), last_day.isoformat()]}
        audit_write(actor=actor, district=row.district, action="leave_last_day", row=row, changes=changes)
    return row


def leave_take_back(*, actor: Person, row: TeacherLeave) -> None:
    """The teacher isn't away after all: both hand-overs are taken back, or none."""
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        entries = [pk for pk in (row.returned, row.handed) if pk is not None]
        caseload_hand_overs_undo(actor=actor, entries=entries)
        audit_write(actor=actor, district=row.district, action="leave_take_back", row=row)
        row.delete()


def _back(actor: Person, row: TeacherLeave, students: Collection[Student]) -> int | None:
    """What went over goes back; what the receiver had of these students before stays."""
    if row.last_day is None:
        return None
    entry = caseload_hand_over(
        actor=actor,
        giver=row.receiver,
        receiver=row.teacher,
        students=students,
        from_day=row.last_day + DAY,
        back_from=row.handed,
    )
    return entry.pk

"""Arranging who has a teacher's students while that teacher is away or once they have left; changed and taken back.

Every hand-over is one of `caseload.plans.services`, so that nothing before the first day is touched. Whoever takes
the students may be away in turn: leaves that pass the same students on are taken back with the one that is changed,
the latest first, and arranged anew. Each raises `ValidationError` by field, or `ApplicationError`: 403 for anybody
but a coordinator, 404 for what is out of sight, ``changed_since`` where a hand-over can't be taken back.
"""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, Q

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.services import audit_write, district_of, permission_require
from caseload.plans.models import ServiceLine, Student
from caseload.plans.services import caseload_hand_back, caseload_hand_over, caseload_hand_overs_undo
from schedule.leaving.models import TeacherLeave
from schedule.leaving.selectors import leaves_in_turn, students_still

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
        _hand(actor, row, going)
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
    stays = "Minutes stay as they are, and so do days before."
    if row.last_day is None:
        return [there, "They stay there.", *_receiver_away(row), stays]
    back = f"From {date_words(row.last_day + DAY)} they are with {row.teacher} again."
    if row.returned is None:
        back = f"On {date_words(row.last_day + DAY)} there is nothing to give back: others have them from then on."
    return [there, back, *_receiver_away(row), *_renewals(row), stays]


def _receiver_away(row: TeacherLeave) -> list[str]:
    """Where the colleague is away meanwhile, and nobody is named for these students then."""
    away = TeacherLeave.objects.filter(teacher=row.receiver, district=row.district_id)
    away = away.filter(Q(last_day=None) | Q(last_day__gte=row.first_day))
    if row.last_day is not None:
        away = away.filter(first_day__lte=row.last_day)
    lent = away.exclude(students=None).values("students")
    alone = row.students.exclude(pk__in=lent).count()
    first = away.order_by("first_day").first()
    if first is None or not alone:
        return []
    when = f"from {date_words(first.first_day)} on"
    if first.last_day is not None:
        when = span_words(first.first_day, first.last_day)
    students = "1 of these students has" if alone == 1 else f"{alone} of these students have"
    return [f"{first.teacher} is away, too ({when}), and {students} nobody then: say who takes them."]


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


def leave_last_day_change(*, actor: Person, row: TeacherLeave, last_day: dt.date) -> list[str]:
    """The teacher comes back sooner or later than was said: the students go back on the day after another last day.

    Returns what it does, in sentences. Raises ``ApplicationError`` (``for_good``) for a teacher who left.
    """
    permission_require(actor, PERMISSION)
    if row.last_day is None:
        raise ApplicationError(FOR_GOOD, code="for_good")
    before = row.last_day
    row.last_day = last_day
    row.full_clean()
    with transaction.atomic():
        in_turn = _take_out(actor, row, [row.returned])
        row.returned = _back(actor, row, list(row.students.all()))
        row.save(update_fields=["last_day", "returned"])
        anew = _arrange_anew(actor, in_turn)
        told = [*leave_words(row)[1:-1], *anew]
        changes = {"last_day": [before.isoformat(), last_day.isoformat()]}
        audit_write(actor=actor, district=row.district, action="leave_last_day", row=row, changes=changes)
    return told


def leave_last_day_foreseen(*, actor: Person, row: TeacherLeave, last_day: dt.date) -> list[str]:
    """What another last day would do, in sentences; nothing is saved. Raises as the change does."""
    with transaction.atomic():
        told = leave_last_day_change(actor=actor, row=row, last_day=last_day)
        transaction.set_rollback(True)
    row.refresh_from_db()
    return told


def leave_take_back(*, actor: Person, row: TeacherLeave) -> list[str]:
    """The teacher isn't away after all: both hand-overs are taken back, or none.

    Returns what becomes of other leaves of the same students, in sentences.
    """
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        in_turn = _take_out(actor, row, [row.handed, row.returned])
        audit_write(actor=actor, district=row.district, action="leave_take_back", row=row)
        row.delete()
        return _arrange_anew(actor, in_turn)


@dataclass(frozen=True, slots=True)
class _InTurn:
    """A leave that is arranged anew, with the students whom it had."""

    row: TeacherLeave
    students: frozenset[int]


def _take_out(actor: Person, row: TeacherLeave, entries: Iterable[int | None]) -> list[_InTurn]:
    """Take hand-overs of a leave back, after those of every later leave of the same students; returns these."""
    in_turn = [_InTurn(one, frozenset(each.pk for each in one.students.all())) for one in leaves_in_turn(row)]
    every = [*entries, *(pk for one in in_turn for pk in (one.row.handed, one.row.returned))]
    caseload_hand_overs_undo(actor=actor, entries=sorted((pk for pk in every if pk is not None), reverse=True))
    for one in in_turn:
        one.row.students.clear()
    return in_turn


def _arrange_anew(actor: Person, in_turn: Iterable[_InTurn]) -> list[str]:
    """Hand over again, in the order of before, whoever is with the teacher still; a leave of nobody goes."""
    told = []
    for one in in_turn:
        row = one.row
        going = list(students_still(actor, row.teacher, row.first_day).filter(pk__in=one.students))
        if going:
            _hand(actor, row, going)
            told.append(_anew_words(row, len(one.students) - len(going)))
        else:
            told.append(f"“{row}” is taken back as well: nobody of it is with {row.teacher} then.")
            audit_write(actor=actor, district=row.district, action="leave_take_back", row=row)
            row.delete()
    return told


def _anew_words(row: TeacherLeave, fewer: int) -> str:
    if not fewer:
        return f"“{row}” is arranged anew: the same students are with {row.receiver} then."
    students = "1 student" if fewer == 1 else f"{fewer} students"
    verb = "isn't" if fewer == 1 else "aren't"
    return f"“{row}” is arranged anew without {students} who {verb} with {row.teacher} then."


def _hand(actor: Person, row: TeacherLeave, going: list[Student]) -> None:
    """Hand students over on the first day and back after the last, and keep by which entries."""
    there = caseload_hand_over(
        actor=actor, giver=row.teacher, receiver=row.receiver, students=going, from_day=row.first_day
    )
    row.handed = there.pk
    row.returned = _back(actor, row, going)
    row.save()
    row.students.set(going)


def _back(actor: Person, row: TeacherLeave, students: Collection[Student]) -> int | None:
    """What went over goes back; what the receiver had of these students before stays."""
    if row.last_day is None:
        return None
    entry = caseload_hand_back(
        actor=actor,
        giver=row.receiver,
        receiver=row.teacher,
        students=students,
        from_day=row.last_day + DAY,
        entry=row.handed,
    )
    return entry.pk if entry is not None else None

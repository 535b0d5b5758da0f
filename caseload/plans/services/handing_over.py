"""Handing a caseload over: students and their services go to another teacher from a day on, in one step and back.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for anybody but a coordinator, 404 for what is
out of sight, ``nothing_to_undo`` and ``changed_since`` where a hand-over can't be taken back.
"""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from itertools import islice

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.services import NOT_YOUR_ROLE, audit_write, district_of, permission_require
from caseload.plans.enrollment.selectors import HAND_OVER, HAND_OVER_UNDONE, hand_over_is_undone
from caseload.plans.models import CaseloadAssignment, ContinuingService, ServiceLine, Student, caseload_teacher_on
from caseload.plans.selectors import changes_of_service
from caseload.plans.services.changes import service_change
from caseload.plans.services.enrollments import PERMISSION, assignment_take_back, caseload_assign
from caseload.plans.services.kept import CHANGED_SINCE, change_undo

SAME = "Choose another teacher than the one who hands over."
ENTRY_GONE = (
    "The record of this hand-over isn't kept anymore, so it can't be taken back. Hand the students over anew."
)
NOBODY = "None of these students is on this teacher's caseload or served by them on that day. Choose others."


def caseload_hand_over(
    *, actor: Person, giver: Person, receiver: Person, students: Collection[Student], from_day: dt.date
) -> AuditEntry:
    """Give students and the services that `giver` provides to `receiver` from a day on; all before stays.

    Of students who are on somebody else's caseload only the services go over. Returns the entry by which
    `caseload_hand_over_undo` takes it back.
    """
    _givers_require(actor, giver, receiver)
    with transaction.atomic():
        entry = _hand_over(actor, giver, receiver, students, from_day, None)
        if entry is None:
            raise ValidationError({"students": NOBODY})
    return entry


def caseload_hand_back(
    *,
    actor: Person,
    giver: Person,
    receiver: Person,
    students: Collection[Student],
    from_day: dt.date,
    entry: int,
) -> AuditEntry | None:
    """Give back from a day on what went over by an earlier hand-over, the entry of which has this id.

    What `giver` had of these students before stays. None: nothing of it is the giver's then, such as where another
    hand-over says already who has the students on that day.
    """
    _givers_require(actor, giver, receiver)
    with transaction.atomic():
        return _hand_over(actor, giver, receiver, students, from_day, _entry(entry))


def _givers_require(actor: Person, giver: Person, receiver: Person) -> None:
    _coordinator_require(actor, giver, receiver)
    if giver == receiver:
        raise ValidationError({"receiver": SAME})


def _hand_over(
    actor: Person,
    giver: Person,
    receiver: Person,
    students: Collection[Student],
    from_day: dt.date,
    there: AuditEntry | None,
) -> AuditEntry | None:
    """Hand over all that the giver has of these students, or only what went over by an entry."""
    assigned, served = [], []
    lines = _lines_given(giver, from_day, there)
    for student in students:
        if caseload_teacher_on(student, from_day) == giver.pk and _went_over(student, there):
            made = caseload_assign(actor=actor, student=student, teacher=receiver, from_day=from_day)
            assigned.append(made.pk)
        served += _services_give(actor, receiver, lines.filter(plan__student=student), from_day)
    if not assigned and not served:
        return None
    return audit_write(
        actor=actor,
        district=district_of(giver),
        action=HAND_OVER,
        row=giver,
        changes={
            "teacher": [giver.pk, receiver.pk],
            "first_day": [None, from_day.isoformat()],
            "assignments": [None, assigned],
            "services": [None, served],
        },
    )


def hand_over_foreseen(
    *, actor: Person, giver: Person, receiver: Person, students: Collection[Student], from_day: dt.date
) -> list[str]:
    """Who would go over, in a sentence; nothing is saved. Raises what `caseload_hand_over` raises."""
    with transaction.atomic():
        caseload_hand_over(actor=actor, giver=giver, receiver=receiver, students=students, from_day=from_day)
        transaction.set_rollback(True)
    names = ", ".join(one.full_name for one in students)
    return [f"From {date_words(from_day)} with {receiver}: {names}. Minutes stay as they are."]


def _coordinator_require(actor: Person, *people: Person) -> None:
    permission_require(actor, PERMISSION)
    if not actor.is_coordinator:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    for person in people:
        if person.district_id != actor.district_id:
            raise ValidationError({"receiver": "This teacher isn't in the district."})


def _lines_given(giver: Person, from_day: dt.date, back_from: AuditEntry | None) -> QuerySet[ServiceLine]:
    """Every version of the giver's that holds on the day or later, of what went over by an entry or of all."""
    lines = ServiceLine.objects.filter(provider=giver, end__gte=from_day)
    if back_from is not None:
        lines = lines.filter(service__in=back_from.changes["services"][1])
    return lines.select_related("service", "plan__student").order_by("start", "pk")


def _went_over(student: Student, back_from: AuditEntry | None) -> bool:
    """Whether a student's caseload teacher changed by an entry; without one, yes."""
    return back_from is None or student.assignments.filter(pk__in=back_from.changes["assignments"][1]).exists()


def _services_give(actor: Person, receiver: Person, lines: QuerySet[ServiceLine], from_day: dt.date) -> list[int]:
    """Give these versions; returns the changed services, each as often."""
    given = []
    for line in lines:
        day = max(from_day, line.start)
        service_change(actor=actor, row=line, from_day=day, values={"provider": receiver}, seen=None)
        given.append(line.service_id)
    return given


def caseload_hand_over_undo(*, actor: Person, entry: AuditEntry) -> None:
    """Take a hand-over back whole: nothing of it if a service was changed since."""
    _coordinator_require(actor)
    if entry.action != HAND_OVER or entry.district_id != actor.district_id or hand_over_is_undone(entry):
        raise ApplicationError("There is no hand-over here to take back.", code="nothing_to_undo")
    with transaction.atomic():
        for pk, count in Counter(entry.changes["services"][1]).items():
            _service_return(actor, ContinuingService.objects.get(pk=pk), count, entry)
        for row in CaseloadAssignment.objects.filter(pk__in=entry.changes["assignments"][1]):
            assignment_take_back(actor=actor, row=row)
        giver = Person.objects.get(pk=entry.object_id)
        undone = {"entry": [entry.pk, None]}
        audit_write(actor=actor, district=entry.district, action=HAND_OVER_UNDONE, row=giver, changes=undone)


def caseload_hand_overs_undo(*, actor: Person, entries: Iterable[int]) -> None:
    """Take several back whole, in this order, by the ids of their entries; nothing of them if one can't be.

    What was taken back by itself already is left as it is. The record of changes is kept as long as the district
    says: an entry that is gone can't be taken back.
    """
    with transaction.atomic():
        for entry in map(_entry, entries):
            if not hand_over_is_undone(entry):
                caseload_hand_over_undo(actor=actor, entry=entry)


def _entry(pk: int) -> AuditEntry:
    entry = AuditEntry.objects.filter(pk=pk).first()
    if entry is None:
        raise ApplicationError(ENTRY_GONE, code="nothing_to_undo")
    return entry


def _service_return(actor: Person, service: ContinuingService, count: int, entry: AuditEntry) -> None:
    """Take back each change that the hand-over made of a service: one for each version that went over."""
    made = list(islice(_standing(service), count))
    if any(one.pk > entry.pk for one in made):
        raise ApplicationError(CHANGED_SINCE, code="changed_since")
    for one in made:
        change_undo(actor=actor, row=service, entry=one)


def _standing(service: ContinuingService) -> Iterator[AuditEntry]:
    """The changes of a service that weren't taken back, the latest first: each undoing goes with the one before."""
    undone = 0
    for one in changes_of_service(service):
        if one.action == "service_undo":
            undone += 1
        elif undone:
            undone -= 1
        else:
            yield one

"""Which rows are about a student: found by walking along every relation, so that a new table is among them."""

from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import SET_NULL, ManyToOneRel, Model

from caseload.access.models import Access
from caseload.care.models import Caution, Contact, Support, Try
from caseload.delivery.models import CompensatoryTime, DeliveryEntry
from caseload.plans.models import ContinuingService, Plan, Student
from caseload.progress.models import StudentGoal
from caseload.retention.schedule import CARE, CONTACTS, GOALS, PLANS, STUDENTS
from schedule.notices.models import Notice
from schedule.telling.models import ProgressReport
from schedule.weeks.models import SessionAttendee, TimetableAttendee

type Found = dict[type[Model], set[Any]]

_BATCH = 500
BEGINNINGS: dict[str, tuple[type[Model], ...]] = {
    PLANS: (DeliveryEntry, CompensatoryTime, SessionAttendee, TimetableAttendee, Plan, ContinuingService),
    GOALS: (StudentGoal, ProgressReport),
    CARE: (Support, Caution, Try),
    CONTACTS: (Contact,),
}
"""Where the walk begins for records of a kind; of all of a student's at the student."""
UNSTEADY = frozenset({"caseload.access_students", "caseload.careview"})
"""Written whenever somebody looks: they go along, and make no other list."""


def rows_about(student: int, kind: str) -> Found:
    """Keys of all rows of a kind about a student, by table."""
    found: Found = {}
    if kind == STUDENTS:
        walk(Student, {student}, found)
        return found
    for model in BEGINNINGS[kind]:
        keys = set(model._meta.base_manager.filter(student=student).values_list("pk", flat=True))
        walk(model, keys, found)
    return {model: keys for model, keys in found.items() if keys}


def walk(model: type[Model], keys: set[Any], found: Found) -> None:
    """Note these rows, and walk on to all that point to them and weren't noted yet."""
    fresh = keys - found.get(model, set())
    if not fresh:
        return
    found.setdefault(model, set()).update(fresh)
    for relation in relations_to(model):
        if _goes_along(relation):
            walk(relation.related_model, pointing(relation, fresh), found)


def relations_to(model: type[Model]) -> Iterator[ManyToOneRel]:
    """Every foreign key to a table, those of many-to-many tables as well."""
    for relation in model._meta.get_fields(include_hidden=True):
        if isinstance(relation, ManyToOneRel):
            yield relation


def _goes_along(relation: ManyToOneRel) -> bool:
    """What would only be loosened stays, but for a message to a contact, which names the contact."""
    return relation.on_delete is not SET_NULL or relation.related_model is Notice


def pointing(relation: ManyToOneRel, keys: Iterable[Any]) -> set[Any]:
    """Keys of the rows that point to these by a relation."""
    rows = relation.related_model._meta.base_manager
    name = relation.field.name
    return {
        pk for part in parts_of(keys) for pk in rows.filter(**{f"{name}__in": part}).values_list("pk", flat=True)
    }


def parts_of(keys: Iterable[Any]) -> Iterator[list[Any]]:
    """A few hundred at a time: databases limit the values of a statement."""
    listed = sorted(keys, key=str)
    return (listed[start : start + _BATCH] for start in range(0, len(listed), _BATCH))


def counted(found: Found) -> dict[str, int]:
    """How many rows of which table, but for those that are written by looking."""
    return {label: len(keys) for label, keys in labeled(found).items()}


def labeled(found: Found) -> dict[str, set[Any]]:
    """By the table's label, without what is written by looking."""
    rows = {model._meta.label_lower: keys for model, keys in found.items() if keys}
    return {label: keys for label, keys in sorted(rows.items()) if label not in UNSTEADY}


def seen_by(found: Found) -> set[int]:
    """Records of who saw what that name nobody but these students."""
    students = found.get(Student, set())
    rows = Access.objects.filter(students__in=students)
    return set(rows.values_list("pk", flat=True)) - set(
        Access.objects.filter(pk__in=rows.values("pk"), students__isnull=False)
        .exclude(students__in=students)
        .values_list("pk", flat=True)
    )

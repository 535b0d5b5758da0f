"""What was done to a student's care last, taken back."""

from collections.abc import Mapping
from typing import Any

from django.db import models, transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, permission_require, record_change, record_remove
from caseload.care.selectors import CARE_MODELS, UNDO, last_change
from caseload.care.services.records import PERMISSION
from caseload.plans.models import SchoolClass, Student

NOTHING_TO_UNDO = "There is no change to take back here, or it has been taken back already."
CHANGED_SINCE = "Somebody has changed this since. Look at it as it is now, and change it by hand."


def care_take_back(*, actor: Person, about: Student | SchoolClass, seen: int | None = None) -> None:
    """Undo what was done last to a student's care or a class's contacts.

    What was added goes, what was removed is there again. `seen`: the id of the change that the person saw. Raises
    `ApplicationError`: ``nothing_to_undo``, ``changed_since``, 403 for the role, 404 for what is out of sight.
    """
    permission_require(actor, PERMISSION)
    if not type(about).objects.visible_to(actor).filter(pk=about.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        last = last_change(about)
        if last is None or seen not in {None, last.entry.pk}:
            raise ApplicationError(NOTHING_TO_UNDO, code="nothing_to_undo")
        model = CARE_MODELS[last.entry.model]
        row = model._meta.base_manager.filter(pk=last.entry.object_id).first()
        _put_back(actor, model, row, last.entry.changes)


def _put_back(
    actor: Person, model: type[models.Model], row: models.Model | None, changes: Mapping[str, Any]
) -> None:
    was_new, was_removed = changes.get("id", [0, 0])[0] is None, changes.get("id", [0, 0])[1] is None
    if was_removed == (row is not None):
        raise ApplicationError(CHANGED_SINCE, code="changed_since")
    if row is None:
        _save(actor, _bare(model, changes), changes)
        return
    _as_left_require(row, changes)
    if was_new:
        record_remove(actor=actor, row=row, action=UNDO, permission=PERMISSION)
    else:
        _save(actor, row, changes)


def _bare(model: type[models.Model], changes: Mapping[str, Any]) -> models.Model:
    """A new row with what it belongs to, which the service asks first."""
    row = model()
    for field in model._meta.concrete_fields:
        if isinstance(field, models.ForeignKey) and changes.get(field.name):
            setattr(row, field.attname, changes[field.name][0])
    return row


def _as_left_require(row: models.Model, changes: Mapping[str, Any]) -> None:
    """Refuse where a field isn't as the change left it."""
    values = {name: after for name, (_, after) in changes.items() if name != "id"}
    if any(_now(row, name) != _read(row, name, after) for name, after in values.items()):
        raise ApplicationError(CHANGED_SINCE, code="changed_since")


def _now(row: models.Model, name: str) -> Any:
    field = row._meta.get_field(name)
    if isinstance(field, models.ManyToManyField):
        return sorted(getattr(row, name).values_list("pk", flat=True))
    return getattr(row, field.attname) if isinstance(field, models.Field) else None


def _read(row: models.Model, name: str, value: Any) -> Any:
    """A value as the audit keeps it, as the row has it."""
    field = row._meta.get_field(name)
    if isinstance(field, models.ManyToManyField):
        return sorted(value or ())
    return field.to_python(value) if isinstance(field, models.Field) else None


def _save(actor: Person, row: models.Model, changes: Mapping[str, Any]) -> None:
    values: dict[str, Any] = {}
    for name, told in changes.items():
        field = row._meta.get_field(name)
        if isinstance(field, models.ManyToManyField):
            values[name] = list(field.related_model._meta.base_manager.filter(pk__in=told[0] or ()))
        elif isinstance(field, models.ForeignKey):
            values[name] = field.related_model._meta.base_manager.filter(pk=told[0]).first()
        elif name != "id" and isinstance(field, models.Field):
            values[name] = field.to_python(told[0])
    record_change(actor=actor, row=row, values=values, action=UNDO, permission=PERMISSION)

"""What was done last to a row, taken back as the audit has it."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import models, transaction

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.selectors import LastChange
from accounts.services.records import permission_require, record_change, record_remove
from accounts.validation import Rule

NOTHING_TO_UNDO = "There is no change to take back here, or it has been taken back already."
CHANGED_SINCE = "Somebody has changed this since. Look at it as it is now, and change it by hand."


def last_change_undo(
    *,
    actor: Person,
    model: type[models.Model],
    last: LastChange | None,
    seen: int | None,
    action: str,
    permission: str,
    rules: Iterable[Rule[Any]] = (),
) -> models.Model | None:
    """Take the last change back, if it is the one that the person saw (`seen`: its entry's id).

    What was added goes; what was removed is there again and is given back. Raises `ApplicationError`:
    ``nothing_to_undo``, ``changed_since``, 403 for the role; `ValidationError` where another has its place now.
    """
    permission_require(actor, permission)
    if last is None or seen not in {None, last.entry.pk}:
        raise ApplicationError(NOTHING_TO_UNDO, code="nothing_to_undo")
    with transaction.atomic():
        return change_undo(
            actor=actor, model=model, entry=last.entry, action=action, permission=permission, rules=rules
        )


def change_undo(
    *,
    actor: Person,
    model: type[models.Model],
    entry: AuditEntry,
    action: str,
    permission: str,
    rules: Iterable[Rule[Any]] = (),
) -> models.Model | None:
    """Put back what a change of one row did; None where the row goes by that."""
    row, changes = model._meta.base_manager.filter(pk=entry.object_id).first(), entry.changes
    was_new, was_removed = changes.get("id", [0, 0])[0] is None, changes.get("id", [0, 0])[1] is None
    if was_removed == (row is not None):
        raise ApplicationError(CHANGED_SINCE, code="changed_since")
    if row is not None:
        _as_left_require(row, changes)
    if row is not None and was_new:
        record_remove(actor=actor, row=row, action=action, permission=permission)
        return None
    row = row or _bare(model, changes)
    return record_change(
        actor=actor, row=row, values=_values(row, changes), action=action, permission=permission, rules=rules
    )


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


def _values(row: models.Model, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The row's fields as they were before."""
    values: dict[str, Any] = {}
    for name, told in changes.items():
        field = row._meta.get_field(name)
        if isinstance(field, models.ManyToManyField):
            values[name] = list(field.related_model._meta.base_manager.filter(pk__in=told[0] or ()))
        elif isinstance(field, models.ForeignKey):
            values[name] = field.related_model._meta.base_manager.filter(pk=told[0]).first()
        elif name != "id" and isinstance(field, models.Field):
            values[name] = field.to_python(told[0])
    return values

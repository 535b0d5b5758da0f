"""Writes: one way to save, delete and audit a row, used by every floor above."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import models, transaction
from django.db.models import ProtectedError
from django.forms.models import model_to_dict

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District, Person

type Changes = dict[str, list[Any]]


def _state(row: models.Model) -> dict[str, Any]:
    return {
        name: [related.pk for related in value] if isinstance(value, list) else value
        for name, value in model_to_dict(row).items()
    }


def audit_write(
    *,
    actor: Person | None,
    district: District,
    action: str,
    row: models.Model,
    changes: Changes | None = None,
) -> AuditEntry:
    """Record one change; call it inside the transaction of the change."""
    return AuditEntry.objects.create(
        actor=actor,
        district=district,
        action=action,
        model=row._meta.label_lower,
        object_id=str(row.pk),
        changes=changes or {},
    )


def record_save[M: models.Model](
    *, actor: Person, row: M, values: Mapping[str, Any], action: str, exclude: Iterable[str] = ()
) -> M:
    """Set `values` on a new or an existing row, validate all of it, save it and audit what changed.

    Many-to-many fields may stand among the values. The row's `district` must be set or reachable by a
    `district` property. Raises Django's `ValidationError` by field; then nothing is saved.
    """
    many = {field.name for field in row._meta.many_to_many}
    with transaction.atomic():
        before = _state(row) if row.pk else {}
        for name, value in values.items():
            if name not in many:
                setattr(row, name, value)
        row.full_clean(exclude=set(exclude) or None)
        row.save()
        for name in many & set(values):
            getattr(row, name).set(values[name])
        after = _state(row)
        changes = {name: [before.get(name), after[name]] for name in after if before.get(name) != after[name]}
        if changes:
            audit_write(actor=actor, district=district_of(row), action=action, row=row, changes=changes)
    return row


def record_delete(*, actor: Person, row: models.Model, action: str) -> None:
    """Delete a row and audit it.

    Raises `ApplicationError` if other rows still need it; then nothing is deleted.
    """
    with transaction.atomic():
        district = district_of(row)
        audit_write(
            actor=actor,
            district=district,
            action=action,
            row=row,
            changes={name: [value, None] for name, value in _state(row).items()},
        )
        try:
            row.delete()
        except ProtectedError as error:
            kinds = sorted({str(other._meta.verbose_name_plural) for other in error.protected_objects})
            raise ApplicationError(
                f"This {row._meta.verbose_name} is still used by {', '.join(kinds)}. Change or remove those first.",
                code="still_used",
            ) from error


def district_of(row: models.Model) -> District:
    """The district that a row belongs to, by its own field or by its parent's."""
    district = getattr(row, "district", None)
    if not isinstance(district, District):
        message = f"{type(row).__name__} has no district"
        raise TypeError(message)
    return district

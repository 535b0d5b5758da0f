"""Writes: one way to save, delete and audit a row, used by every floor above."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import models, transaction
from django.db.models import ProtectedError, RestrictedError
from django.forms.models import model_to_dict
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.guards import guards_ask, has_guards
from accounts.idempotency.shared import is_tapped, shared
from accounts.models import AuditEntry, District, Person
from accounts.selectors import today_of
from accounts.validation import Problems, Rule, row_validate, rules_check

type Changes = dict[str, list[Any]]

NOT_YOUR_ROLE = "Your role doesn't allow this. Ask the coordinator if you need it."
NOT_THERE = "There is nothing here that you can see."
NOT_LISTED = "Choose one from the list."


def permission_require(actor: Person, permission: str) -> None:
    """Raise `ApplicationError` (403) unless the person's role may do this (accounts.permissions)."""
    if not actor.has_perm(permission):
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)


def coordinator_require(actor: Person) -> None:
    """Raise ``ApplicationError`` (403) for anybody but a coordinator of a district."""
    if not actor.is_coordinator or actor.district_id is None:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)


def record_change[M: models.Model](
    *,
    actor: Person,
    row: M,
    values: Mapping[str, Any],
    action: str,
    permission: str,
    exclude: Iterable[str] = (),
    rules: Iterable[Rule[M]] = (),
    problems: Problems | None = None,
) -> M:
    """`record_save` for a person: the role may do it, and the row and all that it points to are theirs to change.

    A new row without a district gets the actor's. Raises `ApplicationError` (403 for the role, 404 for a row or
    parent out of sight) or `ValidationError` by field.
    """
    permission_require(actor, permission)
    _row_require(actor, row)
    unseen = {
        name: NOT_LISTED
        for name, wanted in _pointed_to(row, values)
        if not all(_is_changeable(actor, one) for one in wanted)
    }
    if set(unseen) - set(values):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    _own_require(actor, row, values)
    return record_save(
        actor=actor,
        row=row,
        values=values,
        action=action,
        exclude=exclude,
        rules=rules,
        problems={**(problems or {}), **unseen},
    )


def record_remove(*, actor: Person, row: models.Model, action: str, permission: str) -> None:
    """`record_delete` for a person: the role may do it and the row is theirs to change."""
    permission_require(actor, permission)
    _row_require(actor, row)
    record_delete(actor=actor, row=row, action=action)


def record_put_away[M: models.Model](*, actor: Person, row: M, action: str, permission: str) -> M:
    """Take a row with a `removed_at` out of the lists, as `record_change` saves it; nothing of it is lost."""
    values = {"removed_at": timezone.now()}
    return record_change(actor=actor, row=row, values=values, action=action, permission=permission)


def record_bring_back[M: models.Model](*, actor: Person, row: M, action: str, permission: str) -> M:
    """Put what was put away into the lists again. Raises `ValidationError` where another has its place now."""
    return record_change(actor=actor, row=row, values={"removed_at": None}, action=action, permission=permission)


def _row_require(actor: Person, row: models.Model) -> None:
    if row.pk and not _is_changeable(actor, row):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if hasattr(row, "district_id"):
        if row.district_id is None:
            row.district = actor.district  # type: ignore[attr-defined]  # with its id, which is there
        elif row.district_id != actor.district_id:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _pointed_to(row: models.Model, values: Mapping[str, Any]) -> Iterable[tuple[str, list[models.Model]]]:
    """Each relation of the row with the rows that it will point to."""
    for field in row._meta.many_to_many:
        yield field.name, list(values.get(field.name) or ())
    for plain in row._meta.concrete_fields:
        if isinstance(plain, models.ForeignKey) and plain.name != "district":
            kept = getattr(row, plain.name) if getattr(row, plain.attname) is not None else None
            wanted = values.get(plain.name, kept)
            yield plain.name, [wanted] if wanted is not None else []


def _is_changeable(actor: Person, row: models.Model) -> bool:
    if isinstance(row, Person):
        return row.district_id is not None and row.district_id == actor.district_id
    changeable_by = getattr(type(row)._meta.default_manager, "changeable_by", None)
    if changeable_by is None:
        return district_of(row).pk == actor.district_id

    def read() -> bool:
        return bool(changeable_by(actor).filter(pk=row.pk).exists())

    if is_tapped(type(row)):
        return read()
    return shared(("changeable", type(row), actor.pk, today_of(actor), row.pk), read, at_once=True)


def _own_require(actor: Person, row: models.Model, values: Mapping[str, Any]) -> None:
    """A row about one teacher's work is that teacher's, or the coordinator's to change."""
    if actor.is_coordinator or "teacher" not in {field.name for field in row._meta.concrete_fields}:
        return
    kept = getattr(row, "teacher", None) if getattr(row, "teacher_id", None) is not None else None
    if {kept, values.get("teacher", kept)} - {None, actor}:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _state(row: models.Model) -> dict[str, Any]:
    return {
        name: [one.pk if isinstance(one, models.Model) else one for one in value]
        if isinstance(value, list)
        else value
        for name, value in model_to_dict(row).items()
        if name != "password"
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


def audit_write_many(*, entries: Iterable[AuditEntry]) -> None:
    """Record many changes that were made at once; call it inside their transaction."""
    AuditEntry.objects.bulk_create(entries, batch_size=500)


def record_save[M: models.Model](
    *,
    actor: Person,
    row: M,
    values: Mapping[str, Any],
    action: str,
    exclude: Iterable[str] = (),
    rules: Iterable[Rule[M]] = (),
    problems: Problems | None = None,
) -> M:
    """Set `values` on a new or an existing row, validate all of it, save it and audit what changed.

    Many-to-many fields may be among the values. The row's `district` must be set or reachable by a
    `district` property. `problems` that the caller found are raised together with the row's own; `rules` hold the
    row against others once it is valid by itself. Raises Django's `ValidationError` by field; then nothing is
    saved.
    """
    many = {field.name for field in row._meta.many_to_many}
    with transaction.atomic():
        before = _state(row) if row.pk else {}
        was = _as_saved(row)
        for name, value in values.items():
            if name not in many:
                setattr(row, name, value)
        row_validate(row, exclude=exclude, problems=problems)
        rules_check(row, values, rules)
        row.save()
        guards_ask(was, row)
        for name in many & set(values):
            getattr(row, name).set(values[name])
        after = _state(row)
        changes = {name: [before.get(name), after[name]] for name in after if before.get(name) != after[name]}
        if changes:
            audit_write(actor=actor, district=district_of(row), action=action, row=row, changes=changes)
    return row


def _as_saved(row: models.Model) -> models.Model | None:
    """The row as the database has it, where somebody holds that against its change."""
    if not row.pk or not has_guards(type(row)):
        return None
    return type(row)._meta.base_manager.filter(pk=row.pk).first()


def record_delete(*, actor: Person, row: models.Model, action: str) -> None:
    """Delete a row and audit it.

    Raises `ApplicationError` if other rows still need it; then nothing is deleted.
    """
    with transaction.atomic():
        district = district_of(row)
        guards_ask(row, None)
        audit_write(
            actor=actor,
            district=district,
            action=action,
            row=row,
            changes={name: [value, None] for name, value in _state(row).items()},
        )
        try:
            row.delete()
        except (ProtectedError, RestrictedError) as error:
            kept = error.protected_objects if isinstance(error, ProtectedError) else error.restricted_objects
            kinds = sorted({str(other._meta.verbose_name_plural) for other in kept})
            raise ApplicationError(
                f"This {row._meta.verbose_name} is still used by {', '.join(kinds)}. Change or remove those first.",
                code="still_used",
            ) from error


def district_of(row: models.Model) -> District:
    """The district that a row belongs to, by its own field or by its parent's; a district is its own."""
    district = row if isinstance(row, District) else getattr(row, "district", None)
    if not isinstance(district, District):
        message = f"{type(row).__name__} has no district"
        raise TypeError(message)
    return district

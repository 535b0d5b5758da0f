"""Writes the rows that an import ended with, or those that were before it, in few statements.

The services have said before what these rows are (schedule.imports.rows.rehearse); here they are only put into the
tables, so that the transaction is short. No signal is sent: feeds are marked by the callers.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.core import serializers
from django.core.serializers.base import DeserializedObject
from django.db import DEFAULT_DB_ALIAS
from django.db.models import Model

from accounts.models import Person
from schedule.imports.rows.snapshot import KEPT_OF, Change, links_of, model_of

_BATCH = 500


@dataclass(frozen=True, slots=True)
class RowWrites:
    """What is to be done, read and converted before any lock is taken.

    `gone` are keys of rows by model, those last that others point to; `put` are rows to be made or replaced.
    """

    gone: Sequence[tuple[type[Model], Sequence[str]]]
    put: Sequence[tuple[type[Model], Sequence[DeserializedObject]]]


def row_writes(changes: Iterable[Change]) -> RowWrites:
    """Read changes; those that make rows stand in the order in which they point to each other."""
    gone: dict[type[Model], list[str]] = {}
    put: dict[type[Model], list[DeserializedObject]] = {}
    for change in changes:
        model = model_of(change.model)
        if change.after is None:
            gone.setdefault(model, []).append(change.object_id)
        else:
            stored = {"model": change.model, "pk": change.object_id, "fields": change.after}
            put.setdefault(model, []).extend(serializers.deserialize("python", [stored]))
    return RowWrites(tuple(gone.items())[::-1], tuple(put.items()))


def rows_write(*, writes: RowWrites) -> None:
    """Delete and put; call it in the transaction of the import. Raises Django's `IntegrityError`."""
    for model, keys in writes.gone:
        for some in _parts(keys):
            for links in links_of(model):
                links.of(some).delete()
            # Nothing goes along: what did in the rehearsal is named by itself.
            rows = model._meta.base_manager.filter(pk__in=some)
            rows._raw_delete(DEFAULT_DB_ALIAS)  # noqa: SLF001 -- the one way that looks for no dependents
    for model, made in writes.put:
        for part in _parts(made):
            _put(model, part)


def _parts[T](items: Sequence[T]) -> Iterator[Sequence[T]]:
    """A few hundred at a time: databases limit the values of a statement."""
    return (items[start : start + _BATCH] for start in range(0, len(items), _BATCH))


def _put(model: type[Model], rows: Sequence[DeserializedObject]) -> None:
    """Make or replace rows, linked to exactly what each says; what isn't kept of a row stays as it is in it."""
    for row in rows:
        if isinstance(row.object, Person):
            # For those who are made: nobody signs in before a password is chosen or given.
            row.object.set_unusable_password()
    model._meta.base_manager.bulk_create(
        [row.object for row in rows],
        update_conflicts=True,
        unique_fields=[model._meta.pk.name],
        update_fields=KEPT_OF.get(model)
        or [field.name for field in model._meta.concrete_fields if not field.primary_key],
    )
    if model not in KEPT_OF:
        _put_links(model, rows)


def _put_links(model: type[Model], rows: Sequence[DeserializedObject]) -> None:
    for links in links_of(model):
        links.of([row.object.pk for row in rows]).delete()
        links.table._meta.base_manager.bulk_create(
            links.table(**{links.own: row.object.pk, links.other: linked})
            for row in rows
            for linked in (row.m2m_data or {}).get(links.field, ())
        )

"""Everything that is kept about one student, table by table, for a request of records (34 CFR 99.10).

The tables are found by walking from the student along every relation that points here, so that a table which is
added later is among them. Rows about another student that only name this one are that student's record.
"""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import ForeignKey, ManyToOneRel, Model, QuerySet
from django.utils import timezone

from accounts.models import AuditEntry
from caseload.plans.models import Student

OF_OTHERS = frozenset({"named_in_supports"})
"""Relations that lead to rows about somebody else."""
_BATCH = 500


@dataclass(frozen=True, slots=True)
class ArchiveTable:
    """One table: what it is called, and its cells as text."""

    name: str
    title: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def student_tables(student: Student) -> list[ArchiveTable]:
    """The student's own row first, then every table with rows of the student's, then what was changed of them."""
    found: dict[type[Model], set[Any]] = {}
    _walk(Student, {student.pk}, found)
    tables = [_table(model, keys) for model, keys in found.items() if keys]
    return [*tables, _history(found)]


def _walk(model: type[Model], keys: set[Any], found: dict[type[Model], set[Any]]) -> None:
    """Note these rows, and walk on to all that point to them and weren't noted yet."""
    fresh = keys - found.setdefault(model, set())
    found[model] |= fresh
    for relation in model._meta.related_objects if fresh else ():
        if isinstance(relation, ManyToOneRel) and relation.related_name not in OF_OTHERS:
            _walk(relation.related_model, _pointing(relation, fresh), found)


def _pointing(relation: ManyToOneRel, keys: set[Any]) -> set[Any]:
    rows = relation.related_model._meta.base_manager
    name = relation.field.name
    return {pk for part in _parts(keys) for pk in rows.filter(**{f"{name}__in": part}).values_list("pk", flat=True)}


def _parts(keys: Iterable[Any]) -> Iterator[list[Any]]:
    """A few hundred at a time: databases limit the values of a statement."""
    listed = sorted(keys, key=str)
    return (listed[start : start + _BATCH] for start in range(0, len(listed), _BATCH))


def _table(model: type[Model], keys: set[Any]) -> ArchiveTable:
    fields = [*model._meta.concrete_fields, *model._meta.local_many_to_many]
    linked = [one.name for one in model._meta.concrete_fields if isinstance(one, ForeignKey)]
    rows = [
        tuple(_cell(row, field.name) for field in fields)
        for part in _parts(keys)
        for row in _rows(model, part, linked)
    ]
    title = str(model._meta.verbose_name_plural).capitalize()
    headers = tuple(str(getattr(field, "verbose_name", field.name)).capitalize() for field in fields)
    return ArchiveTable(model._meta.model_name or "", title, headers, tuple(rows))


def _rows(model: type[Model], keys: list[Any], linked: list[str]) -> QuerySet[Model]:
    return model._meta.base_manager.filter(pk__in=keys).select_related(*linked).order_by("pk")


def _cell(row: Model, name: str) -> str:
    """A value in words: choices as they are read, other rows by what they are called."""
    shown = getattr(row, f"get_{name}_display", None)
    value = shown() if callable(shown) else getattr(row, name)
    if hasattr(value, "all"):
        return ", ".join(str(one) for one in value.all())
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _moment(value) if isinstance(value, dt.datetime) else str(value)


def _moment(value: dt.datetime) -> str:
    return timezone.localtime(value).isoformat(" ", "minutes")


def _history(found: dict[type[Model], set[Any]]) -> ArchiveTable:
    """Every change of these rows that was written down."""
    entries = [
        entry
        for model, keys in found.items()
        for part in _parts(str(key) for key in keys)
        for entry in AuditEntry.objects.filter(model=model._meta.label_lower, object_id__in=part).select_related(
            "actor"
        )
    ]
    rows = tuple(
        (
            _moment(one.at),
            str(one.actor or ""),
            one.action,
            one.model.rpartition(".")[2],
            one.object_id,
            "; ".join(f"{name}: {_told(pair)}" for name, pair in one.changes.items()),
        )
        for one in sorted(entries, key=lambda one: one.pk)
    )
    return ArchiveTable(
        "history", "What was changed", ("When", "Who", "What", "Table", "Row", "Before and after"), rows
    )


def _told(pair: object) -> str:
    return " → ".join(str(one) for one in pair) if isinstance(pair, list) else str(pair)

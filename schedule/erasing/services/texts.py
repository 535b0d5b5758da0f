"""Takes a student's name out of every text of a district that is about something else."""

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db.models import CharField, Field, ForeignKey, JSONField, Model, Q, QuerySet, TextField
from django.db.models.functions import Cast

from accounts.models import District, Person
from caseload.months.models import LogMonthAct
from caseload.plans.models import Student
from caseload.retention.models import ErasureRun, PermanentRecord
from jobs.models import Job
from schedule.erasing.scrubbing import NameTexts
from schedule.reports.models import StoredReport

KEPT_AS_THEY_ARE = (District, Person, Student, PermanentRecord, ErasureRun)
"""Whose names are their own; the permanent record, which is kept on purpose; lists without names."""
SIGNED = {(LogMonthAct, "content")}
"""What a digest was made of: ids, minutes and digests of notes, no name."""
type Column = Field[Any, Any]
FARTHEST = 4
"""Foreign keys from a row to its district."""


def names_take_out(*, district: District, names: NameTexts, is_only_one: bool) -> int:
    """Put `[erased]` in the place of a student's name in all texts of a district; returns in how many rows.

    Where another student has the same name only the code is taken out: the name may be theirs. Call it inside a
    transaction.
    """
    known = names if is_only_one else NameTexts("", "", names.code)
    return sum(_of_table(model, paths, district, known) for model, paths in tables_of_districts())


def tables_of_districts() -> Iterator[tuple[type[Model], list[str]]]:
    """Every table with texts whose rows belong to a district, with the ways there."""
    for model in apps.get_models():
        paths = district_paths(model)
        if paths and model not in KEPT_AS_THEY_ARE and text_fields(model):
            yield model, paths


def district_paths(model: type[Model], far: int = FARTHEST) -> list[str]:
    """How a query finds the district of a row (``student__district``); several where a row hangs on one of them."""
    if model is Job:
        return ["district_number"]
    keys = [one for one in model._meta.concrete_fields if isinstance(one, ForeignKey)]
    own = [one.name for one in keys if one.related_model is District]
    sure = own or _paths_along(keys, far - 1, null=False)
    return sorted(sure, key=len)[:1] or _paths_along(keys, far - 1, null=True)


def _paths_along(keys: "list[ForeignKey[Any, Any]]", far: int, *, null: bool) -> list[str]:
    known = [one for one in keys if far and one.null is null and one.related_model is not one.model]
    return [f"{one.name}__{onward}" for one in known for onward in district_paths(one.related_model, far)]


def text_fields(model: type[Model]) -> list[Column]:
    """Columns in which somebody, or the program, may have written a sentence."""
    fields = [one for one in model._meta.concrete_fields if isinstance(one, CharField | TextField | JSONField)]
    return [one for one in fields if not one.choices and not one.primary_key and (model, one.name) not in SIGNED]


def _of_table(model: type[Model], paths: list[str], district: District, names: NameTexts) -> int:
    fields, mine = text_fields(model), Q()
    for path in paths:
        mine |= Q(**{path: district.pk})
    rows = model._meta.base_manager.filter(mine)
    count = 0
    for row in _with_a_name(rows, fields, names).iterator(chunk_size=200):
        changed = {one.name: _without(one, row, names) for one in fields}
        changed = {name: value for name, value in changed.items() if value != getattr(row, name)}
        if changed:
            count += model._meta.base_manager.filter(pk=row.pk).update(**changed)
    return count


def _with_a_name(rows: QuerySet[Any], fields: list[Column], names: NameTexts) -> QuerySet[Any]:
    held, as_text = Q(), {}
    for one in fields:
        name, texts = one.name, names.texts
        if isinstance(one, JSONField):
            name, texts = f"{one.name}_as_text", names.in_json
            as_text[name] = Cast(one.name, TextField())
        if rows.model is StoredReport and isinstance(one, JSONField):
            texts = (*texts, names.code)
        for text in texts:
            held |= Q(**{f"{name}__icontains": text})
    found: QuerySet[Any] = rows.annotate(**as_text).filter(held)
    return found


def _without(field: Column, row: Model, names: NameTexts) -> Any:
    value = getattr(row, field.name)
    if isinstance(field, JSONField):
        return names.taken_out_of_json(value, (names.code,) if isinstance(row, StoredReport) else ())
    return names.taken_out(value, field.max_length) if value else value

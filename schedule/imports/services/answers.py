"""Answers to what a preview asks: which reading a statement or a time has, which building is meant."""

from collections.abc import Collection
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from jobs.services import job_add
from schedule.imports.models import ImportBatch
from schedule.imports.services.saving import NOT_IN_PREVIEW, claim_batch
from schedule.imports.services.tables import check, checked_values, files_from_json, require_sender
from schedule.imports.services.work import CHECK, MOST_AT_ONCE
from schedule.imports.tables.columns import ColumnKind
from schedule.imports.tables.every import find_table

IN_THEIR_CELL = (ColumnKind.CLOCK, ColumnKind.PLACE)
NOT_ASKED = "The preview doesn't ask this anymore. Look at what it says now."


def import_answer(*, actor: Person, batch: ImportBatch, table: str, value: str, reading: str) -> ImportBatch:
    """Read a value as `reading` in every row of the table where it is asked about, and check again.

    A statement's goes into the column “Read as” of the rows that were sent, a time's and a building's into its own
    cell, as if the file had said so. Raises `ApplicationError`: ``not_in_preview``, or
    ``not_asked`` where the preview offers no such reading.
    """
    require_sender(actor, batch)
    batch.refresh_from_db()
    if batch.state != ImportBatch.State.PREVIEW:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")
    asked = [one for one in batch.content.get("problems", []) if one["table"] == table and one["value"] == value]
    cells = {(one["row"], one["column"]) for one in asked if reading in one.get("readings", ())}
    if not cells:
        raise ApplicationError(NOT_ASKED, code="not_asked")
    _fill(batch.content, table, _alike(batch.content, table, cells), reading)
    if batch.row_count <= MOST_AT_ONCE:
        check(batch, files_from_json(batch.content))
        ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PREVIEW).update(**checked_values(batch))
        return batch
    with transaction.atomic():
        claim_batch(batch, ImportBatch.State.PREVIEW)
        batch.state = ImportBatch.State.CHECKING
        batch.job = job_add(kind=CHECK, payload={}, district=batch.district_id)
        batch.save(update_fields=["state", "content", "job"])
    return batch


def _fill(content: dict[str, Any], kind: str, places: Collection[tuple[int, str]], reading: str) -> None:
    """Put a reading into cells of a table, by row and header."""
    table = find_table(kind)
    columns = {column.header: column for column in table.columns} if table else {}
    own = {header: column.name for header, column in columns.items() if column.kind in IN_THEIR_CELL}
    rows = _rows(content, kind)
    for number, header in places:
        rows[number][own.get(header, "reading")] = reading


def _rows(content: dict[str, Any], kind: str) -> dict[int, dict[str, Any]]:
    """The cells of a table by their row's number."""
    return {number: cells for file in content["files"] if file["kind"] == kind for number, cells in file["rows"]}


def _alike(content: dict[str, Any], kind: str, cells: Collection[tuple[int, str]]) -> set[tuple[int, str]]:
    """The cells, and those that name the same building: of a set of rows only the first is asked about."""
    table = find_table(kind)
    names = {one.header: one.name for one in table.columns if one.kind is ColumnKind.PLACE} if table else {}
    rows = _rows(content, kind)
    meant = {(header, rows[number][names[header]]) for number, header in cells if header in names}
    told = {(number, header) for number in rows for header, _ in meant}
    return {*cells, *((at, header) for at, header in told if (header, rows[at].get(names[header])) in meant)}

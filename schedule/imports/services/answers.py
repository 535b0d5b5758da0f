"""Answers to what a preview asks: which of two readings a statement has."""

from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from jobs.services import job_add
from schedule.imports.models import ImportBatch
from schedule.imports.services.saving import NOT_IN_PREVIEW, claim_batch
from schedule.imports.services.tables import check, checked_values, files_from_json, require_sender
from schedule.imports.services.work import CHECK, MOST_AT_ONCE

NOT_ASKED = "The preview doesn't ask this anymore. Look at what it says now."


def import_answer(*, actor: Person, batch: ImportBatch, table: str, value: str, reading: str) -> ImportBatch:
    """Read a statement as `reading` in every row of the table whose statement is `value`, and check again.

    The answer goes into the column “Read as” of the rows that were sent, as if the file had said so. Raises
    `ApplicationError`: ``not_in_preview``, or ``not_asked`` where the preview offers no such reading.
    """
    require_sender(actor, batch)
    batch.refresh_from_db()
    if batch.state != ImportBatch.State.PREVIEW:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")
    asked = [one for one in batch.content.get("problems", []) if one["table"] == table and one["value"] == value]
    rows = {one["row"] for one in asked if reading in one.get("readings", ())}
    if not rows:
        raise ApplicationError(NOT_ASKED, code="not_asked")
    _fill(batch.content, table, rows, reading)
    if batch.row_count <= MOST_AT_ONCE:
        check(batch, files_from_json(batch.content))
        ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PREVIEW).update(**checked_values(batch))
        return batch
    with transaction.atomic():
        claim_batch(batch, ImportBatch.State.PREVIEW)
        batch.state = ImportBatch.State.CHECKING
        batch.job = job_add(kind=CHECK, payload={})
        batch.save(update_fields=["state", "content", "job"])
    return batch


def _fill(content: dict[str, Any], table: str, rows: set[int], reading: str) -> None:
    for file in content["files"]:
        if file["kind"] == table:
            for number, cells in file["rows"]:
                if number in rows:
                    cells["reading"] = reading

"""Imports of many rows: a job checks and saves them, and the page shows how far it is.

What a press of the button starts is in the database before the press is answered; a job that is cut off and begun
again does the same once more, and writes once.
"""

from collections.abc import Callable

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from jobs.services import job_add
from schedule.imports.models import ImportBatch
from schedule.imports.rows.rehearse import Ready
from schedule.imports.services.saving import DistrictChangedError, Finishing, claim_batch, hold_batch, ready_write
from schedule.imports.services.tables import (
    check,
    checked_values,
    files_as_json,
    files_from_json,
    forget_previews,
    import_commit,
    import_preview,
    read_files,
    require_importer,
    require_sender,
    save_checked,
)

CHECK, SAVE = "check_import", "save_import"
MOST_AT_ONCE = 100
"""Rows that are checked while the person waits for the page: they take a second or two."""

type Progress = Callable[[dict[str, int]], None]


def import_send(*, actor: Person, kind: str, filename: str, content: bytes) -> ImportBatch:
    """Preview a file: few rows here and now, many by a job. Raises ApplicationError, as `import_preview` does."""
    district = require_importer(actor)
    files = read_files(kind, filename, content)
    rows = sum(len(file.rows) for file in files)
    if rows <= MOST_AT_ONCE:
        return import_preview(actor=actor, kind=kind, filename=filename, content=content)
    batch = ImportBatch(
        district=district, person=actor, kind=kind, state=ImportBatch.State.CHECKING, row_count=rows
    )
    batch.content = files_as_json(files)
    with transaction.atomic():
        forget_previews(actor, kind)
        batch.full_clean()
        batch.job = job_add(kind=CHECK, payload={})
        batch.save()
    return batch


def import_save(*, actor: Person, batch: ImportBatch) -> ImportBatch:
    """Save a preview: at once if what was checked still holds or the rows are few, else by a job.

    Raises ApplicationError, as `import_commit` does.
    """
    require_sender(actor, batch)
    batch.refresh_from_db()
    _cut_off_is_preview(batch)
    if batch.row_count <= MOST_AT_ONCE or batch.state != ImportBatch.State.PREVIEW or batch.problem_count:
        return import_commit(actor=actor, batch=batch)
    try:
        if batch.ready:
            ready_write(batch=batch, ready=Ready.from_json(batch.ready))
            return batch
    except DistrictChangedError:
        batch.refresh_from_db()
    with transaction.atomic():
        claim_batch(batch, ImportBatch.State.PREVIEW)
        batch.state = ImportBatch.State.SAVING
        batch.content.pop("message", None)
        batch.job = job_add(kind=SAVE, payload={})
        batch.save(update_fields=["state", "content", "job"])
    return batch


def _cut_off_is_preview(batch: ImportBatch) -> None:
    """A saving that was cut off has saved nothing: what was to be saved is a preview again."""
    if batch.state == ImportBatch.State.SAVING and batch.is_cut_off:
        with transaction.atomic():
            hold_batch(batch)
            if batch.is_cut_off:
                batch.state = ImportBatch.State.PREVIEW
                batch.save(update_fields=["state"])


def batch_of_job(job_id: str) -> ImportBatch | None:
    """The import that a job was added for; None if it was discarded."""
    return ImportBatch.objects.select_related("district", "person__district").filter(job_id=job_id).first()


def import_check(*, batch: ImportBatch, progress: Progress, finishing: Finishing) -> None:
    """A job's part: check the rows and make a preview of the batch, unless it was discarded in the meantime."""
    files = files_from_json(batch.content)
    check(batch, files, lambda done: progress({"done": done, "total": batch.row_count}))
    with finishing():
        rows = ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.CHECKING)
        rows.update(state=ImportBatch.State.PREVIEW, **checked_values(batch))


def import_save_checked(*, batch: ImportBatch, progress: Progress, finishing: Finishing) -> None:
    """A job's part: check again and save, or make a preview of it again that says why not."""
    batch.ready = None  # it didn't hold anymore
    try:
        require_importer(batch.person)
        save_checked(
            batch=batch,
            report=lambda done: progress({"done": done, "total": batch.row_count}),
            finishing=finishing,
        )
    except ApplicationError as error:
        if error.code == "not_in_preview":
            return
        batch.content["message"] = error.message
        with finishing():
            rows = ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.SAVING)
            rows.update(state=ImportBatch.State.PREVIEW, **checked_values(batch))

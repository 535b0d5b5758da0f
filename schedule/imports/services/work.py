"""Imports of many rows: a job checks and saves them, and the page shows how far it is.

What a press of the button starts is in the database before the press is answered; a job that is cut off and begun
again does the same once more, and writes once.
"""

from collections.abc import Callable, Collection, Mapping, Sequence

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import working_as
from jobs.services import job_add
from schedule.imports.files.problems import UnreadableFileError
from schedule.imports.files.reading import TableFile, grid_of
from schedule.imports.models import ImportBatch
from schedule.imports.rows.rehearse import Ready
from schedule.imports.services.own_tables import own_table_as_json, own_table_read, own_table_rows
from schedule.imports.services.saving import (
    NOT_IN_PREVIEW,
    DistrictChangedError,
    Finishing,
    claim_batch,
    hold_batch,
    ready_write,
)
from schedule.imports.services.tables import (
    check,
    checked_values,
    files_as_json,
    files_from_json,
    forget_previews,
    import_commit,
    read_files,
    require_importer,
    require_sender,
    require_tables,
    save_checked,
)
from schedule.imports.tables.every import find_table

CHECK, SAVE = "check_import", "save_import"
MOST_AT_ONCE = 100
"""Rows that are checked while the person waits for the page: they take a second or two."""

type Progress = Callable[[dict[str, int]], None]


def import_send(*, actor: Person, kind: str, filename: str, content: bytes) -> ImportBatch:
    """Preview a file: few rows here and now, many by a job. Raises ApplicationError, as `import_preview` does."""
    district = require_importer(actor)
    table = find_table(kind)
    batch = ImportBatch(district=district, person=actor, role=actor.role, kind=kind)
    if table is None:
        files = read_files(kind, filename, content)
        require_tables(actor, [file.table.kind for file in files])
        return _looked_at(batch, files)
    require_tables(actor, [kind])
    try:
        grid = grid_of(table, filename, content)
    except UnreadableFileError as error:
        raise ApplicationError(str(error), code="unreadable_file", status=422) from error
    own, file = own_table_read(actor, table, filename, grid)
    if own is not None:
        batch.content["own"] = own_table_as_json(filename, grid, own)
    if file is not None:
        return _looked_at(batch, [file])
    batch.state, batch.row_count = ImportBatch.State.MATCHING, len(grid.rows) - 1
    with transaction.atomic():
        forget_previews(actor, kind)
        batch.full_clean()
        batch.save()
    return batch


def import_columns(
    *, actor: Person, batch: ImportBatch, columns: Mapping[int, str], left_out: Collection[int]
) -> ImportBatch:
    """Say which column of a district's own table is which, and see what it would do; also once more.

    Raises ApplicationError, as `own_table_rows` does; then the batch is as it was.
    """
    require_sender(actor, batch)
    batch.refresh_from_db()
    if batch.state not in {ImportBatch.State.MATCHING, ImportBatch.State.PREVIEW}:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")
    before = batch.state
    file = own_table_rows(actor=actor, batch=batch, columns=columns, left_out=left_out)
    return _looked_at(batch, [file], before)


def _looked_at(batch: ImportBatch, files: Sequence[TableFile], before: str = "") -> ImportBatch:
    """Check few rows here and now, many by a job; `before` is the state of a batch that is saved already."""
    rows = sum(len(file.rows) for file in files)
    few = rows <= MOST_AT_ONCE
    if few:
        check(batch, files)
    else:
        kept = {"own": batch.content["own"]} if "own" in batch.content else {}
        batch.content, batch.ready, batch.row_count = kept | files_as_json(files), None, rows
        batch.problem_count = 0
    wanted = {name: getattr(batch, name) for name in ("content", "ready", "problem_count", "row_count")}
    with transaction.atomic():
        if before:
            claim_batch(batch, before, fields=["state"])
        else:
            forget_previews(batch.person, batch.kind)
        for name, value in wanted.items():
            setattr(batch, name, value)
        batch.state = ImportBatch.State.PREVIEW if few else ImportBatch.State.CHECKING
        batch.full_clean()
        batch.job = None if few else job_add(kind=CHECK, payload={}, district=batch.district_id)
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
        batch.job = job_add(kind=SAVE, payload={}, district=batch.district_id)
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
    batch = ImportBatch.objects.select_related("district", "person__district").filter(job_id=job_id).first()
    if batch is not None:
        batch.person = working_as(batch.person, batch.role or batch.person.role)
    return batch


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

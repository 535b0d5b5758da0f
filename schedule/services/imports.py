"""Imports: previewed first, then committed whole, and taken back whole.

A preview runs the whole import in a transaction and rolls it back, so what it says is what a commit would do.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import audit_write, district_of
from schedule.imports.apply import apply_tables
from schedule.imports.context import TableRun
from schedule.imports.problems import Problem, UnreadableFileError, count_errors
from schedule.imports.reading import TableFile, TableRow, read_table, read_tables
from schedule.imports.snapshot import (
    Change,
    compare_snapshots,
    current_states,
    find_dependent,
    find_row,
    find_rows,
    restore_row,
    take_snapshot,
)
from schedule.imports.tables import find_table
from schedule.models import ImportBatch, ImportedRow

SEVERAL = "several"
PREVIEW_KEPT = dt.timedelta(days=7)
NOT_YOURS = "Only the person who sent this import can go on with it. Send the file yourself."
NOT_IN_PREVIEW = "This import is no preview any more. Look at the list of imports for what became of it."
STILL_PROBLEMS = "Something has changed since the preview, and the import has problems now. Nothing was saved."
NOT_COMMITTED = "This import was not committed, or was undone already. There is nothing to undo."
NOT_LATEST = "A later import of yours stands on this one. Undo the later one first."


def import_preview(*, actor: Person, kind: str, filename: str, content: bytes) -> ImportBatch:
    """Read a file and say what importing it would do; nothing else is saved but the preview.

    `kind` is a table's kind (schedule.imports.tables), or "several" for a workbook with a sheet a table or a zip
    of CSV files. Raises ApplicationError: 403 for the role, `unreadable_file` (422) for a file that can't be read.
    """
    district = require_importer(actor)
    files = _read(kind, filename, content)
    batch = ImportBatch(district=district, person=actor, kind=kind)
    with transaction.atomic():
        runs = apply_tables(actor, district, files)
        transaction.set_rollback(True)
    with transaction.atomic():
        forget_previews(actor, kind)
        _note_preview(batch, files, runs)
        batch.full_clean()
        batch.save()
    return batch


def forget_previews(actor: Person, kind: str) -> None:
    """Throw away the person's previews that a new one replaces, or that are old: they hold students' data."""
    rows = ImportBatch.objects.filter(person=actor, state=ImportBatch.State.PREVIEW)
    rows.filter(Q(kind=kind) | Q(created_at__lt=timezone.now() - PREVIEW_KEPT)).delete()


def require_importer(actor: Person) -> District:
    """The district of a person who may import. Raises ApplicationError (403)."""
    if not actor.has_perm("import.run") or actor.district is None:
        raise ApplicationError("Your role doesn't import.", code="not_for_your_role", status=403)
    return actor.district


def _read(kind: str, filename: str, content: bytes) -> tuple[TableFile, ...]:
    """The tables of a file. Raises ApplicationError."""
    table = find_table(kind)
    if table is None and kind != SEVERAL:
        raise ApplicationError("There is no such table to import.", code="not_found", status=404)
    try:
        return read_tables(filename, content) if table is None else (read_table(table, filename, content),)
    except UnreadableFileError as error:
        raise ApplicationError(str(error), code="unreadable_file", status=422) from error


def _note_preview(batch: ImportBatch, files: Sequence[TableFile], runs: Sequence[TableRun]) -> None:
    """Keep rows, problems and outcomes with the batch."""
    problems = [problem for run in runs for problem in run.problems]
    batch.problem_count = count_errors(problems)
    batch.row_count = sum(len(file.rows) for file in files)
    batch.content = {
        "files": [_file_as_json(file) for file in files],
        "problems": [problem.as_json() for problem in problems],
        "tallies": _tallies(runs),
        "outcomes": {
            run.table.kind: [[one.row, one.action, list(one.words)] for one in run.outcomes] for run in runs
        },
    }


def _tallies(runs: Sequence[TableRun]) -> dict[str, dict[str, int]]:
    return {
        run.table.kind: {
            "new": run.tally.new,
            "changed": run.tally.changed,
            "same": run.tally.same,
            "removed": run.tally.removed,
        }
        for run in runs
    }


def _file_as_json(file: TableFile) -> dict[str, Any]:
    return {
        "kind": file.table.kind,
        "filename": file.filename,
        "rows": [[row.number, row.cells] for row in file.rows],
        "problems": [problem.as_json() for problem in file.problems],
    }


def _files_from_json(content: dict[str, Any]) -> list[TableFile]:
    files = []
    for stored in content.get("files", []):
        table = find_table(stored["kind"])
        if table is None:
            break
        rows = tuple(TableRow(number, cells) for number, cells in stored["rows"])
        problems = tuple(Problem.from_json(problem) for problem in stored["problems"])
        files.append(TableFile(table, stored["filename"], rows, problems))
    if not files or len(files) < len(content["files"]):
        raise ApplicationError("This is no preview of tables. Send the file again.", code="not_in_preview")
    return files


def import_commit(*, actor: Person, batch: ImportBatch) -> ImportBatch:
    """Do what the preview showed, all or nothing.

    Everything is validated again. Raises ApplicationError (`import_has_problems`) if there are problems; the batch
    then stays a preview that lists them.
    """
    district = require_importer(actor)
    if batch.person_id != actor.pk:
        raise ApplicationError(NOT_YOURS, code="not_yours")
    with transaction.atomic():
        claim_preview(batch, district)
        files = _files_from_json(batch.content)
        kinds = [file.table.kind for file in files]
        before = take_snapshot(district, kinds)
        runs = apply_tables(actor, district, files)
        if count_errors([problem for run in runs for problem in run.problems]):
            transaction.set_rollback(True)
        else:
            content = {
                "files": [{"kind": file.table.kind, "filename": file.filename} for file in files],
                "tallies": _tallies(runs),
            }
            changes = compare_snapshots(before, take_snapshot(district, kinds))
            finish_commit(actor=actor, batch=batch, content=content, changes=changes)
            return batch
    _note_preview(batch, files, runs)
    batch.save(update_fields=["content", "problem_count", "row_count"])
    raise ApplicationError(STILL_PROBLEMS, code="import_has_problems")


def claim_preview(batch: ImportBatch, district: District) -> None:
    """Make sure that this preview is committed once: two buttons pressed at once are one commit."""
    District.objects.select_for_update().get(pk=district.pk)
    batch.refresh_from_db()
    if batch.state != ImportBatch.State.PREVIEW:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")


def finish_commit(*, actor: Person, batch: ImportBatch, content: dict[str, Any], changes: list[Change]) -> None:
    """Keep what a commit did, so that it can be undone, and forget the uploaded rows."""
    ImportedRow.objects.bulk_create(
        ImportedRow(
            batch=batch,
            position=position,
            model=change.model,
            object_id=change.object_id,
            before=change.before,
            after={} if change.after is None else change.after,
        )
        for position, change in enumerate(changes)
    )
    batch.state = ImportBatch.State.COMMITTED
    batch.committed_at = timezone.now()
    batch.content = content
    batch.problem_count = 0
    batch.save()
    audit_write(actor=actor, district=batch.district, action="import_commit", row=batch)


def import_cancel(*, actor: Person, batch: ImportBatch) -> None:
    """Throw a preview away. Raises ApplicationError if it is no preview any more."""
    require_importer(actor)
    deleted, _ = ImportBatch.objects.filter(
        pk=batch.pk, district=batch.district, state=ImportBatch.State.PREVIEW
    ).delete()
    if not deleted:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")


def import_undo(*, actor: Person, batch: ImportBatch) -> ImportBatch:
    """Take a committed import back: what it made goes, what it changed or deleted is as it was before.

    Only the person's latest import can be undone, and only while nothing has been changed since or stands on it.
    Raises ApplicationError with the reason; then nothing is undone.
    """
    district = require_importer(actor)
    try:
        with transaction.atomic():
            District.objects.select_for_update().get(pk=district.pk)
            batch.refresh_from_db()
            _require_undoable(batch)
            rows = list(batch.rows.all())
            _require_unchanged(rows)
            _require_no_dependents(rows)
            _take_back(actor, rows)
            batch.state = ImportBatch.State.UNDONE
            batch.undone_at = timezone.now()
            batch.save(update_fields=["state", "undone_at"])
            batch.rows.all().delete()
            audit_write(actor=actor, district=batch.district, action="import_undo", row=batch)
    except IntegrityError as error:
        message = "What this import changed can't be put back: another row now has its name or code."
        raise ApplicationError(message, code="undo_refused") from error
    return batch


def _require_undoable(batch: ImportBatch) -> None:
    """The latest committed import of its person."""
    if batch.state != ImportBatch.State.COMMITTED or batch.committed_at is None:
        raise ApplicationError(NOT_COMMITTED, code="not_committed")
    later = ImportBatch.objects.filter(
        person=batch.person, state=ImportBatch.State.COMMITTED, committed_at__gt=batch.committed_at
    )
    if later.exists():
        raise ApplicationError(NOT_LATEST, code="not_latest")


def _require_unchanged(rows: Sequence[ImportedRow]) -> None:
    """Refuse to throw away what someone did since."""
    now = current_states((row.model, row.object_id) for row in rows)
    for row in rows:
        if now.get((row.model, row.object_id)) != (row.after or None):
            found = find_row(row.model, row.object_id)
            what = f"{found._meta.verbose_name} “{found}”" if found else f"a {row.model.rsplit('.', 1)[-1]}"
            message = f"This import can't be undone: {what} was changed or deleted since. Change it by hand."
            raise ApplicationError(message, code="changed_since")


def _require_no_dependents(rows: Sequence[ImportedRow]) -> None:
    """Refuse to delete what later rows stand on."""
    found = find_dependent((row.model, row.object_id) for row in rows if row.before is None)
    if found is not None:
        made, other = found
        message = (
            f"This import can't be undone: {made._meta.verbose_name} “{made}” is used by "
            f"{other._meta.verbose_name} “{other}”. Change or remove that first."
        )
        raise ApplicationError(message, code="still_used")


def _take_back(actor: Person, rows: Sequence[ImportedRow]) -> None:
    """Delete what was made, last first; then put back what was there."""
    after = {(row.model, row.object_id): row.after for row in rows if row.before is None}
    for made in reversed(find_rows(after)):
        changes = {name: [value, None] for name, value in after[made._meta.label_lower, str(made.pk)].items()}
        audit_write(actor=actor, district=district_of(made), action="import_undo", row=made, changes=changes)
        type(made)._meta.base_manager.filter(pk=made.pk).delete()
    for row in rows:
        if row.before is not None:
            back = restore_row(row.model, row.object_id, row.before)
            changes = {
                name: [row.after.get(name), value]
                for name, value in row.before.items()
                if row.after.get(name) != value
            }
            audit_write(actor=actor, district=district_of(back), action="import_undo", row=back, changes=changes)

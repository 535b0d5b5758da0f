"""Imports: previewed first, then committed whole, and taken back whole.

A preview rehearses the whole import on shadows of the tables, which takes long and holds nothing, and keeps what it
ended with. A commit writes that in one short transaction; if somebody has changed the district in the meantime, it
rehearses again first. Files of many rows go through a job (schedule.imports.services.work).
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Model, Q
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.guards import guards_ask, has_guards
from accounts.models import AuditEntry, District, Person
from accounts.services import audit_write
from caseload.months.selectors import has_log_months
from jobs.services import job_stop_ask
from schedule.imports.files.problems import RowProblem, UnreadableFileError, count_errors
from schedule.imports.files.reading import TableFile, TableRow, read_table, read_tables
from schedule.imports.models import ImportBatch, ImportedRow
from schedule.imports.rows.context import Report, TableRun, nobody_waits
from schedule.imports.rows.rehearse import Ready, rehearse
from schedule.imports.rows.snapshot import Change, current_states, find_dependent, find_row, model_of
from schedule.imports.services.people_undo import is_about, people_leave, people_staying
from schedule.imports.services.rows import RowWrites, row_writes
from schedule.imports.services.saving import (
    NOT_IN_PREVIEW,
    DistrictChangedError,
    Finishing,
    alone,
    changes_write,
    covers_follow,
    hold_batch,
    ready_write,
)
from schedule.imports.tables.every import find_table
from schedule.trips.selectors.vouchers import month_is_locked, month_vouchers
from travel.mileage.models import Trip

SEVERAL = "several"
_TRIP = Trip._meta.label_lower
PREVIEW_KEPT = dt.timedelta(days=7)
# How often a rehearsal is begun again because others changed the district in the meantime.
TRIES = 4
OTHER_ROLE = "You sent this file while working as {role}. Work as {role} again to go on with it, or send it anew."
OTHER_TABLE = "Your role can't bring the table “{title}”. Ask a coordinator."
NOT_YOURS = "Only the person who sent this import can continue it. Send the file yourself."
STILL_PROBLEMS = "Something has changed since the preview, and the import has problems now. Nothing was saved."
DISTRICT_BUSY = "Others are changing the district's rows right now. Nothing was saved. Try again in a few minutes."
NOT_COMMITTED = "This import wasn't saved, or was already undone. There is nothing to undo."
CLAIMED = (
    "This import can't be undone: the voucher of {month} is submitted. Take it back first, or correct its trips by "
    "a supplement."
)
NOT_LATEST = "A later import of yours builds on this one. Undo the later one first."


def import_preview(*, actor: Person, kind: str, filename: str, content: bytes) -> ImportBatch:
    """Read a file and say here and now what importing it would do; nothing else is saved but the preview.

    `kind` is a table's kind (schedule.imports.tables.every), or "several" for a workbook with a sheet a table or a
    zip of CSV files. Raises ApplicationError: 403 for the role, `unreadable_file` (422) for a file that can't be
    read.
    """
    district = require_importer(actor)
    files = read_files(kind, filename, content)
    require_tables(actor, [file.table.kind for file in files])
    batch = ImportBatch(district=district, person=actor, role=actor.role, kind=kind)
    check(batch, files)
    with transaction.atomic():
        forget_previews(actor, kind)
        batch.full_clean()
        batch.save()
    return batch


def forget_previews(actor: Person, kind: str) -> None:
    """Throw away the person's previews that a new one replaces, or that are old: they hold students' data."""
    waiting = (ImportBatch.State.PREVIEW, ImportBatch.State.CHECKING, ImportBatch.State.MATCHING)
    rows = ImportBatch.objects.filter(person=actor, state__in=waiting)
    rows.filter(Q(kind=kind) | Q(created_at__lt=timezone.now() - PREVIEW_KEPT)).delete()


def require_importer(actor: Person) -> District:
    """The district of a person who may import. Raises ApplicationError (403)."""
    if not actor.has_perm("import.run") or actor.district is None:
        raise ApplicationError("Your role can't import.", code="not_for_your_role", status=403)
    return actor.district


def require_tables(actor: Person, kinds: Iterable[str]) -> None:
    """Raise ApplicationError (403) for a table whose rows the person's role may not bring, or take back."""
    tables = [table for kind in kinds if (table := find_table(kind)) is not None]
    refused = next((table for table in tables if not actor.has_perm(table.permission)), None)
    if refused is not None:
        message = OTHER_TABLE.format(title=refused.title)
        raise ApplicationError(message, code="not_for_your_role", status=403)


def read_files(kind: str, filename: str, content: bytes) -> tuple[TableFile, ...]:
    """The tables of a file. Raises ApplicationError."""
    table = find_table(kind)
    if table is None and kind != SEVERAL:
        raise ApplicationError("There is no such table to import.", code="not_found", status=404)
    try:
        return read_tables(filename, content) if table is None else (read_table(table, filename, content),)
    except UnreadableFileError as error:
        raise ApplicationError(str(error), code="unreadable_file", status=422) from error


def check(batch: ImportBatch, files: Sequence[TableFile], report: Report = nobody_waits) -> Ready | None:
    """Rehearse files and set on the unsaved batch what came of it; None if there are problems."""
    done = rehearse(batch.person, batch.district, files, report)
    problems = [problem for run in done.runs for problem in run.problems]
    batch.problem_count = count_errors(problems)
    batch.ready = done.ready.as_json() if done.ready is not None else None
    batch.content = {
        **{name: batch.content[name] for name in ("own",) if name in batch.content},
        **files_as_json(files),
        "problems": [problem.as_json() for problem in problems],
        "tallies": _tallies(done.runs),
        "outcomes": {
            run.table.kind: [[one.row, one.action, list(one.words)] for one in run.outcomes] for run in done.runs
        },
    }
    batch.row_count = sum(len(file.rows) for file in files)
    return done.ready


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


def files_as_json(files: Sequence[TableFile]) -> dict[str, Any]:
    """The files as a batch keeps them."""
    return {"files": [_file_as_json(file) for file in files]}


def files_from_json(content: dict[str, Any]) -> list[TableFile]:
    """Back from files_as_json. Raises ApplicationError for a batch that holds none."""
    files = []
    for stored in content.get("files", []):
        table = find_table(stored["kind"])
        if table is None:
            break
        rows = tuple(TableRow(number, cells) for number, cells in stored["rows"])
        problems = tuple(RowProblem.from_json(problem) for problem in stored["problems"])
        files.append(TableFile(table, stored["filename"], rows, problems))
    if not files or len(files) < len(content["files"]):
        raise ApplicationError("This isn't a preview of tables. Send the file again.", code="not_in_preview")
    return files


def import_commit(*, actor: Person, batch: ImportBatch) -> ImportBatch:
    """Do here and now what the preview showed, all or nothing.

    If somebody has changed the district since, everything is checked again. Raises ApplicationError:
    `import_has_problems` if there are problems (the batch then stays a preview that lists them), `district_busy` if
    others change the district's rows all the while.
    """
    require_sender(actor, batch)
    batch.refresh_from_db()
    if batch.state != ImportBatch.State.PREVIEW:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")
    try:
        save_checked(batch=batch)
    except ApplicationError:
        ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PREVIEW).update(**checked_values(batch))
        raise
    return batch


def require_sender(actor: Person, batch: ImportBatch) -> None:
    """Raise ApplicationError unless the person may import and has sent this one, in the present role.

    The batch is the actor's from here on, in that role.
    """
    require_importer(actor)
    if batch.person_id != actor.pk:
        raise ApplicationError(NOT_YOURS, code="not_yours")
    if batch.role not in {"", actor.role}:
        raise ApplicationError(OTHER_ROLE.format(role=batch.get_role_display().lower()), code="other_role")
    batch.person = actor


def checked_values(batch: ImportBatch) -> dict[str, Any]:
    """What `check` has set."""
    return {name: getattr(batch, name) for name in ("content", "ready", "problem_count", "row_count")}


def save_checked(*, batch: ImportBatch, report: Report = nobody_waits, finishing: Finishing = alone) -> None:
    """Write what the check ended with, after another check where it doesn't hold anymore.

    Raises ApplicationError, as `import_commit` does: then nothing is written, and the batch has the last check's
    result, unsaved.
    """
    content = batch.content
    ready = Ready.from_json(batch.ready) if batch.ready else check(batch, files_from_json(content), report)
    for _ in range(TRIES):
        if ready is None:
            raise ApplicationError(STILL_PROBLEMS, code="import_has_problems")
        try:
            ready_write(batch=batch, ready=ready, finishing=finishing)
        except DistrictChangedError:
            ready = check(batch, files_from_json(content), report)
        else:
            return
    raise ApplicationError(DISTRICT_BUSY, code="district_busy")


def import_cancel(*, actor: Person, batch: ImportBatch) -> None:
    """Discard a preview, also one that is being checked. Raises ApplicationError if it is none anymore."""
    require_importer(actor)
    with transaction.atomic():
        batch.refresh_from_db()
        unsaved = {ImportBatch.State.PREVIEW, ImportBatch.State.CHECKING, ImportBatch.State.MATCHING}
        if batch.state not in unsaved and not batch.is_cut_off:
            raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")
        if batch.job is not None:
            job_stop_ask(job=batch.job)
        batch.delete()


def import_undo(*, actor: Person, batch: ImportBatch) -> ImportBatch:
    """Take a committed import back: what it made goes, what it changed or deleted is as it was before.

    Only the person's latest import can be undone, and only while nothing has been changed since or stands on it.
    People whom it made and who have something of their own by now aren't deleted: they are deactivated, and named
    in the batch's content. Raises ApplicationError with the reason; then nothing is undone.
    """
    require_importer(actor)
    require_tables(actor, [file["kind"] for file in batch.content.get("files", ())])
    every = list(batch.rows.all())
    staying = people_staying(every)
    rows = [row for row in every if not is_about(row, staying)]
    # Read and converted before any lock is taken.
    changes = [Change(row.model, row.object_id, row.after or None, row.before) for row in rows]
    writes = row_writes(changes)
    try:
        with transaction.atomic():
            hold_batch(batch)
            _require_undoable(batch)
            _require_unchanged(rows)
            _require_no_dependents(rows)
            _require_unclaimed(rows)
            _put_back(actor, batch.district, rows, writes)
            covers_follow(changes=changes)
            people_leave(actor=actor, people=staying, rows=rows)
            batch.state = ImportBatch.State.UNDONE
            batch.undone_at = timezone.now()
            batch.content["deactivated"] = [str(one) for one in staying]
            batch.save(update_fields=["state", "undone_at", "content"])
            batch.rows.all().delete()
            audit_write(actor=actor, district=batch.district, action="import_undo", row=batch)
    except IntegrityError as error:
        message = "What this import changed can't be put back: another row now has its name or code."
        raise ApplicationError(message, code="undo_refused") from error
    return batch


def _put_back(actor: Person, district: District, rows: Sequence[ImportedRow], writes: RowWrites) -> None:
    """Write what was before, asking those who are asked about such changes; call it in the undo's transaction."""
    entries = [_undo_entry(actor, district, row) for row in rows]
    made = _guarded(district, rows)
    going = {(row.model, row.object_id) for row in rows if row.before is None}
    # What goes is asked about while all that it belongs to is there.
    for key in made.keys() & going:
        guards_ask(made[key], None)
    changes_write(district=district, writes=writes, entries=entries)
    for key, restored in _guarded(district, rows).items():
        guards_ask(made.get(key), restored)


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


def _require_unclaimed(rows: Sequence[ImportedRow]) -> None:
    """Refuse to change trips of a month whose voucher is submitted."""
    states = [state for row in rows if row.model == _TRIP for state in (row.before, row.after) if state]
    months = {(state["teacher"], dt.date.fromisoformat(state["date"]).replace(day=1)) for state in states}
    people = Person.objects.in_bulk({teacher for teacher, _ in months})
    for teacher, month in sorted(months):
        if month_is_locked(month_vouchers(people[teacher], month)):
            raise ApplicationError(CLAIMED.format(month=f"{month:%B %Y}"), code="voucher_locked")


def _guarded(district: District, rows: Iterable[ImportedRow]) -> dict[tuple[str, str], Model]:
    """Those of the rows that are there now, of the tables whose changes somebody is asked about.

    None where the district has no month of a log: closed months are all that guards hold against a change, and
    thousands of rows are not asked about one by one for nothing while others wait.
    """
    if not has_log_months(district.pk):
        return {}
    keys: dict[str, list[str]] = {}
    for row in rows:
        if has_guards(model_of(row.model)):
            keys.setdefault(row.model, []).append(row.object_id)
    return {
        (name, str(one.pk)): one
        for name, some in keys.items()
        for one in model_of(name)._meta.base_manager.filter(pk__in=some)
    }


def _undo_entry(actor: Person, district: District, row: ImportedRow) -> AuditEntry:
    return AuditEntry(
        actor=actor,
        district=district,
        action="import_undo",
        model=row.model,
        object_id=row.object_id,
        changes=_taken_back(row),
    )


def _taken_back(row: ImportedRow) -> dict[str, list[Any]]:
    """What undoing changes in a row: field by field from what the import made of it."""
    if row.before is None:
        return {name: [value, None] for name, value in row.after.items()}
    before = row.before.items()
    return {name: [row.after.get(name), value] for name, value in before if row.after.get(name) != value}

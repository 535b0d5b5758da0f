"""The short transaction of an import: what its rehearsal ended with is written, and can be undone."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District, Person, Substitution
from accounts.people.signals import CoveredSpan, substitution_changed
from accounts.services import audit_write, audit_write_many
from schedule.feeds.signals import district_changed
from schedule.imports.models import ImportBatch, ImportedRow
from schedule.imports.rows.rehearse import Ready, district_state
from schedule.imports.rows.snapshot import Change
from schedule.imports.services.rows import RowWrites, row_writes, rows_write

_COVER = Substitution._meta.label_lower
NOT_IN_PREVIEW = "This import is no longer a preview. Check the list of imports for what became of it."

type Finishing = Callable[[], AbstractContextManager[None]]
"""Makes the transaction in which a result is written."""


class DistrictChangedError(Exception):
    """Somebody has changed the district's rows since the rehearsal: it doesn't hold anymore."""


@contextmanager
def alone() -> Iterator[None]:
    """A transaction of its own."""
    with transaction.atomic():
        yield


def ready_write(*, batch: ImportBatch, ready: Ready, finishing: Finishing = alone) -> None:
    """Write what is ready, with its audit entries, and commit the batch; its person is the actor.

    Raises `DistrictChangedError`, or `ApplicationError` if the batch is not open; then nothing is written.
    """
    writes = row_writes(ready.changes)
    entries = [
        AuditEntry(
            actor=batch.person, district=batch.district, action=action, model=model, object_id=key, changes=changes
        )
        for action, model, key, changes in ready.entries
    ]
    content = {
        "files": [{"kind": file["kind"], "filename": file["filename"]} for file in batch.content["files"]],
        "tallies": batch.content["tallies"],
    }
    state = batch.state
    try:
        with finishing():
            claim_batch(batch, state, fields=["state"])
            if district_state(batch.district) != list(ready.seen):
                raise DistrictChangedError
            changes_write(district=batch.district, writes=writes, entries=entries)
            covers_follow(changes=ready.changes)
            finish_commit(actor=batch.person, batch=batch, content=content, changes=ready.changes)
    except IntegrityError as error:
        raise DistrictChangedError from error


def changes_write(*, district: District, writes: RowWrites, entries: Iterable[AuditEntry]) -> None:
    """Put the rows, note what was changed, and mark the feeds, which hear of no row by itself."""
    rows_write(writes=writes)
    audit_write_many(entries=entries)
    district_changed(district.pk)


def covers_follow(*, changes: Iterable[Change]) -> None:
    """Have absences logged anew on the dates on which somebody else stands in now; call it in the transaction."""
    states = [state for one in changes if one.model == _COVER for state in (one.before, one.after) if state]
    if not states:
        return
    spans = [_span(state) for state in states]
    teachers = Person.objects.select_related("district").in_bulk({teacher for teacher, _, _ in spans})
    told = [CoveredSpan(teachers[teacher], first, last) for teacher, first, last in spans]
    substitution_changed.send(Substitution, spans=told)


def _span(row: dict[str, Any]) -> tuple[int, dt.date, dt.date]:
    return row["teacher"], dt.date.fromisoformat(row["first_date"]), dt.date.fromisoformat(row["last_date"])


def claim_batch(batch: ImportBatch, state: str, fields: Sequence[str] | None = None) -> None:
    """Make sure that a batch is committed once: two buttons pressed at once are one commit.

    Raises ApplicationError if it isn't in this state anymore.
    """
    hold_batch(batch, fields)
    if batch.state != state:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")


def hold_batch(batch: ImportBatch, fields: Sequence[str] | None = None) -> None:
    """Let one after the other write imports of a district; nobody else waits for it. The batch is read again.

    `fields` names what is needed of it, where all of it would be thousands of rows.
    """
    District.objects.select_for_update(no_key=True).get(pk=batch.district_id)
    batch.refresh_from_db(fields=fields)


def finish_commit(*, actor: Person, batch: ImportBatch, content: dict[str, Any], changes: Sequence[Change]) -> None:
    """Keep what a commit did, so that it can be undone, and forget the uploaded rows."""
    ImportedRow.objects.bulk_create(
        (
            ImportedRow(
                batch=batch,
                position=position,
                model=change.model,
                object_id=change.object_id,
                before=change.before,
                after={} if change.after is None else change.after,
            )
            for position, change in enumerate(changes)
        ),
        batch_size=500,
    )
    batch.state = ImportBatch.State.COMMITTED
    batch.committed_at = timezone.now()
    batch.content, batch.ready = content, None
    batch.problem_count = 0
    batch.save()
    audit_write(actor=actor, district=batch.district, action="import_commit", row=batch)

"""Rehearsals: an import run whole by the services, on shadows of the district's tables
(schedule.imports.rows.shadow).

What it says is what saving does: a preview tells it, and a commit writes exactly the rows that it ended with.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Self

from django.db.models import Count, Max, Model, QuerySet

from accounts.models import AuditEntry, District, Person
from caseload.months.models import LogMonth
from jobs.models import Job
from schedule.feeds.models import Feed
from schedule.imports.files.problems import count_errors
from schedule.imports.files.reading import TableFile, TableRow
from schedule.imports.rows.apply import apply_tables
from schedule.imports.rows.context import Report, TableRun, nobody_waits
from schedule.imports.rows.shadow import FirstIds, Shadow, ids_set_aside, shadowed
from schedule.imports.rows.snapshot import (
    WRITTEN_BY,
    Change,
    compare_snapshots,
    links_of,
    models_of,
    rows_of,
    take_snapshot,
)
from schedule.notices.models import WatchedTeacher

# Written beside the rows: audit entries, which are read at the end, and marks and jobs, which are not wanted.
_BESIDE: tuple[type[Model], ...] = (AuditEntry, Feed, Job, WatchedTeacher)


@dataclass(frozen=True, slots=True)
class Ready:
    """What saving has to write. It holds as long as `district_state` is what it was before the rehearsal (`seen`).

    `entries` are the audit entries: action, model, key and changes of each.
    """

    seen: Sequence[int]
    changes: Sequence[Change]
    entries: Sequence[tuple[str, str, str, dict[str, Any]]]

    def as_json(self) -> dict[str, Any]:
        """For storing with the batch."""
        changes = [[change.model, change.object_id, change.before, change.after] for change in self.changes]
        return {"seen": list(self.seen), "changes": changes, "entries": [list(entry) for entry in self.entries]}

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Back from as_json."""
        changes = [Change(*change) for change in stored["changes"]]
        entries = [(action, model, key, told) for action, model, key, told in stored["entries"]]
        return cls(stored["seen"], changes, entries)


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """How an import went: what each table's rows did, and what saving has to write unless there are problems."""

    runs: Sequence[TableRun]
    ready: Ready | None


def rehearse(
    actor: Person, district: District, files: Sequence[TableFile], report: Report = nobody_waits
) -> Rehearsal:
    """Run an import and keep what it ends with; new rows have ids that nobody else gets."""
    kinds = [file.table.kind for file in files]
    first_ids = ids_set_aside(models_of(kinds), sum(_most_made(row) for file in files for row in file.rows))
    seen = district_state(district)
    with shadows_of(district, kinds, first_ids):
        before = take_snapshot(district, kinds)
        runs = apply_tables(actor, district, files, report)
        if count_errors([problem for run in runs for problem in run.problems]):
            return Rehearsal(runs, None)
        changes = compare_snapshots(before, take_snapshot(district, kinds))
        told = AuditEntry.objects.order_by("pk").values_list("action", "model", "object_id", "changes")
        return Rehearsal(runs, Ready(seen, changes, list(told)))


def _most_made(row: TableRow) -> int:
    """How many rows of one model a row of a table can make: one, or one for each part of a list in a cell."""
    return 1 + sum(text.count(";") + text.count(",") for text in row.cells.values())


def district_state(district: District) -> list[int]:
    """Differs once somebody has changed what imports read or write: services note changes, and rows are counted."""
    models = models_of(WRITTEN_BY)
    watched: tuple[type[Model], ...] = (LogMonth, *models)
    entries = AuditEntry.objects.filter(district=district, model__in=[one._meta.label_lower for one in watched])
    counted = [entries, *(rows_of(model, district) for model in models)]
    found = [rows.order_by().aggregate(count=Count("pk"), last=Max("pk")) for rows in counted]
    return [number or 0 for one in found for number in (one["count"], one["last"])]


def _needed(model: type[Model], district: District) -> QuerySet[Any]:
    """The rows that the services ask for: a district's own, but sign-in names are unique in the whole program."""
    return Person.objects.all() if model is Person else rows_of(model, district)


@contextmanager
def shadows_of(district: District, kinds: Iterable[str], first_ids: FirstIds | None = None) -> Iterator[None]:
    """Hide all that imports of these kinds write behind copies of the district's rows."""
    models = models_of(kinds)
    hidden = [Shadow(model, _needed(model, district)) for model in models]
    for model in models:
        keys = rows_of(model, district).values("pk")
        hidden += [Shadow(links.table, links.of(keys)) for links in links_of(model)]
    hidden += [Shadow(model) for model in _BESIDE]
    with shadowed(hidden, first_ids or {}):
        yield

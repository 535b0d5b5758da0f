"""Reads of imports: what a person sent, and what of it can be undone."""

from collections.abc import Sequence

from accounts.models import Person
from schedule.imports.models import ImportBatch

_SHOWN = 20


def import_list(viewer: Person) -> Sequence[ImportBatch]:
    """The last imports that the viewer may see, newest first, previews apart."""
    done = (ImportBatch.State.COMMITTED, ImportBatch.State.UNDONE)
    rows = ImportBatch.objects.visible_to(viewer).filter(state__in=done)
    return list(rows.select_related("person").order_by("-committed_at", "-pk")[:_SHOWN])


def import_open_previews(viewer: Person) -> Sequence[ImportBatch]:
    """The viewer's own previews that were neither committed nor discarded, and what is being checked or saved."""
    done = (ImportBatch.State.COMMITTED, ImportBatch.State.UNDONE)
    rows = ImportBatch.objects.visible_to(viewer).filter(person=viewer).exclude(state__in=done)
    return list(rows.select_related("job").defer("content", "ready").order_by("-created_at", "-pk"))


def import_undoable_ids(viewer: Person) -> set[int]:
    """The latest committed import of each person among those that the viewer may see."""
    rows = ImportBatch.objects.visible_to(viewer).filter(state=ImportBatch.State.COMMITTED)
    latest = dict(rows.order_by("committed_at", "pk").values_list("person_id", "pk"))  # the last one wins
    return set(latest.values())

"""Taking back what one tap logged: a session, or every session of a day."""

import datetime as dt
import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.delivery.selectors.sendings import Sending, SentEntry, sending_get, undo_client_id
from caseload.delivery.services.closed import entries_closed_require
from caseload.delivery.services.log import WRITE, entries_require
from caseload.delivery.signals import log_written
from caseload.plans.models import DATED

CHANGED_SINCE = (
    "Nothing was taken back, because this was changed since it was logged: {which}. Take back "
    "the others and leave it as it is, or correct it separately."
)
ALL_CHANGED = "Everything that this tap logged has been changed since, so nothing was taken back: {which}."
NAMED_AT_MOST = 5


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What an undo did: entries that wait for their log again, and how many were left because they were changed."""

    sessions: int
    entries: tuple[DeliveryEntry, ...]
    left: int


def sending_undo(
    *,
    actor: Person,
    sending: uuid.UUID,
    keep_changed: bool = False,
    only: Collection[int] | None = None,
    now: dt.datetime | None = None,
) -> TakenBack:
    """Take back exactly what the actor's own tap wrote, all or nothing; the history keeps it.

    `sending` is the client id that was sent with the tap. Each entry gets a version that withdraws its log, so that
    its session waits again. Where somebody corrected an entry since, or the plan's team decided about it, nothing
    is taken back (code ``changed_since``, which says which) unless `keep_changed` leaves those as they are. `only`
    takes back no other entries than these. The same undo sent twice takes back once. Raises `ApplicationError`
    (404) where the actor sent no such tap or may not change its entries anymore, and `ValidationError` past the
    district's limit of days.
    """
    permission_require(actor, WRITE)
    with transaction.atomic():
        rows = _entries_locked(actor, sending, only)
        entries_require(actor, rows, now)
        found = sending_get(actor, sending)
        if found is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        found = found if only is None else found.of(only)
        if _is_done(found):
            return _taken_back(found.taken_back, rows, left=len(found.changed))
        _changes_refuse(found, keep_changed=keep_changed)
        entries_closed_require((row.service_line, row.date) for row in rows)
        _withdraw(actor, found.standing)
        audit_write(
            actor=actor,
            district=rows[0].district,
            action="log_undo",
            row=rows[0],
            changes={"entries": [[one.entry_id for one in found.standing], None]},
        )
    return _taken_back(found.standing, rows, left=len(found.changed))


def _entries_locked(actor: Person, sending: uuid.UUID, only: Collection[int] | None = None) -> list[DeliveryEntry]:
    """The tap's entries (of some, those), which nobody else changes until this is done."""
    versions = DeliveryVersion.objects.filter(sending=sending, logged_by=actor)
    wanted = (versions if only is None else versions.filter(entry__in=only)).values("entry")
    whole = DeliveryEntry.objects.select_related(
        "student__building__district", "student__district", "service_line__plan__student"
    )
    whole = whole.prefetch_related(*(f"service_line__{one}" for one in DATED))
    rows = list(whole.filter(pk__in=wanted).order_by("pk").select_for_update(of=("self",)))
    if not rows:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return rows


def _is_done(found: Sending) -> bool:
    """Whether this tap was taken back before: a second press of the button."""
    return bool(found.taken_back) and not found.standing


def _changes_refuse(found: Sending, *, keep_changed: bool) -> None:
    if not found.changed or (keep_changed and found.standing):
        return
    which = "; ".join(one.words for one in found.changed[:NAMED_AT_MOST])
    if (more := len(found.changed) - NAMED_AT_MOST) > 0:
        which += f"; and {more} more"
    text = CHANGED_SINCE if found.standing else ALL_CHANGED
    raise ApplicationError(text.format(which=which), code="changed_since")


def _withdraw(actor: Person, sent: Sequence[SentEntry]) -> None:
    """A version without minutes for each; the entries are locked."""
    before = DeliveryVersion.objects.in_bulk([one.version_id for one in sent])
    DeliveryVersion.objects.bulk_create(
        DeliveryVersion(
            client_id=undo_client_id(version),
            entry_id=version.entry_id,
            number=version.number + 1,
            replaces=version,
            logged_by=actor,
        )
        for version in before.values()
    )
    rows = DeliveryEntry.objects.filter(pk__in=[one.entry_id for one in sent])
    rows.update(version=F("version") + 1, revision=F("revision") + 1)
    log_written.send(DeliveryVersion, session_uids=set(rows.values_list("session_uid", flat=True)) - {None})


def _taken_back(sent: Sequence[SentEntry], rows: Sequence[DeliveryEntry], *, left: int) -> TakenBack:
    ids = {one.entry_id for one in sent}
    entries = tuple(row for row in rows if row.pk in ids)
    return TakenBack(len({one.session_uid for one in sent}), entries, left)

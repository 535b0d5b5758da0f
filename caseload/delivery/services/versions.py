"""Versions of log entries: what is stored when something is told, and who was first."""

import uuid
from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.db.models import F

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, MissedReason
from caseload.delivery.selectors.log import settings_of
from caseload.delivery.signals import log_written
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine

type Reasons = Mapping[str, MissedReason]

CHANGED = "Somebody else changed this entry in the meantime, so your change wasn't saved. Look at it again."
ID_USED = "An entry with this id is already saved and says something else. Correct that one instead."
UNDER_WHOM = "Say under whom {given_by} gave it: your district asks for that."
NOTHING_CHANGED = "The entry already says this."


def version_values(
    actor: Person, entry: DeliveryEntry, outcome: Outcome | None, reasons: Reasons
) -> DeliveryVersion:
    """A version by what was told, not saved yet."""
    version = DeliveryVersion(logged_by=actor)
    if outcome is not None:
        version.noted_at = outcome.noted_at
        version.given_by, version.given_under = _given(actor, entry, outcome)
        version.delivered_minutes = outcome.minutes(entry.planned_minutes)
        _reason_require(outcome.reason, version.delivered_minutes, entry.planned_minutes, reasons)
        _under_require(entry, version)
        version.reason, version.note = reasons.get(outcome.reason), outcome.note.strip()
    version.full_clean(exclude=["entry", "reason", "logged_by"], validate_unique=False, validate_constraints=False)
    return version


def _given(actor: Person, entry: DeliveryEntry, outcome: Outcome) -> tuple[str, str]:
    """Who gave it and under whom, as told, as was said before, or the substitute who logs it."""
    before = entry.versions.current().first() if entry.pk else None
    if before is not None:
        known = before.given_by, before.given_under
    else:
        known = str(actor) if actor.role == Person.Role.SUBSTITUTE else "", ""
    told = outcome.given_by, outcome.given_under
    by, under = (old if new is None else new.strip() for new, old in zip(told, known, strict=True))
    return by, under


def _under_require(entry: DeliveryEntry, version: DeliveryVersion) -> None:
    """Where the district asks so on that day: under whom somebody else than the provider gave it."""
    if not version.delivered_minutes or not version.given_by or version.given_under:
        return
    if settings_of(entry.district, entry.date).under_required:
        raise ValidationError({"given_under": UNDER_WHOM.format(given_by=version.given_by)})


def _reason_require(code: str, minutes: int, planned: int, reasons: Reasons) -> None:
    """A reason of the district's table where minutes were missed, and none elsewhere."""
    problem = ""
    if code and minutes >= planned:
        problem = "No minutes were missed. Remove the reason, or enter fewer minutes."
    elif code and reasons.get(code) is None:
        problem = "This reason is not in the district's table. Choose one that is."
    elif not code and minutes < planned:
        problem = "Say why minutes were missed."
    if problem:
        raise ValidationError({"reason": problem})


def version_add(
    actor: Person,
    entry: DeliveryEntry,
    version: DeliveryVersion,
    expected_revision: int,
    client_id: uuid.UUID | None,
) -> DeliveryEntry:
    """Store the next version by compare-and-set; call it inside a transaction."""
    revision_claim(entry, expected_revision)
    before = entry.versions.order_by("-number").select_related("reason").first()
    if before is not None and _says(before) == _says(version):
        raise ApplicationError(NOTHING_CHANGED, code="nothing_changed")
    version.entry = entry
    version.number = (before.number if before is not None else 0) + 1
    version.replaces = before
    version.client_id = client_id
    version.save()
    log_written.send(DeliveryVersion, session_uids={entry.session_uid} - {None})
    DeliveryEntry.objects.filter(pk=entry.pk).update(version=version.number)
    entry.version = version.number
    audit_write(
        actor=actor,
        district=entry.district,
        action="delivery_correct",
        row=entry,
        changes={
            "delivered_minutes": [before.delivered_minutes if before else None, version.delivered_minutes],
            "reason": [_code(before), _code(version)],
        },
    )
    return entry


def revision_claim(entry: DeliveryEntry, expected: int) -> None:
    """Raise the entry's revision if it is still the one that the person saw; else somebody was faster."""
    rows = DeliveryEntry.objects.filter(pk=entry.pk, revision=expected)
    if rows.update(revision=F("revision") + 1) != 1:
        raise ApplicationError(CHANGED, code="changed_meanwhile")
    entry.revision = expected + 1


def _code(version: DeliveryVersion | None) -> str:
    return version.reason.code if version is not None and version.reason is not None else ""


def _says(version: DeliveryVersion) -> tuple[int | str | None, ...]:
    told = (version.note, version.given_by, version.given_under)
    return version.delivered_minutes, version.reason_id, *told


def is_stored_version(entry: DeliveryEntry, client_id: uuid.UUID) -> bool:
    found = DeliveryVersion.objects.filter(client_id=client_id).first()
    if found is not None and found.entry_id != entry.pk:
        raise ApplicationError(ID_USED, code="client_id_used")
    return found is not None


def entry_again(entry: DeliveryEntry) -> DeliveryEntry:
    entry.refresh_from_db()
    return entry


def entries_move(*, line: ServiceLine, other: ServiceLine) -> None:
    """Let all entries of a line be another one's of the same service; what they say stays."""
    DeliveryEntry.objects.filter(service_line=line).update(service_line=other)

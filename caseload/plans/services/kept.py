"""What a change of services did, kept so that it can be taken back whole; and who was first."""

import datetime as dt
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, cast

from django.db import models, transaction
from django.db.models import F

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.services import NOT_THERE, audit_write, district_of, permission_require, record_delete, record_save
from caseload.plans.hooks import references_move
from caseload.plans.models import ContinuingService, Plan, ServiceLine
from caseload.plans.selectors import change_told, changes_of_service

PERMISSION = "caseload.change"
ROWS: Mapping[str, type[models.Model]] = {"line": ServiceLine, "plan": Plan}
NOTHING_TO_UNDO = "There is no change to take back here, or it has been taken back already."
CHANGED_SINCE = (
    "Somebody has changed this since, so taking it back would undo that as well. Look at the services as they are "
    "now, and change them from a date or correct them."
)


@dataclass(slots=True)
class ServiceChange:
    """Rows as a change found them and left them, by names such as ``line 12``; nothing where there was none."""

    told: dict[str, list[dict[str, Any] | None]] = field(default_factory=dict)

    def before[M: models.Model](self, row: M) -> M:
        """Note a row that is about to be changed."""
        self.told.setdefault(_name(row), [_state(row), None])
        return row

    def after[M: models.Model](self, row: M) -> M:
        """Note a row that was changed or made."""
        self.told.setdefault(_name(row), [None, None])[1] = _state(row)
        return row


@contextmanager
def change_keep(*, actor: Person, row: ContinuingService | Plan, action: str) -> Iterator[ServiceChange]:
    """Keep what is noted in the block with a row that is there when the block ends; use it inside a transaction."""
    kept = ServiceChange()
    yield kept
    audit_write(actor=actor, district=district_of(row), action=action, row=row, changes=cast("Any", kept.told))


def revision_claim(*, service: ContinuingService, seen: int | None) -> None:
    """Raise a service's revision, by compare-and-set where the person saw one.

    Raises `ApplicationError` (``changed_meanwhile``), which says what the other person did.
    """
    rows = ContinuingService.objects.filter(pk=service.pk)
    rows = rows if seen is None else rows.filter(revision=seen)
    if not rows.update(revision=F("revision") + 1):
        last = changes_of_service(service).first()
        told = f" ({change_told(last)})" if last is not None else ""
        raise ApplicationError(
            f"Somebody else changed this service in the meantime{told}, so your change isn't saved. Look at the "
            "terms as they are now; save again if you still want yours.",
            code="changed_meanwhile",
        )
    service.refresh_from_db(fields=["revision"])


def change_undo(*, actor: Person, row: ContinuingService | Plan, entry: AuditEntry | None = None) -> None:
    """Take the last change of a service, or the renewal that made a plan, back: all rows are as they were before.

    `entry` is the change that is meant, where one step made several: the latest one first, then those before it.
    Sessions that were planned or logged under a version that goes stand under the one before it again. Raises
    `ApplicationError`: ``nothing_to_undo``, or ``changed_since`` where a row isn't as the change left it.
    """
    permission_require(actor, PERMISSION)
    if not type(row).objects.changeable_by(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        entry = entry or (changes_of_service(row).first() if isinstance(row, ContinuingService) else _renewal(row))
        if entry is None or entry.action == "service_undo":
            raise ApplicationError(NOTHING_TO_UNDO, code="nothing_to_undo")
        _as_left_require(entry)
        services = _services_in(entry)
        audit_write(actor=actor, district=district_of(row), action="service_undo", row=row, changes=entry.changes)
        _put_back(actor, entry)
        for service in services:
            revision_claim(service=service, seen=None)


def _renewal(plan: Plan) -> AuditEntry | None:
    entries = AuditEntry.objects.filter(model=plan._meta.label_lower, object_id=str(plan.pk), action="plan_renew")
    return entries.order_by("-pk").first()


def _name(row: models.Model) -> str:
    return f"{'plan' if isinstance(row, Plan) else 'line'} {row.pk}"


def _row_named(name: str) -> models.Model | None:
    kind, pk = name.split(" ")
    return ROWS[kind]._meta.base_manager.filter(pk=pk).first()


def _state(row: models.Model) -> dict[str, Any]:
    """Every column as JSON keeps it, and the keys of many-to-many rows in order."""
    found = {one.attname: getattr(row, one.attname) for one in row._meta.concrete_fields}
    found = {name: one.isoformat() if isinstance(one, dt.date) else one for name, one in found.items()}
    many = {one.name: sorted(getattr(row, one.name).values_list("pk", flat=True)) for one in row._meta.many_to_many}
    return {**found, **many}


def _as_left_require(entry: AuditEntry) -> None:
    for name, (_, after) in entry.changes.items():
        row = _row_named(name)
        if row is None or not _is_as_left(_state(row), after):
            raise ApplicationError(CHANGED_SINCE, code="changed_since")


def _is_as_left(state: Mapping[str, Any], after: Mapping[str, Any] | None) -> bool:
    """Columns that came after the change say nothing of it."""
    return after is not None and state == {**state, **after}


def _services_in(entry: AuditEntry) -> list[ContinuingService]:
    lines = [name.split(" ")[1] for name in entry.changes if name.startswith("line ")]
    return list(ContinuingService.objects.filter(versions__in=lines).distinct())


def _put_back(actor: Person, entry: AuditEntry) -> None:
    """What was made goes, lines before plans; what was changed becomes what it was, plans before lines."""
    told = sorted(entry.changes.items())
    for name, (before, _) in told:
        row = _row_named(name)
        if before is None and row is not None:
            if isinstance(row, ServiceLine):
                _references_to_the_one_before(row)
            record_delete(actor=actor, row=row, action="service_undo")
    for name, (before, _) in reversed(told):
        row = _row_named(name)
        if before is not None and row is not None:
            _state_set(actor, row, before)


def _references_to_the_one_before(line: ServiceLine) -> None:
    earlier = line.service.versions.filter(start__lt=line.start).order_by("-start").first()
    if earlier is not None:
        references_move(line, earlier)


def _state_set(actor: Person, row: models.Model, state: Mapping[str, Any]) -> None:
    known = [one for one in row._meta.concrete_fields if one.attname in state]
    values = {one.attname: one.to_python(state[one.attname]) for one in known}
    many = {one.name: state[one.name] for one in row._meta.many_to_many}
    record_save(actor=actor, row=row, values={**values, **many}, action="service_undo")

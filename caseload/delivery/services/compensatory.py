"""Writes of compensatory time."""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from accounts.services import record_change, record_remove
from caseload.delivery.models import CompensatoryTime
from caseload.delivery.services.log import local_date

PERMISSION = "log.decide"


def compensatory_save(*, actor: Person, row: CompensatoryTime, values: Mapping[str, Any]) -> CompensatoryTime:
    """Record what a team decided to give, or correct it. Raises `ValidationError` by field."""
    if not row.pk:
        row.recorded_by = actor
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="compensatory_save",
        permission=PERMISSION,
        rules=[_is_decided],
    )


def _is_decided(row: CompensatoryTime, values: Mapping[str, Any]) -> dict[str, str]:
    """A decision lies behind."""
    del values
    if row.decided_on is not None and row.decided_on > local_date(row.student.building):
        return {"decided_on": "This day is in the future. Enter the day of the decision."}
    return {}


def compensatory_delete(*, actor: Person, row: CompensatoryTime) -> None:
    """Take it back. Refused once an entry of the log gives some of it."""
    record_remove(actor=actor, row=row, action="compensatory_delete", permission=PERMISSION)

"""Writes of activities and equipment.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from accounts.models import Person
from accounts.services import record_bring_back, record_change, record_put_away, record_remove
from accounts.services.undo import last_change_undo
from schedule.equipment.models import Activity, Equipment, EquipmentStock, SpaceCautions
from schedule.equipment.selectors import STOCK_UNDO, last_stock_change

SHARED = "district.change"
COUNT = "log.write"


def activity_save(*, actor: Person, row: Activity, values: Mapping[str, Any]) -> Activity:
    """Save an activity."""
    return record_change(actor=actor, row=row, values=values, action="activity_save", permission=SHARED)


def activity_put_away(*, actor: Person, row: Activity) -> None:
    """Take an activity out of the lists; what was written with it keeps it. `activity_bring_back` undoes it."""
    record_put_away(actor=actor, row=row, action="activity_put_away", permission=SHARED)


def activity_bring_back(*, actor: Person, row: Activity) -> Activity:
    """Put it into the lists again."""
    return record_bring_back(actor=actor, row=row, action="activity_bring_back", permission=SHARED)


def equipment_save(*, actor: Person, row: Equipment, values: Mapping[str, Any]) -> Equipment:
    """Save a kind of equipment."""
    return record_change(actor=actor, row=row, values=values, action="equipment_save", permission=SHARED)


def equipment_put_away(*, actor: Person, row: Equipment) -> None:
    """Take equipment out of the lists with its counts. `equipment_bring_back` undoes it."""
    record_put_away(actor=actor, row=row, action="equipment_put_away", permission=SHARED)


def equipment_bring_back(*, actor: Person, row: Equipment) -> Equipment:
    """Put it into the lists again, with its counts as they were."""
    return record_bring_back(actor=actor, row=row, action="equipment_bring_back", permission=SHARED)


def stock_save(*, actor: Person, row: EquipmentStock, values: Mapping[str, Any]) -> EquipmentStock:
    """Save how much of some equipment is in one place."""
    return record_change(actor=actor, row=row, values=values, action="stock_save", permission=SHARED)


def stock_delete(*, actor: Person, row: EquipmentStock) -> None:
    """Forget one place of some equipment. `stock_take_back` undoes it."""
    record_remove(actor=actor, row=row, action="stock_delete", permission=SHARED)


def stock_take_back(*, actor: Person, kind: Equipment, seen: int | None = None) -> None:
    """Undo what was done last to the places and counts of a kind: a place that was forgotten is there again.

    Whoever may count may take a count back; a place only who may change places. `seen`: the id of the change that
    the person saw. Raises as `accounts.services.undo.last_change_undo`.
    """
    last = last_stock_change(kind)
    moved = last is not None and last.entry.action != "stock_count"
    last_change_undo(
        actor=actor, model=EquipmentStock, last=last, seen=seen, action=STOCK_UNDO,
        permission=SHARED if moved else COUNT,
    )  # fmt: skip


def stock_count(*, actor: Person, row: EquipmentStock, values: Mapping[str, Any]) -> EquipmentStock:
    """Save what was counted: any of `count`, `worn`, `broken` and `lent`. Whoever teaches that day may count."""
    with transaction.atomic():
        row = EquipmentStock.objects.select_for_update().get(pk=row.pk)
        return record_change(actor=actor, row=row, values=values, action="stock_count", permission=COUNT)


def space_cautions_save(*, actor: Person, row: SpaceCautions, values: Mapping[str, Any]) -> SpaceCautions:
    """Save what in a space a caution may be about."""
    return record_change(actor=actor, row=row, values=values, action="space_cautions_save", permission=SHARED)

"""Writes of the travel floor: buildings, their spaces, a teacher's own drive times.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from accounts.services import record_change, record_remove
from travel.models import Building, OwnDriveTime, Space

SHARED = "district.change"
OWN = "week.change"


def building_save(*, actor: Person, row: Building, values: Mapping[str, Any]) -> Building:
    """Save a building; no two of a district have one code or stand at one place."""
    return record_change(actor=actor, row=row, values=values, action="building_save", permission=SHARED)


def building_delete(*, actor: Person, row: Building) -> None:
    """Delete a building with its spaces, classes and bells; refused while students or weeks need it."""
    record_remove(actor=actor, row=row, action="building_delete", permission=SHARED)


def space_save(*, actor: Person, row: Space, values: Mapping[str, Any]) -> Space:
    """Save a space of a building."""
    return record_change(actor=actor, row=row, values=values, action="space_save", permission=SHARED)


def space_delete(*, actor: Person, row: Space) -> None:
    """Delete a space; refused while a planned session needs it."""
    record_remove(actor=actor, row=row, action="space_delete", permission=SHARED)


def own_drive_time_save(*, actor: Person, row: OwnDriveTime, values: Mapping[str, Any]) -> OwnDriveTime:
    """Save a teacher's own minutes between two buildings; `teacher` is the actor where none is given."""
    if getattr(row, "teacher_id", None) is None and "teacher" not in values:
        row.teacher = actor
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="own_drive_time_save",
        permission=OWN,
        rules=[_way_back_is_not_said_twice],
    )


def own_drive_time_delete(*, actor: Person, row: OwnDriveTime) -> None:
    """Forget a teacher's own minutes: the estimate counts again."""
    record_remove(actor=actor, row=row, action="own_drive_time_delete", permission=OWN)


def _way_back_is_not_said_twice(row: OwnDriveTime, values: Mapping[str, Any]) -> dict[str, str]:
    """Both ways in one row and the way back in another would leave open which counts."""
    del values
    back = OwnDriveTime.objects.filter(teacher=row.teacher, origin=row.destination, destination=row.origin).first()
    if back is None or not (row.both_ways or back.both_ways):
        return {}
    return {
        "both_ways": f"The way back has its own minutes ({back.minutes}). "
        "Take “both ways” off in both, or delete that one."
    }

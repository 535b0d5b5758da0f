"""Writes of the travel floor: buildings and their spaces.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from accounts.services import record_change, record_remove
from travel.places.models import Building, Space

SHARED = "district.change"


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

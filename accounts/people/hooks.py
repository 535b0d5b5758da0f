"""The buildings that a school office sees: the floor above knows them and hands them down at the start.

This floor must not import that one (travel.apps registers); without it nobody is tied to a building.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from django.db.models import QuerySet

from accounts.models import Person


class SaveOffices(Protocol):
    """Ties a person to buildings by their ids, in the transaction that saved the person."""

    def __call__(self, *, actor: Person, person: Person, wanted: set[int]) -> None:
        """Raises `ValidationError` under ``buildings``."""


@dataclass(frozen=True, slots=True)
class OfficeBuildings:
    """What the floor above answers: every building, those in sight, a person's own, and how a choice is saved."""

    every: Callable[[], QuerySet[Any]]
    visible_to: Callable[[Person], QuerySet[Any]]
    chosen: Callable[[Person], set[int]]
    save: SaveOffices


_known: list[OfficeBuildings] = []


def office_buildings_add(buildings: OfficeBuildings) -> None:
    """Register who answers; a second time replaces the first."""
    _known[:] = [buildings]


def office_buildings() -> OfficeBuildings:
    """Who answers. Raises `LookupError` before the application has started."""
    if not _known:
        message = "No floor has said which buildings an office sees."
        raise LookupError(message)
    return _known[0]

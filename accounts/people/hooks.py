"""The buildings that a school office sees: the floor above knows them and hands them down at the start.

This floor must not import that one (travel.apps registers); without it nobody is tied to a building.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from accounts.models import Person


@dataclass(frozen=True, slots=True)
class OfficeBuildings:
    """What the floor above answers: every building, those in sight, those of a person, and how a choice is saved.

    ``save`` is called in the transaction that saved the person, takes ids and raises `ValidationError` under
    ``buildings``.
    """

    every: Callable[[], QuerySet[Any]]
    visible_to: Callable[[Person], QuerySet[Any]]
    chosen: Callable[[Person], set[int]]
    save: Callable[[Person, Person, set[int]], None]


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

"""What a last day of a building, a person or a student ends: floors above know it and register who says so.

Shown before a last day is saved, on pages and by the API.
"""

from collections.abc import Callable
from typing import Any

from accounts.models import Person

type EndsForeseer = Callable[[Person, Any, Callable[[], object]], list[str]]
"""Tries an act on a row and says in sentences what it ends, or lets go on; leaves nothing of it."""

_known: list[EndsForeseer] = []


def ends_add(foreseer: EndsForeseer) -> None:
    """Register who says it; twice has no effect."""
    if foreseer not in _known:
        _known.append(foreseer)


def ends_foreseen(actor: Person, row: Any, act: Callable[[], object]) -> list[str]:
    """Planned sessions that an act on a row takes off or lets go on, and services that nobody gives then.

    Nothing is saved. Raises what the act raises.
    """
    return [text for foreseer in _known for text in foreseer(actor, row, act)]

"""What floors above hold against every change of a row, whichever service makes it; and what a day or hours end.

`accounts.services.record_save` and `record_delete` ask the guards of a row's table inside the change's transaction.
A guard gets the row as it was saved before (None: it is new) and as it is now (None: it goes), and raises
`ApplicationError` or Django's `ValidationError`.
"""

from collections.abc import Callable
from typing import Any

from django.db import models

from accounts.models import Person


class LinkedText(str):
    """A sentence of what an act does, with the address of what it is about; pages lead there."""

    __slots__ = ("address",)
    address: str

    def __new__(cls, text: str, address: str) -> "LinkedText":
        """The sentence is the text; the address comes beside it."""
        made = super().__new__(cls, text)
        made.address = address
        return made


type Guard = Callable[[Any, Any], None]

_guards: dict[type[models.Model], list[Guard]] = {}


def guard_add(model: type[models.Model], guard: Guard) -> None:
    """Register who is asked about a table's rows; twice has no effect."""
    known = _guards.setdefault(model, [])
    if guard not in known:
        known.append(guard)


def has_guards(model: type[models.Model]) -> bool:
    """Whether anybody is asked about a table's rows."""
    return model in _guards


def guards_ask(was: models.Model | None, now: models.Model | None) -> None:
    """Ask about a row's change; call it inside the change's transaction. Raises what a guard raises."""
    row = now if now is not None else was
    for guard in _guards.get(type(row), ()) if row is not None else ():
        guard(was, now)


type EndsForeseer = Callable[[Person, Any, Callable[[], object]], list[str]]
"""Tries an act on a row and says in sentences what it ends, or lets go on; leaves nothing of it."""

_foreseers: list[EndsForeseer] = []


def ends_add(foreseer: EndsForeseer) -> None:
    """Register who says it; twice has no effect."""
    if foreseer not in _foreseers:
        _foreseers.append(foreseer)


def ends_foreseen(actor: Person, row: Any, act: Callable[[], object]) -> list[str]:
    """Planned sessions that an act on a row takes off, puts outside or lets go on; services that nobody gives then.

    Nothing is saved. Raises what the act raises.
    """
    return [text for foreseer in _foreseers for text in foreseer(actor, row, act)]

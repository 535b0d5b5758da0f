"""What floors above hold against every change of a row, whichever service makes it.

`accounts.services.record_save` and `record_delete` ask the guards of a row's table inside the change's transaction.
A guard gets the row as it was saved before (None: it is new) and as it is now (None: it goes), and raises
`ApplicationError` or Django's `ValidationError`.
"""

from collections.abc import Callable
from typing import Any

from django.db import models

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

"""What the sendings of one request have in common, read once for all of them (`accounts.idempotency.together`).

Outside of `sharing` everything is read each time. What is shared is forgotten as soon as anything is written but
what is tapped all day (`tapped_add`): so a shared value never hangs on those tables. What somebody else writes
meanwhile counts from the next sending on where the database says that there was something (SQLite), else from the
next request: eight seconds later at most, as if these sendings had come so much earlier. Who is signed in is then
asked for each (`at_once`). Keys, what stands already, and whether a month is closed are never shared.
"""

import re
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, cast

from django.db import connection
from django.db.models import Model

WRITES = re.compile(r'\s*(?:INSERT\s+(?:OR\s+\w+\s+)?INTO|UPDATE|DELETE\s+FROM)\s+"(\w+)"', re.IGNORECASE)
READS = re.compile(r"\s*\(*\s*(?:SELECT|SAVEPOINT|RELEASE|BEGIN|PRAGMA|SET|SHOW|EXPLAIN)\b", re.IGNORECASE)
_TAPPED: set[str] = set()


def tapped_add(*models: type[Model]) -> None:
    """Tables that taps write all day, on which nothing that is shared hangs."""
    _TAPPED.update(model._meta.db_table for model in models)


def is_tapped(model: type[Model]) -> bool:
    """Whether rows of this table change with taps: they, and who sees them, are read each time."""
    return model._meta.db_table in _TAPPED


class SharedReads:
    """What was read for the sendings of one request."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, Any] = {}
        self._version: Any = None
        self.tells = connection.vendor == "sqlite"

    def __call__(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
    ) -> Any:
        """Between Django and the database (Django's database instrumentation)."""
        if self._kept and not _leaves_shared(str(sql)):
            self.forget()
        return execute(sql, params, many, context)

    def forget(self) -> None:
        """Read everything again: something was written, or what was read in a transaction that was taken back."""
        self._kept.clear()

    def look(self) -> None:
        """Forget what was read before somebody else wrote (https://www.sqlite.org/pragma.html#pragma_data_version)."""
        if not self.tells:
            return
        with connection.cursor() as cursor:
            version = cursor.execute("PRAGMA data_version").fetchone()
        if version != self._version:
            self.forget()
        self._version = version

    def get(self, key: Hashable, read: Callable[[], Any]) -> Any:
        """What is known of a key, or what is read now."""
        if key not in self._kept:
            # First read, then kept: what is written in reading comes before.
            found = read()
            self._kept[key] = found
        return self._kept[key]


_SHARING: ContextVar[SharedReads | None] = ContextVar("sharing", default=None)


@contextmanager
def sharing() -> Iterator[SharedReads]:
    """While the block runs, what is `shared` is read once."""
    found = SharedReads()
    token = _SHARING.set(found)
    try:
        with connection.execute_wrapper(found):
            yield found
    finally:
        _SHARING.reset(token)


def is_sharing() -> bool:
    """Whether several sendings are carried out in this request."""
    return _SHARING.get() is not None


def shared[Value](key: Hashable, read: Callable[[], Value], *, at_once: bool = False) -> Value:
    """What `read` answers, or answered for an earlier sending of this request; `key` says what it hangs on.

    Nobody changes what they are given. `at_once`: what others write counts at once, so it is shared only where the
    database tells of it.
    """
    found = _SHARING.get()
    if found is None or (at_once and not found.tells):
        return read()
    return cast("Value", found.get(key, read))


def _leaves_shared(sql: str) -> bool:
    """Whether a statement changes nothing that is shared."""
    if READS.match(sql):
        return True
    table = WRITES.match(sql)
    return table is not None and table[1] in _TAPPED

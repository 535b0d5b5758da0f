"""Shadows of a district's tables, on which an import is rehearsed: nothing real is written, locked or waited for.

A temporary table hides the real one of its name from everything that the same connection asks: both databases look
there first (sqlite.org/lang_naming.html; PostgreSQL, “Schemas”, 5.10.3). So the services run as ever, each row is
held against those before it, and SQLite's one write lock stays free for everybody else.

What is written outside of the shadows fails on SQLite as “not authorized”: there it would take the lock.
"""

import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, cast

from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper
from django.db.models import AutoField, Model, QuerySet

# A temporary table can't refer to a table of another schema, and doesn't have to: what is saved is held by the
# real ones.
_REFERENCES = re.compile(
    r'\s+REFERENCES\s+"[^"]+"\s*\("[^"]+"\)(\s+ON DELETE [A-Z ]+?)?(\s+DEFERRABLE INITIALLY DEFERRED)?(?=[\s,)])'
)
_COPY = (
    'INSERT INTO {hidden}."{table}" SELECT * FROM {real}."{table}" '
    'WHERE "{key}" IN (SELECT "{key}" FROM "{chosen}")'
)
_WRITES = (sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE)

type FirstIds = Mapping[str, int]
"""By table: the first of the ids that were set aside for new rows."""


@dataclass(frozen=True, slots=True)
class Shadow:
    """A table to be hidden, and which of its rows are copied, if any."""

    model: type[Model]
    rows: QuerySet[Any] | None = None

    @property
    def table(self) -> str:
        """The table's name."""
        return self.model._meta.db_table

    @property
    def key(self) -> str:
        """The column of its key."""
        return str(self.model._meta.pk.column)

    @property
    def counts_ids(self) -> bool:
        """Whether the database gives new rows their ids."""
        return isinstance(self.model._meta.pk, AutoField)


@contextmanager
def shadowed(shadows: Iterable[Shadow], first_ids: FirstIds) -> Iterator[None]:
    """Hide these tables behind copies; when the block ends, all that was written to them is gone."""
    shadows = tuple(shadows)
    with _without_lock(), transaction.atomic():
        with connection.cursor() as cursor:
            # All rows are chosen before the first table is hidden.
            for shadow in shadows:
                _choose(cursor, shadow)
            for shadow in shadows:
                make = _make_on_sqlite if connection.vendor == "sqlite" else _make_on_postgresql
                make(cursor, shadow, first_ids.get(shadow.table))
        try:
            with _guarded():
                yield
        finally:
            transaction.set_rollback(True)


def ids_set_aside(models: Iterable[type[Model]], count: int) -> FirstIds:
    """Have nobody else get the next `count` ids of each table, so that rehearsed rows keep theirs when saved.

    PostgreSQL needs none of it: there the copies count with the real tables' own sequences.
    """
    if connection.vendor != "sqlite":
        return {}
    tables = [model._meta.db_table for model in models if isinstance(model._meta.pk, AutoField)]
    with transaction.atomic(), connection.cursor() as cursor:
        return {table: _set_aside(cursor, table, count) for table in tables}


def _set_aside(cursor: CursorWrapper, table: str, count: int) -> int:
    last = _last_id(cursor, table)
    cursor.execute("DELETE FROM main.sqlite_sequence WHERE name = %s", [table])
    cursor.execute("INSERT INTO main.sqlite_sequence (name, seq) VALUES (%s, %s)", [table, last + count])
    return last + 1


def _last_id(cursor: CursorWrapper, table: str) -> int:
    """The last id that a table gave (sqlite.org/autoinc.html)."""
    cursor.execute("SELECT COALESCE(MAX(seq), 0) FROM main.sqlite_sequence WHERE name = %s", [table])
    return int(cursor.fetchone()[0])


def _chosen(shadow: Shadow) -> str:
    return f"chosen_{shadow.table}"


def _choose(cursor: CursorWrapper, shadow: Shadow) -> None:
    if shadow.rows is not None:
        sql, parameters = shadow.rows.order_by().values("pk").query.sql_with_params()
        cursor.execute(f'CREATE TEMPORARY TABLE "{_chosen(shadow)}" AS {sql}', parameters)


def _copy(cursor: CursorWrapper, shadow: Shadow, hidden: str, real: str) -> None:
    if shadow.rows is None:
        return
    names = {"hidden": hidden, "real": real, "table": shadow.table, "key": shadow.key, "chosen": _chosen(shadow)}
    cursor.execute(_COPY.format(**names))


def _make_on_sqlite(cursor: CursorWrapper, shadow: Shadow, first_id: int | None) -> None:
    """The same columns, checks and indexes; new rows count on from the real table's last id, or from `first_id`."""
    made = "SELECT sql FROM main.sqlite_master WHERE type = %s AND tbl_name = %s AND sql IS NOT NULL"
    cursor.execute(made, ["table", shadow.table])
    (table,) = cursor.fetchone()
    cursor.execute(_REFERENCES.sub("", table).replace("CREATE TABLE", "CREATE TEMPORARY TABLE", 1))
    cursor.execute(made, ["index", shadow.table])
    for (index,) in cursor.fetchall():
        cursor.execute(index.replace('INDEX "', 'INDEX temp."', 1))
    _copy(cursor, shadow, "temp", "main")
    if shadow.counts_ids:
        last = _last_id(cursor, shadow.table) if first_id is None else first_id - 1
        cursor.execute("DELETE FROM temp.sqlite_sequence WHERE name = %s", [shadow.table])
        cursor.execute("INSERT INTO temp.sqlite_sequence (name, seq) VALUES (%s, %s)", [shadow.table, last])


def _make_on_postgresql(cursor: CursorWrapper, shadow: Shadow, first_id: int | None) -> None:
    """The same columns, checks and indexes; new rows get their ids from the real table's sequence."""
    del first_id
    cursor.execute("SELECT current_schema()")
    real = f'"{cursor.fetchone()[0]}"'
    parts = "INCLUDING DEFAULTS INCLUDING CONSTRAINTS INCLUDING INDEXES"
    cursor.execute(f'CREATE TEMPORARY TABLE "{shadow.table}" (LIKE {real}."{shadow.table}" {parts})')
    _copy(cursor, shadow, "pg_temp", real)
    if shadow.counts_ids:
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [f'{real}."{shadow.table}"', shadow.key])
        (sequence,) = cursor.fetchone()
        cursor.execute(
            f'ALTER TABLE pg_temp."{shadow.table}" ALTER COLUMN "{shadow.key}" SET DEFAULT nextval(%s)', [sequence]
        )


@contextmanager
def _without_lock() -> Iterator[None]:
    """Let the next transaction take SQLite's write lock only if it writes to the real tables, which it doesn't."""
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    database = cast("Any", connection)  # the attribute is that of SQLite's wrapper alone
    usual, database.transaction_mode = database.transaction_mode, "DEFERRED"
    try:
        yield
    finally:
        database.transaction_mode = usual


@contextmanager
def _guarded() -> Iterator[None]:
    """Refuse on SQLite what would be written to a real table."""
    if connection.vendor != "sqlite":
        yield
        return
    database: sqlite3.Connection = connection.connection
    database.set_authorizer(_allow)
    try:
        yield
    finally:
        database.set_authorizer(None)


def _allow(action: int, _first: str | None, _second: str | None, schema: str | None, _trigger: str | None) -> int:
    """SQLite's question before each statement: an action, and the schema of the table."""
    return sqlite3.SQLITE_DENY if schema == "main" and action in _WRITES else sqlite3.SQLITE_OK

"""Questions to the database that every table of drives asks, their SQL written once a process.

Django takes some 0.3 milliseconds to write the SQL of a question, and the database a tenth of that to answer it;
four of them cost more than a road engine's whole table of 30 buildings.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.db import connection
from django.db.models import Model, QuerySet


@dataclass(frozen=True, slots=True)
class _Written[Row: Model]:
    """A question in SQL: a place for each id, and how a row of the answer is made one of the model's."""

    sql: str
    row: type[Row]
    names: tuple[str, ...]
    converters: tuple[tuple[int, Sequence[Callable[..., Any]], Any], ...]

    def made(self, values: Sequence[Any]) -> Row:
        """The model's row of what the database gave, each value as its field reads it."""
        read = list(values)
        for position, steps, expression in self.converters:
            for step in steps:
                read[position] = step(read[position], expression, connection)
        return self.row.from_db(connection.alias, self.names, read)


class SqlOnce[Row: Model]:
    """A queryset over some ids, asked by the same SQL each time.

    `build` takes as many ids as are asked about, and names each of them once, in their order in the SQL.
    """

    def __init__(self, build: Callable[..., QuerySet[Row]]) -> None:
        self._build = build
        self._written = lru_cache(self._write)

    def __call__(self, *ids: int | None) -> list[Row]:
        """The rows of these ids; none where an id isn't known."""
        if None in ids:
            return []
        written = self._written(connection.vendor, len(ids))
        with connection.cursor() as cursor:
            cursor.execute(written.sql, ids)
            found: Iterable[Sequence[Any]] = cursor.fetchall()
        return [written.made(values) for values in found]

    def _write(self, vendor: str, count: int) -> _Written[Row]:
        """The SQL with a place for each id. Raises `ValueError` where the ids don't stand in their order."""
        del vendor  # the database that is asked now
        asked = tuple(range(1, count + 1))
        rows = self._build(*asked)
        compiler = rows.query.get_compiler(connection=connection)
        sql, found = compiler.as_sql()
        if tuple(found) != asked:
            raise ValueError(f"{sql} names its ids as {found}, not as {asked}.")
        columns = [column for column, *_ in compiler.select]
        converters = compiler.get_converters(columns)
        return _Written(
            sql,
            rows.model,
            tuple(column.target.attname for column in columns),
            tuple((at, tuple(steps), expression) for at, (steps, expression) in converters.items()),
        )

"""Questions to the database that every table of drives asks, their SQL written once a process.

Django takes some 0.3 milliseconds to write the SQL of a question, and the database a tenth of that to answer it;
four of them cost more than a road engine's whole table of 30 buildings.
"""

from collections.abc import Callable
from functools import lru_cache

from django.db import connection
from django.db.models import Model, QuerySet


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
        rows, sql = self._written(connection.vendor, len(ids))
        return list(rows.raw(sql, ids))

    def _write(self, vendor: str, count: int) -> tuple[QuerySet[Row], str]:
        """The SQL with a place for each id. Raises `ValueError` where the ids don't stand in their order."""
        del vendor  # the database that is asked now
        asked = tuple(range(1, count + 1))
        rows = self._build(*asked)
        sql, found = rows.query.sql_with_params()
        if tuple(found) != asked:
            raise ValueError(f"{sql} names its ids as {found}, not as {asked}.")
        return rows, sql

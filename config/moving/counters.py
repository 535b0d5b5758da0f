"""The numbers that rows get: the last that a table gave, so that no new row gets the number of a deleted one.

What changed in a row is kept by its number, longer than the row.
"""

from collections.abc import Mapping
from typing import Any

from django.db import connection
from django.db.models import AutoField, Model


def numbered(model: type[Model]) -> bool:
    """Whether the database numbers its rows."""
    return isinstance(model._meta.pk, AutoField)


def last_number(model: type[Model]) -> int:
    """The last number that it gave; 0 if none yet."""
    if connection.vendor == "postgresql":
        query = f"SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {_sequence(model)}"  # noqa: S608 -- a name that the server gave
        return int(_asked(query, []) or 0)
    return int(_asked("SELECT seq FROM sqlite_sequence WHERE name = %s", [model._meta.db_table]) or 0)


def last_numbers_set(numbers: Mapping[type[Model], int]) -> None:
    """Go on after these."""
    with connection.cursor() as cursor:
        for model, number in numbers.items():
            if number <= 0:
                continue
            table = model._meta.db_table
            if connection.vendor == "postgresql":
                cursor.execute("SELECT setval(%s, %s)", [_sequence(model), number])
            else:
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, number])


def _sequence(model: type[Model]) -> str:
    meta = model._meta
    return str(_asked("SELECT pg_get_serial_sequence(%s, %s)", [f'"{meta.db_table}"', str(meta.pk.column)]))


def _asked(query: str, values: list[str]) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(query, values)
        row = cursor.fetchone()
    return row[0] if row else None

"""Reading a district's rows, all of them as of one moment, and seeing that none of them leads out of it."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, cast

from django.db import connection

from accounts.errors import ApplicationError
from accounts.models import District
from config.moving.belonging import LEFT_OUT, DistrictTable, district_tables, keys_of
from config.moving.lines import line_written

AT_ONCE = 200
LARGE_AT_ONCE = 8
"""Rows that are read at once; fewer where a row may hold a picture or a document."""


def district_named(given: str) -> District:
    """By its name or its number; without either the only one. Raises `ApplicationError`, which lists them."""
    every = list(District.objects.order_by("name"))
    found = [one for one in every if given in {"", one.name, str(one.pk)}]
    if len(found) == 1:
        return found[0]
    listed = "; ".join(f"{one.name} (number {one.pk})" for one in every) or "none"
    wanted = f"No district, or more than one, is called “{given}”" if given else "Say which district, by --district"
    raise ApplicationError(f"{wanted}. There are: {listed}.", code="which_district")


def lines_of(table: DistrictTable, district: District) -> Iterator[bytes]:
    """Its rows of the district as lines, in the order of their keys, few of them in memory at a time."""
    names = [one.attname for one in table.columns]
    large = any(one.get_internal_type() == "BinaryField" for one in table.columns)
    rows = table.rows(district).values_list(*names)
    for row in rows.iterator(chunk_size=LARGE_AT_ONCE if large else AT_ONCE):
        yield line_written(names, row)


def closed_require(district: District) -> None:
    """Raise `ApplicationError` where a row of the district names one that isn't of it, or of no archive."""
    known = {one.model: one for one in district_tables()}
    for table in district_tables():
        for key in keys_of(table.model):
            target: Any = key.related_model
            out = table.rows(district).filter(**{f"{key.name}__isnull": False})
            if target in known:
                out = out.exclude(**{f"{key.name}__in": known[target].rows(district).order_by().values("pk")})
            elif target._meta.label not in LEFT_OUT:
                continue
            if (pk := out.values_list("pk", flat=True).first()) is not None:
                raise ApplicationError(
                    f"Row {pk} of {table.label} names by {key.name} a row of {target._meta.label} that isn't of "
                    "this district, so it can't go without that one. Correct that row first.",
                    code="leads_out",
                )


@contextmanager
def reading() -> Iterator[None]:
    """Inside, a transaction begins that only reads: on SQLite without keeping others from writing."""
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

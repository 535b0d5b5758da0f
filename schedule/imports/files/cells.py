"""Values of saved rows by the columns of a table."""

from typing import Any

from django.db.models import Model

from caseload.plans.models import SchoolClass
from schedule.imports.tables.columns import Table
from travel.places.models import Building

type Values = dict[str, Any]


def fields_of(row: Model, table: Table, *links: str) -> Values:
    """A row's fields by the columns' names, less those in `links`, which the caller adds as codes."""
    return {column.name: getattr(row, column.name) for column in table.columns if column.name not in links}


def code_of(row: Building | SchoolClass | None) -> str:
    """The code of a building or a class that a row may have."""
    return row.code if row is not None else ""

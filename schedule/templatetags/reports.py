"""Filters of the reports' templates: cells with the names of their columns."""

import datetime as dt

from django import template

from accounts.dates import short_date_words
from caseload.ledger.report_data import Cell, ReportTable

register = template.Library()

type Named = list[tuple[str, Cell, bool]]


def _named(table: ReportTable, row: tuple[Cell, ...]) -> Named:
    return [
        (column, short_date_words(cell) if isinstance(cell, dt.date) else cell, at in table.numbers)
        for at, (column, cell) in enumerate(zip(table.columns, row, strict=True))
    ]


@register.filter
def with_columns(table: ReportTable) -> list[Named]:
    """Each row as (column, cell, whether it is a number)."""
    return [_named(table, row) for row in table.rows]


@register.filter
def totals_with_columns(table: ReportTable) -> Named:
    """The last row alike."""
    return _named(table, table.totals)

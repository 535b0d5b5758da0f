"""One column of theirs that holds two of ours: “Tarn, Ola” in a column “Student name”. Pure."""

from collections.abc import Collection

from schedule.imports.tables.columns import Column, ColumnKind, Table

WHOLE_NAME = Column(
    "Last name, first name", "whole_name", ColumnKind.TEXT,
    "Both in one cell, last name first, with one comma between.", "Tarn, Ola",
)  # fmt: skip
PARTS = ("last_name", "first_name")
"""The columns of ours that it fills, in the order of its words."""


def offered(table: Table) -> tuple[Column, ...]:
    """What a column of theirs can be: our columns, and the whole name where a table needs both parts of it."""
    needed = {column.name for column in table.columns if column.required}
    return (*table.columns, WHOLE_NAME) if needed.issuperset(PARTS) else table.columns


def filled(names: Collection[str]) -> list[str]:
    """Our columns that are filled by what was chosen, once for each time that one is."""
    return [part for name in names for part in (PARTS if name == WHOLE_NAME.name else (name,))]


def parts_of(name: str, cell: str) -> tuple[str, ...]:
    """The cells of our columns that one of theirs fills, in the order of `filled`.

    Only one comma says where a name ends. Without one, or with several (“Tarn, Jr., Ola”), all of it stays in the
    last name, and the missing first name is a problem of that row, for a person to mend.
    """
    if name != WHOLE_NAME.name:
        return (cell,)
    words = tuple(word.strip() for word in cell.split(","))
    return words if len(words) == len(PARTS) else (cell, "")

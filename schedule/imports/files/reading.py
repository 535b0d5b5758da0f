"""Grids of text to the rows of a table: headers found, faults of the whole table named."""

import difflib
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from schedule.imports.files.grids import Grid, iter_named, read_grids
from schedule.imports.files.problems import RowProblem, UnreadableFileError
from schedule.imports.tables.columns import Column, Table
from schedule.imports.tables.every import TABLES

NO_ROWS = "There are headers and no rows, so nothing of this table changes."
NO_ROWS_REMEDY = "Fill at least one row if something should."
_LOOK_FOR_HEADERS_IN = 10  # rows
# A value that an export of ours made harmless (see accounts.files.neutralize).
_HARMLESS = re.compile(r"^'+[=+\-@\t\r]")


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row: its number in the spreadsheet, and its cells as text by the column's name.

    Columns that the file doesn't have are not among the cells.
    """

    number: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class TableFile:
    """One table as it was sent, with what is wrong with it so far."""

    table: Table
    filename: str
    rows: tuple[TableRow, ...]
    problems: tuple[RowProblem, ...]


def read_table(table: Table, filename: str, content: bytes) -> TableFile:
    """One table from a CSV file, or from the sheet of a workbook that holds it. Raises UnreadableFileError."""
    return read_grid(table, filename, grid_of(table, filename, content))


def grid_of(table: Table, filename: str, content: bytes) -> Grid:
    """The sheet of a file that holds a table; a notice says which aren't read. Raises UnreadableFileError."""
    grids = list(iter_named(read_grids(filename, content)))
    if not grids:
        raise UnreadableFileError("This file has no rows. Fill a template and send that.")
    named = [grid for grid in grids if _is_named(grid, table)]
    grid = named[0] if named else grids[0]
    others = [other.name for other in grids if other is not grid]
    if not others:
        return grid
    message = f"Only the sheet “{grid.name}” was read, not {', '.join(others)}. Send the others separately."
    return replace(grid, notices=(*grid.notices, message))


def read_tables(filename: str, content: bytes) -> tuple[TableFile, ...]:
    """Every table of a workbook (a sheet each) or of a zip of CSV files, in their proper order.

    Raises UnreadableFileError, also for a sheet or a file that is named like no table.
    """
    grids = list(iter_named(read_grids(filename, content)))
    if not grids:
        raise UnreadableFileError("This file has no rows. Fill a template and send that.")
    for grid in grids:
        _require_known(grid)
    found = [(table, grid) for table in TABLES for grid in grids if _is_named(grid, table)]
    return tuple(read_grid(table, filename, grid) for table, grid in found)


def _is_named(grid: Grid, table: Table) -> bool:
    """Whether a sheet or a file is named after a table."""
    return _plain(grid.name) in {_plain(table.kind), _plain(table.title)}


def _plain(text: str) -> str:
    """A header without the differences that don't matter: capitals, spaces, hyphens, a star."""
    return re.sub(r"[\s_\-*:]+", " ", text).strip().casefold()


def read_grid(table: Table, filename: str, grid: Grid) -> TableFile:
    """One grid as rows of a table."""
    problems = [RowProblem(table.kind, 0, "", "", notice, "", warning=True) for notice in grid.notices]
    header_row, headers = grid.rows[0]
    places, faults = _match_headers(table, headers, grid)
    problems += faults
    problems += [_merged_problem(table, first_row, area, header_row) for first_row, area in grid.merged]
    rows: list[TableRow] = []
    if not any(not fault.warning for fault in problems):
        for number, cells in grid.rows[1:]:
            row, cell_faults = _read_row(table, places, grid, number, cells)
            rows.append(row)
            problems += cell_faults
        if not rows:
            # A district's own export of an empty table is one: sending it back changes nothing.
            problems.append(RowProblem(table.kind, 0, "", "", NO_ROWS, NO_ROWS_REMEDY, warning=True))
    return TableFile(table, filename, tuple(rows), tuple(problems))


def _merged_problem(table: Table, first_row: int, area: str, header_row: int) -> RowProblem:
    """Merged cells leave all but their first cell empty."""
    where = "in the header" if first_row <= header_row else "in the rows"
    return RowProblem(
        table.kind,
        first_row,
        "",
        area,
        f"Cells {area} {where} are merged.",
        "Unmerge them and fill in each cell.",
    )


def _require_known(grid: Grid) -> None:
    """Raises UnreadableFileError for a sheet or a file that is named like no table."""
    if not any(_is_named(grid, table) for table in TABLES):
        raise UnreadableFileError(
            f"“{grid.name}” isn't the name of a table. Name each sheet or CSV file as its template is named: "
            f"{', '.join(table.kind for table in TABLES)}."
        )


def _used_places(grid: Grid) -> set[int]:
    """Places below the header row that hold something."""
    return {place for _, cells in grid.rows[1:] for place, cell in enumerate(cells) if cell}


def _missing_headers(table: Table, found: Collection[Column], number: int) -> list[RowProblem]:
    missing = [column for column in table.columns if column.required and column not in found]
    return [
        RowProblem(
            table.kind,
            number,
            column.header,
            "",
            f"The column “{column.header}” is missing.",
            f"Add it: {column.help}",
        )
        for column in missing
    ]


def _match_headers(
    table: Table, headers: tuple[str, ...], grid: Grid
) -> tuple[dict[int, Column], list[RowProblem]]:
    """The column at each place, and what is wrong with the header row."""
    known = {_plain(column.header): column for column in table.columns}
    number = grid.rows[0][0]
    if not any(_plain(header) in known for header in headers):
        return {}, [_no_headers(table, known, grid)]
    places: dict[int, Column] = {}
    faults: list[RowProblem] = []
    used = _used_places(grid)
    for place in range(max(len(headers), max(used, default=-1) + 1)):
        header = headers[place] if place < len(headers) else ""
        column = known.get(_plain(header))
        if column is None:
            faults += _strange_header(table, header, place, place in used, number)
        elif column in places.values():
            message = f"The header “{header}” appears twice."
            faults.append(RowProblem(table.kind, number, header, header, message, "Delete one of the two columns."))
        else:
            places[place] = column
    return places, faults + _missing_headers(table, places.values(), number)


def _no_headers(table: Table, known: Iterable[str], grid: Grid) -> RowProblem:
    """The first row holds none of the headers: perhaps another does."""
    names = set(known)
    for number, cells in grid.rows[1:_LOOK_FOR_HEADERS_IN]:
        if sum(_plain(cell) in names for cell in cells) > 1:
            message = f"The first row has none of the headers of “{table.title}”; row {number} seems to hold them."
            return RowProblem(table.kind, 1, "", "", message, f"Delete the rows above row {number}.")
    message = f"The first row has none of the headers of “{table.title}”."
    remedy = f"The first row must have the headers: {', '.join(table.headers)}."
    return RowProblem(table.kind, grid.rows[0][0], "", ", ".join(grid.rows[0][1])[:80], message, remedy)


def _strange_header(table: Table, header: str, place: int, used: bool, number: int) -> list[RowProblem]:
    """A header that isn't a column's, or none above filled cells."""
    if not header.strip():
        if not used:
            return []
        message = f"Column {place + 1} has values and no header."
        return [RowProblem(table.kind, number, "", "", message, "Write its header, or delete the column.")]
    near = difflib.get_close_matches(header, table.headers, n=1, cutoff=0.5)
    remedy = f"Did you mean “{near[0]}”? " if near else ""
    remedy += "Correct the header, or delete the column."
    message = f"“{header}” isn't a column of this table."
    return [RowProblem(table.kind, number, header, header, message, remedy)]


def _read_row(
    table: Table, places: dict[int, Column], grid: Grid, number: int, cells: tuple[str, ...]
) -> tuple[TableRow, list[RowProblem]]:
    """The cells of one row by name, and its formulas and spreadsheet errors."""
    values: dict[str, str] = {}
    faults: list[RowProblem] = []
    for place, column in places.items():
        text = cells[place] if place < len(cells) else ""
        if (number, place) in grid.formulas:
            message = "This cell holds a formula, not a value."
            remedy = "Copy the cell and paste it as a value, or type what it shows."
            faults.append(RowProblem(table.kind, number, column.header, text, message, remedy))
            text = ""
        elif (number, place) in grid.broken:
            message = "This cell holds a spreadsheet error."
            faults.append(RowProblem(table.kind, number, column.header, text, message, "Type the value."))
            text = ""
        values[column.name] = text[1:] if _HARMLESS.match(text) else text
    return TableRow(number, values), faults

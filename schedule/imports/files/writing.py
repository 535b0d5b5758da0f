"""Tables to files: blank templates, a district's own rows, and the sheet of problems.

Workbooks have frozen headers, comments and notes; CSV and harmless text are `accounts.files`'.
"""

import io
from collections.abc import Iterable, Sequence

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from accounts.files import NUMBER, Rows, neutralize, write_csv
from schedule.imports.files.problems import RowProblem
from schedule.imports.tables.columns import Table

NOTES = "Notes"
_WIDEST = 60


def write_workbook(tables: Sequence[tuple[Table, Rows]]) -> bytes:
    """A workbook with a sheet for each table, headers frozen and explained, and a sheet of notes."""
    book = Workbook()
    del book["Sheet"]
    for table, rows in tables:
        _fill_sheet(book.create_sheet(table.kind), table, rows)
    _fill_notes(book.create_sheet(NOTES), [table for table, _ in tables])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _fill_sheet(sheet: Worksheet, table: Table, rows: Rows) -> None:
    """Headers in the first row, each with its column's help as a comment; then the rows."""
    widths = [len(header) + 4 for header in table.headers]
    for place, column in enumerate(table.columns, start=1):
        cell = sheet.cell(1, place, column.header)
        cell.font = Font(bold=True)
        needed = "Must be filled. " if column.required else ""
        words = f" One of: {', '.join(column.words)}." if column.words else ""
        cell.comment = Comment(f"{needed}{column.help}{words}", "Template", width=320, height=110)
    for number, row in enumerate(rows, start=2):
        for place, text in enumerate(row, start=1):
            _fill_cell(sheet, number, place, text)
            widths[place - 1] = max(widths[place - 1], min(len(text) + 2, _WIDEST))
    for place, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.freeze_panes = "A2"


def _fill_cell(sheet: Worksheet, number: int, place: int, text: str) -> None:
    """A number as a number, everything else as text that is never computed."""
    if not text:
        return
    cell = sheet.cell(number, place)
    if NUMBER.fullmatch(text) and str(_as_number(text)) == text:
        cell.value = _as_number(text)
        return
    cell.value = neutralize(text)
    cell.data_type = "s"
    cell.number_format = "@"


def _as_number(text: str) -> int | float:
    return float(text) if "." in text else int(text)


def _fill_notes(sheet: Worksheet, tables: Sequence[Table]) -> None:
    """What each table and each column is for. This sheet isn't read."""
    lines: list[Sequence[str]] = []
    for table in tables:
        lines += [(table.title, table.about, ""), ("Column", "What to write", "Example")]
        for column in table.columns:
            needed = "Must be filled. " if column.required else ""
            words = f" One of: {', '.join(column.words)}." if column.words else ""
            lines.append((column.header, f"{needed}{column.help}{words}", column.example))
        lines.append(("", "", ""))
    lines += [
        ("Empty rows", "They are skipped.", ""),
        ("Formulas", "They aren't computed: paste values.", ""),
        ("A column left out", "Keeps what is saved; an empty cell means empty or the default.", ""),
    ]
    for number, line in enumerate(lines, start=1):
        for place, text in enumerate(line, start=1):
            _fill_cell(sheet, number, place, text)
    for letter, width in (("A", 30), ("B", 90), ("C", 24)):
        sheet.column_dimensions[letter].width = width


def write_template(table: Table, form: str) -> bytes:
    """A blank template as `csv` or `xlsx`."""
    return write_csv(table.headers, []) if form == "csv" else write_workbook([(table, [])])


def write_problems(problems: Iterable[RowProblem]) -> bytes:
    """The sheet of problems as CSV."""
    headers = ("Table", "Row", "Column", "Value", "Problem", "What to do", "Stops the import")
    rows = (
        (
            problem.table,
            str(problem.row or ""),
            problem.column,
            problem.value,
            problem.message,
            problem.remedy,
            "no" if problem.warning else "yes",
        )
        for problem in problems
    )
    return write_csv(headers, rows)

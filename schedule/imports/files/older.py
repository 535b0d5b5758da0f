"""Workbooks that aren't XLSX: the older .xls and OpenDocument's .ods, and what locked ones are."""

import io
import re
import zipfile
from collections.abc import Iterator, Sequence

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook, PasswordError, SheetVisibleEnum

from schedule.imports.files.problems import UnreadableFileError

OLD_EXCEL_START = b"\xd0\xcf\x11\xe0"
PDF_START = b"%PDF"
OPEN_DOCUMENT = {"mimetype", "content.xml"}
"""Parts that an OpenDocument file has; one that isn't a spreadsheet has no tables to read."""
# A name inside a file of Microsoft's older container: the whole workbook is encrypted (MS-OFFCRYPTO, 2.1).
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_ROW = re.compile(rb"<table:table-row\b([^>]*)>(.*?)</table:table-row>", re.DOTALL)
_CELL = re.compile(rb"<table:table-cell\b([^>]*)")
_TIMES = re.compile(rb'table:number-(?:rows|columns)-repeated="(\d{1,9})"')

type Limits = tuple[int, int, int]
"""The lowest row, and how many columns and cells there may be."""


def read_sheets(content: bytes, limits: Limits) -> Iterator[tuple[str, Sequence[Sequence[object]]]]:
    """Name and cells of each visible sheet, from A1 on. Raises UnreadableFileError."""
    if content.startswith(OLD_EXCEL_START) and _ENCRYPTED in content:
        raise _locked()
    if not content.startswith(OLD_EXCEL_START):
        _check_repeats(content, limits[2])
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        for about in book.sheets_metadata:
            if about.visible is SheetVisibleEnum.Visible:
                sheet = book.get_sheet_by_name(about.name)
                _check_extent(sheet, limits)
                yield about.name, sheet.to_python(skip_empty_area=False)
    except PasswordError as error:
        raise _locked() from error
    except CalamineError as error:
        message = "This workbook is damaged, or no workbook. Open it, save it as a new XLSX file and send that."
        raise UnreadableFileError(message) from error


def _locked() -> UnreadableFileError:
    return UnreadableFileError("This workbook has a password. Open it, save it without one, and send that.")


def _check_extent(sheet: CalamineSheet, limits: Limits) -> None:
    """Refuse by the sheet's extent, before its cells become objects."""
    lowest, columns, cells = limits
    if sheet.total_height > lowest or sheet.total_width > columns or sheet.total_height * sheet.total_width > cells:
        raise UnreadableFileError(
            f"The sheet “{sheet.name}” reaches down to row {sheet.total_height:,} and has {sheet.total_width} "
            f"columns; at most {columns} columns are read. Copy only your rows into a new workbook."
        )


def _check_repeats(content: bytes, most: int) -> None:
    """An OpenDocument file writes a cell once and how often it stands there: count before they are unfolded."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        body = packed.read("content.xml")
    cells = 0
    for row in _ROW.finditer(body):
        filled = [_times(cell[1]) for cell in _CELL.finditer(row[2]) if b"value-type" in cell[1]]
        cells += _times(row[1]) * sum(filled)
        if cells > most:
            message = f"This workbook has more than {most:,} cells. Copy only your rows into a new workbook."
            raise UnreadableFileError(message)


def _times(attributes: bytes) -> int:
    found = _TIMES.search(attributes)
    return int(found[1]) if found else 1

"""Files to plain grids of text: CSV and workbooks, with what a careless or hostile file can hold.

tablib, which writes our files, hides row numbers, merged cells and formulas when it reads, and these are what
people must be told about; so reading uses what lies beneath it, the csv module and openpyxl.
"""

import csv
import datetime as dt
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet.worksheet import Worksheet

from schedule.imports.files.older import OLD_EXCEL_START, OPEN_DOCUMENT, PDF_START, read_sheets
from schedule.imports.files.problems import UnreadableFileError

LARGEST_FILE = 5 * 1024 * 1024  # bytes
LARGEST_UNPACKED = 25 * 1024 * 1024  # bytes; XLSX and ZIP files are compressed
MOST_ROWS = 5_000
MOST_COLUMNS = 60
MOST_CELLS = MOST_ROWS * MOST_COLUMNS
# A sheet may have stray formatting far below its rows.
LOWEST_USED_ROW = 20_000

_CELL = re.compile(rb"<(?:\w+:)?c[ >]")
_ZIP_START = b"PK\x03\x04"
# What a damaged or locked zip file raises while it is unpacked.
_BROKEN_ZIP = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    NotImplementedError,  # a compression or an encryption that Python doesn't know
    RuntimeError,  # a password
    ValueError,
)
# openpyxl trusts what it reads: found by feeding it thousands of workbooks with changed bytes.
_BROKEN_WORKBOOK = (
    *_BROKEN_ZIP,
    InvalidFileException,
    SyntaxError,  # XML's own ParseError
    LookupError,
    TypeError,
    AttributeError,
    ArithmeticError,
)


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of cells as text, with their numbers as the spreadsheet shows them; blank rows are left out.

    `formulas` and `broken` name cells (row, column; from 1 and 0) with a formula or a spreadsheet's error such
    as #REF!; `merged` names merged ranges such as A3:A8 with their first row; `hidden` are the numbers of rows that
    somebody has hidden, by a filter for instance.
    """

    name: str
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    formulas: frozenset[tuple[int, int]] = frozenset()
    broken: frozenset[tuple[int, int]] = frozenset()
    merged: tuple[tuple[int, str], ...] = ()
    hidden: tuple[int, ...] = ()
    notices: tuple[str, ...] = ()


@dataclass(slots=True)
class _Found:
    """What a sheet is found to hold while its cells are read."""

    rows: list[tuple[int, tuple[str, ...]]] = field(default_factory=list)
    formulas: set[tuple[int, int]] = field(default_factory=set)
    broken: set[tuple[int, int]] = field(default_factory=set)


def check_size(size: int) -> None:
    """Refuse a file of more than LARGEST_FILE bytes. Raises UnreadableFileError."""
    if size > LARGEST_FILE:
        raise UnreadableFileError(
            f"This file has {size / 1024 / 1024:.1f} MB; the limit is {LARGEST_FILE // 1024 // 1024} MB. A "
            "table of "
            f"{MOST_ROWS:,} rows is far smaller: copy your rows into a blank template, or send them in parts."
        )
    if size == 0:
        raise UnreadableFileError("This file is empty. Fill a template and send that.")


def read_grids(filename: str, content: bytes) -> tuple[Grid, ...]:
    """The sheets of a workbook, the files of a zip, or the one grid of a CSV. Raises UnreadableFileError."""
    check_size(len(content))
    if content.startswith(PDF_START):
        raise UnreadableFileError("This is a PDF. Its tables can't be read: ask for the list as XLSX or CSV.")
    if content.startswith(OLD_EXCEL_START):
        return _read_other(content)
    if not content.startswith(_ZIP_START):
        return (read_csv(filename, content),)
    names = _check_unpacked(content)
    if "xl/workbook.xml" in names:
        return _read_workbook(content)
    if set(names) >= OPEN_DOCUMENT:
        return _read_other(content)
    return _read_zip(content, names)


def _read_other(content: bytes) -> tuple[Grid, ...]:
    """The visible sheets of an older or of an OpenDocument workbook. Raises UnreadableFileError."""
    grids = []
    for name, rows in read_sheets(content, (LOWEST_USED_ROW, MOST_COLUMNS, MOST_CELLS)):
        found = _Found()
        for number, cells in enumerate(rows, start=1):
            _add_row(found, number, [_cell_text(cell) for cell in cells])
        grids.append(Grid(name, tuple(found.rows)))
    return tuple(grids)


def _count_cells(parts: Mapping[str, bytes]) -> int:
    return sum(len(_CELL.findall(part)) for name, part in parts.items() if name.startswith("xl/worksheets/"))


def _too_large(unpacked: int) -> UnreadableFileError:
    return UnreadableFileError(
        f"This file unpacks to {unpacked / 1024 / 1024:.0f} MB; the limit is "
        f"{LARGEST_UNPACKED // 1024 // 1024} MB. Copy only your rows into a blank template."
    )


def _check_unpacked(content: bytes) -> list[str]:
    """Names in a zip, after its unpacked size and its count of cells were checked. Raises UnreadableFileError."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            infos = packed.infolist()
            unpacked = sum(info.file_size for info in infos)
            if unpacked > LARGEST_UNPACKED or len(infos) > 1000:
                raise _too_large(unpacked)
            # Every part is unpacked once, which also holds it against its checksum.
            parts = {info.filename: packed.read(info) for info in infos}
    except UnreadableFileError:
        raise
    except _BROKEN_ZIP as error:
        raise UnreadableFileError(f"This file is damaged or locked ({error}). Save it again.") from error
    if len(parts) < len(infos):
        raise UnreadableFileError("This zip file has two files with the same name. Give each its own name.")
    cells = _count_cells(parts)
    if cells > MOST_CELLS:
        raise UnreadableFileError(
            f"This workbook has {cells:,} cells; the most is {MOST_CELLS:,}. "
            "Copy only your rows into a blank template."
        )
    return list(parts)


def _read_zip(content: bytes, names: list[str]) -> tuple[Grid, ...]:
    """The CSV files in a zip. Raises UnreadableFileError."""
    wanted = [name for name in names if name.lower().endswith(".csv") and not name.startswith("__MACOSX/")]
    if not wanted:
        raise UnreadableFileError("This zip file has no CSV file in it. Put the filled-in CSV templates into it.")
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return tuple(read_csv(name, packed.read(name)) for name in wanted)


def read_csv(filename: str, content: bytes) -> Grid:
    """One CSV file, with commas, semicolons or tabs between its cells. Raises UnreadableFileError."""
    text, notices = _decode(content)
    delimiter = _delimiter(text)
    found = _Found()
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, start=1):
            _add_row(found, number, [cell.strip(" \u00a0\n") for cell in cells])
    except csv.Error as error:
        raise UnreadableFileError(
            f"Row {number + 1} can't be read ({error}). Look for a quotation mark that isn't closed, or save the "
            "file again from your spreadsheet as “CSV UTF-8”."
        ) from error
    for row, kept in found.rows:
        found.formulas.update((row, place) for place, cell in enumerate(kept) if _is_formula(cell))
    return Grid(_stem(filename), tuple(found.rows), frozenset(found.formulas), notices=notices)


def _is_formula(text: str) -> bool:
    """Whether a CSV's cell would be computed by a spreadsheet."""
    return text.startswith("=") and len(text) > 1


def _stem(filename: str) -> str:
    """`bell-schedules` for `district/bell-schedules.csv`."""
    return filename.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]


def _decode(content: bytes) -> tuple[str, tuple[str, ...]]:
    """The text of a CSV file: UTF-8, or Windows' own encoding with a notice. Raises UnreadableFileError."""
    how = "Save it from your spreadsheet as “CSV UTF-8”, or as XLSX."
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableFileError(f"This file is in the encoding UTF-16. {how}")
    if b"\x00" in content:
        raise UnreadableFileError("This is neither CSV nor XLSX. Fill one of the templates and send that.")
    try:
        return content.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        pass
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as error:
        raise UnreadableFileError(f"Its encoding is unknown (byte {error.start + 1}). {how}") from error
    notice = f"This file isn't in UTF-8; it was read as Windows-1252. Check letters with accents. {how}"
    return text, (notice,)


def _delimiter(text: str) -> str:
    """What stands between the cells of the first line that isn't blank."""
    line = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    unquoted = re.sub(r'"[^"]*"', "", line)
    return max((",", ";", "\t"), key=unquoted.count)


def _add_row(found: _Found, number: int, cells: list[str]) -> None:
    """Keep a row unless it is blank. Raises UnreadableFileError past the limits."""
    while cells and not cells[-1]:
        cells.pop()
    if not cells:
        return
    if len(found.rows) > MOST_ROWS:
        raise UnreadableFileError(f"This table has more than {MOST_ROWS:,} rows. Send it in parts.")
    if len(cells) > MOST_COLUMNS:
        raise UnreadableFileError(
            f"Row {number} has {len(cells)} columns; the limit is {MOST_COLUMNS}. Use a blank template's columns."
        )
    found.rows.append((number, tuple(cells)))


def _read_workbook(content: bytes) -> tuple[Grid, ...]:
    """Every visible sheet of a workbook. Raises UnreadableFileError."""
    try:
        book = load_workbook(io.BytesIO(content), data_only=False, keep_links=False, rich_text=False)
        sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
        return tuple(_read_sheet(sheet) for sheet in sheets)
    except UnreadableFileError:
        raise
    except _BROKEN_WORKBOOK as error:
        raise UnreadableFileError(
            f"This workbook is damaged ({type(error).__name__}). Open it, save it as a new XLSX file and send that."
        ) from error


def _read_sheet(sheet: Worksheet) -> Grid:
    """One sheet. Raises UnreadableFileError past the limits."""
    if sheet.max_row > LOWEST_USED_ROW:
        raise UnreadableFileError(
            f"The sheet “{sheet.title}” reaches down to row {sheet.max_row:,}. "
            "Copy only your rows into a blank template."
        )
    found = _Found()
    for number, cells in enumerate(sheet.iter_rows(max_col=min(sheet.max_column, MOST_COLUMNS + 1)), start=1):
        for place, cell in enumerate(cells):
            if cell.data_type == "f":
                found.formulas.add((number, place))
            elif cell.data_type == "e":
                found.broken.add((number, place))
        _add_row(found, number, [_padded(_cell_text(cell.value), cell.number_format) for cell in cells])
    merged = tuple(sorted((area.min_row, area.coord) for area in sheet.merged_cells.ranges))
    rows = tuple(found.rows)
    hidden = tuple(number for number, _ in rows if sheet.row_dimensions[number].hidden)
    return Grid(sheet.title, rows, frozenset(found.formulas), frozenset(found.broken), merged, hidden)


def _padded(text: str, number_format: str) -> str:
    """A number with the zeros before it that its cell shows: 00123 in the format 00000."""
    return text.zfill(len(number_format)) if text.isdigit() and set(number_format) == {"0"} else text


def _cell_text(value: Any) -> str:
    """A native cell as the text that a person would type."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, dt.timedelta):
        return _duration_text(value)
    if isinstance(value, dt.datetime | dt.time):
        return _clock_text(value)
    return str(value).strip(" \u00a0\n")


def _clock_text(value: dt.datetime | dt.time) -> str:
    if isinstance(value, dt.time):
        return value.replace(microsecond=0).isoformat("seconds" if value.second else "minutes")
    return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ")


def _duration_text(value: dt.timedelta) -> str:
    """A duration of a spreadsheet (`[h]:mm`) as a time of day."""
    minutes, seconds = divmod(round(value.total_seconds()), 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}" + (f":{seconds:02d}" if seconds else "")


def iter_named(grids: tuple[Grid, ...]) -> Iterator[Grid]:
    """The grids that hold something and aren't notes."""
    return (grid for grid in grids if grid.rows and grid.name.strip().casefold() != "notes")

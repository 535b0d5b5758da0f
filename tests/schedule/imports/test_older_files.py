"""Workbooks that aren't XLSX, locked ones, and what is no workbook at all."""

import io
import zipfile

import msoffcrypto.format.ooxml
import pytest
import xlwt
from openpyxl import Workbook

from schedule.imports.files.grids import read_grids
from schedule.imports.files.problems import UnreadableFileError
from schedule.imports.files.values import CellError, parse_cell
from schedule.imports.tables.every import find_table
from tests.schedule.imports.test_reading import saved

# The least that OpenDocument 1.2 (OASIS, part 1, 3.1 and 9) asks of a spreadsheet.
SPREADSHEET = "application/vnd.oasis.opendocument.spreadsheet"
CONTENT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content office:version="1.2" xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0">
<office:body><office:spreadsheet>
<table:table table:name="Buildings">{rows}</table:table>
</office:spreadsheet></office:body>
</office:document-content>"""
MANIFEST = f"""<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2">
<manifest:file-entry manifest:full-path="/" manifest:media-type="{SPREADSHEET}"/>
<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>"""


def cell(text: str, times: int = 1) -> str:
    """A cell with a text."""
    repeated = f' table:number-columns-repeated="{times}"' if times > 1 else ""
    return (
        f'<table:table-cell office:value-type="string"{repeated}><text:p>{text}</text:p></table:table-cell>'
        if text
        else f"<table:table-cell{repeated}/>"
    )


def row(*cells: str, times: int = 1) -> str:
    """A row of cells."""
    repeated = f' table:number-rows-repeated="{times}"' if times > 1 else ""
    return f"<table:table-row{repeated}>{''.join(cells)}</table:table-row>"


def open_document(*rows: str) -> bytes:
    """An OpenDocument spreadsheet with one sheet."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("mimetype", SPREADSHEET)
        packed.writestr("content.xml", CONTENT.format(rows="".join(rows)))
        packed.writestr("META-INF/manifest.xml", MANIFEST)
    return stream.getvalue()


def older() -> bytes:
    """A workbook in the older format, with a number and a day of its own types; a second sheet is hidden."""
    book = xlwt.Workbook()
    sheet = book.add_sheet("Buildings")
    for place, value in enumerate(("Building code", "Name", "Minutes to arrive")):
        sheet.write(1, place, value)
    for place, given in enumerate(("ELM", "Elm Rise School", 6)):
        sheet.write(2, place, given)
    book.add_sheet("Old").visibility = 1
    book.get_sheet(1).write(0, 0, "x")
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_the_older_format() -> None:
    """Cells as a person would type them, rows as the spreadsheet counts them, hidden sheets left out."""
    (grid,) = read_grids("b.xls", older())
    assert grid.name == "Buildings"
    assert grid.rows == ((2, ("Building code", "Name", "Minutes to arrive")), (3, ("ELM", "Elm Rise School", "6")))


def test_an_open_document() -> None:
    """With the empty rows and cells that such programs write to the end of the sheet."""
    content = open_document(
        row(cell("Building code"), cell("Name"), cell("", 1000)),
        row(cell("", 1002), times=2),
        row(cell("ELM"), cell("Elm Rise School")),
        row(cell("", 16_384), times=1_048_570),
    )
    (grid,) = read_grids("b.ods", content)
    assert grid.rows == ((1, ("Building code", "Name")), (4, ("ELM", "Elm Rise School")))


@pytest.mark.parametrize(
    "content",
    [
        open_document(row(cell("x", 1000), times=1_000_000)),
        open_document(row(cell("x", 16_384)), row(cell("y", 16_384), times=400)),
    ],
)
def test_a_small_file_that_unfolds_to_a_huge_one(content: bytes) -> None:
    """A billion cells in a kilobyte are refused before they are there."""
    with pytest.raises(UnreadableFileError, match="more than 300,000 cells"):
        read_grids("b.ods", content)


def locked() -> bytes:
    """A workbook with a password, encrypted as MS-OFFCRYPTO says, by another program."""
    book = Workbook()
    plain = io.BytesIO(saved(book))
    stream = io.BytesIO()
    msoffcrypto.format.ooxml.OOXMLFile(plain).encrypt("marrow", stream)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (locked(), "has a password"),
        (b"%PDF-1.7\n1 0 obj\n", "This is a PDF"),
        (older()[:700], "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(900), "damaged"),
    ],
)
def test_what_cannot_be_read_is_named_as_what_it_is(content: bytes, words: str) -> None:
    """With what to do."""
    with pytest.raises(UnreadableFileError, match=words):
        read_grids("list", content)


@pytest.mark.parametrize(
    "text", ["9/8/26", "8-Sep-26", "8 Sep 2026", "Sep 8, 2026", "September 8 2026", "09/08/2026"]
)
def test_ways_to_write_a_date(text: str) -> None:
    """Common practice, no source."""
    plans = find_table("plans")
    assert plans is not None
    assert str(parse_cell(plans.column("plan_start"), text)) == "2026-09-08"


@pytest.mark.parametrize("text", ["8-Sop-26", "31-Feb-26", "13/40/26", "Sep 8"])
def test_what_is_no_date(text: str) -> None:
    """Refused, not guessed."""
    plans = find_table("plans")
    assert plans is not None
    with pytest.raises(CellError):
        parse_cell(plans.column("plan_start"), text)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("MWF", "Mon,Wed,Fri"),
        ("TTh", "Tue,Thu"),
        ("T/Th", "Tue,Thu"),
        ("MTWRF", "Mon,Tue,Wed,Thu,Fri"),
        ("M W", "Mon,Wed"),
        ("MW, Fri", "Mon,Wed,Fri"),
        ("F", "F"),
        ("A", "A"),
        ("Day 3", "Day 3"),
        ("FM", "FM"),
    ],
)
def test_days_by_their_letters(text: str, days: str) -> None:
    """Two or more that run on through the week; one alone may be a cycle day. Common practice, no source."""
    times = find_table("space-times")
    assert times is not None
    assert parse_cell(times.column("days"), text) == days


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("1:05", ("1:05 PM", "1:05 AM")),
        ("02:30", ("2:30 PM", "2:30 AM")),
        ("12:20", ()),
        ("6:40", ()),
        ("1:05 pm", ()),
    ],
)
def test_a_time_that_may_be_in_the_afternoon(text: str, readings: tuple[str, ...]) -> None:
    """Before six without AM or PM nothing is saved: it is asked."""
    bells = find_table("bell-schedules")
    assert bells is not None
    column = bells.column("start")
    if not readings:
        assert parse_cell(column, text) is not None
        return
    with pytest.raises(CellError) as asked:
        parse_cell(column, text)
    assert asked.value.readings == readings

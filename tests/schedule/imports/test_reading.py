"""Files to rows: sizes, encodings, headers, merged cells, formulas, a spreadsheet's own types."""

import datetime as dt
import io
import zipfile
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from accounts.files import neutralize, write_csv
from schedule.imports.files.grids import LARGEST_FILE, MOST_ROWS, read_grids
from schedule.imports.files.problems import RowProblem, UnreadableFileError
from schedule.imports.files.reading import TableFile, read_table, read_tables
from schedule.imports.files.values import CellError, parse_cell, write_cell
from schedule.imports.files.writing import write_problems, write_template, write_workbook
from schedule.imports.tables.every import TABLES, find_table
from tests.schedule.imports.district import ALL, to_csv


def read(kind: str, content: bytes | str, filename: str = "file.csv") -> TableFile:
    """One table from a file."""
    table = find_table(kind)
    assert table is not None
    return read_table(table, filename, content.encode() if isinstance(content, str) else content)


def workbook(*rows: list[Any], merge: str = "", title: str = "Sheet1") -> bytes:
    """An XLSX file with one sheet."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(row)
    if merge:
        sheet.merge_cells(merge)
    return saved(book)


def saved(book: Workbook) -> bytes:
    """A workbook's bytes."""
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def refusal(content: bytes | str, kind: str = "buildings") -> str:
    """Why a file can't be read at all."""
    with pytest.raises(UnreadableFileError) as refused:
        read(kind, content)
    return str(refused.value)


def test_a_file_of_twenty_megabytes() -> None:
    """It is refused by its size, with the limit."""
    message = refusal(b"x" * (20 * 1024 * 1024))
    assert "20.0 MB" in message
    assert "5 MB" in message


def test_an_empty_file() -> None:
    """No bytes, or headers of nothing."""
    assert "empty" in refusal(b"")
    assert "no rows" in refusal(b"\n\n")


def test_a_workbook_that_unpacks_to_far_more() -> None:
    """A zip bomb is refused before it is unpacked."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b"<workbook/>")
        packed.writestr("xl/worksheets/sheet1.xml", b" " * (60 * 1024 * 1024))
    content = stream.getvalue()
    assert len(content) < LARGEST_FILE
    assert "unpacks to 60 MB" in refusal(content)


def test_too_many_rows() -> None:
    """The limit itself passes; one more doesn't."""
    headers = "Building code,Name\n"
    assert len(read("buildings", headers + "A,B\n" * MOST_ROWS).rows) == MOST_ROWS
    assert f"{MOST_ROWS:,}" in refusal(headers + "A,B\n" * (MOST_ROWS + 1))


def test_a_sheet_that_reaches_far_down() -> None:
    """A stray cell in the last row a spreadsheet has."""
    book = Workbook()
    assert book.active is not None
    book.active["A1"] = "Building code"
    book.active["A1048576"] = "x"
    assert "1,048,576" in refusal(saved(book))


@pytest.mark.parametrize(
    ("content", "word"),
    [
        ("Building code,Name\nA,Bé\n".encode("utf-16"), "UTF-16"),
        (b"\xd0\xcf\x11\xe0rest of an old workbook", "damaged"),
        (b"PK\x03\x04 and then nothing of a zip", "damaged"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "neither CSV nor XLSX"),
        (b'Building code,Name\nA,"not closed\n', "quotation mark"),
        (b"Building code,Name\nA,\x81\n", "encoding"),
    ],
)
def test_files_that_cannot_be_read(content: bytes, word: str) -> None:
    """Each says what it is and how to save it instead."""
    assert word in refusal(content)


def test_a_damaged_workbook() -> None:
    """A zip that says it is a workbook and holds none."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("xl/workbook.xml", b"<workbook")
    assert "damaged" in refusal(stream.getvalue())


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_utf8_with_and_without_a_mark(encoding: str) -> None:
    """Both are read, the mark isn't part of the first header."""
    file = read("buildings", "Building code,Name\nA,Élan\n".encode(encoding))
    assert file.problems == ()
    assert file.rows[0].cells == {"code": "A", "name": "Élan"}


def test_windows_encoding_is_read_with_a_notice() -> None:
    """é in Windows-1252, and a sentence about it."""
    file = read("buildings", "Building code,Name\nA,Élan\n".encode("cp1252"))
    assert file.rows[0].cells["name"] == "Élan"
    assert [problem.warning for problem in file.problems] == [True]
    assert "Windows-1252" in file.problems[0].message


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_what_stands_between_cells(delimiter: str) -> None:
    """Commas, semicolons (as some settings save) and tabs."""
    text = delimiter.join(["Building code", "Name", "Address"]) + "\n" + delimiter.join(["A", "B", '"x, y; z"'])
    assert read("buildings", text).rows[0].cells == {"code": "A", "name": "B", "address": "x, y; z"}


def test_headers_in_any_order_and_capitals() -> None:
    """Order, capitals, hyphens and outer spaces don't matter."""
    file = read("buildings", " NAME ,building_code\nOak,A\n")
    assert file.problems == ()
    assert file.rows[0].cells == {"code": "A", "name": "Oak"}


@pytest.mark.parametrize(
    ("header", "message", "remedy"),
    [
        ("Building code,Name,Adress", "“Adress” isn't a column", "Did you mean “Address”?"),
        ("Building code,Name,Name", "“Name” appears twice", "Delete one"),
        ("Building code,,", "“Name” is missing", "Add it"),
        ("Building code,Name,,Address", "Column 3 has values and no header", "Write its header"),
        ("One,Two,Three", "none of the headers of “Buildings”", "Building code, Name, Level"),
    ],
)
def test_headers_that_are_wrong(header: str, message: str, remedy: str) -> None:
    """Unknown, repeated, missing and blank headers."""
    file = read("buildings", f"{header}\nA,B,C,D\n".replace("Building code,,\nA,B,C,D", "Building code\nA"))
    problem = file.problems[0]
    assert message in problem.message
    assert remedy in problem.remedy
    assert problem.row == 1
    assert file.rows == ()


def test_headers_below_a_title() -> None:
    """A title above the headers: the message says which rows to delete."""
    file = read("buildings", "Our buildings\n\nBuilding code,Name\nA,B\n")
    assert "row 3" in file.problems[0].remedy


def test_headers_and_no_rows() -> None:
    """An unfilled template says so."""
    assert "no rows" in read("buildings", write_template(TABLES[0], "csv")).problems[0].message
    assert "no rows" in read("buildings", write_template(TABLES[0], "xlsx")).problems[0].message


@pytest.mark.parametrize(("merge", "row"), [("A1:B1", 1), ("A2:A3", 2)])
def test_merged_cells(merge: str, row: int) -> None:
    """Merged headers and merged rows are named by their range."""
    content = workbook(["Building code", "Name"], ["A", "B"], ["C", "D"], merge=merge)
    found = [problem for problem in read("buildings", content).problems if merge in problem.message]
    assert [(problem.row, problem.value) for problem in found] == [(row, merge)]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_formulas_are_refused_with_their_cell(form: str) -> None:
    """A computed cell is named; it isn't called empty as well."""
    rows = [["Building code", "Name"], ["A", "=1+1"], ["B", "Fine"]]
    content = workbook(*rows) if form == "xlsx" else to_csv(rows[0], rows[1:])
    file = read("buildings", content)
    assert [(p.row, p.column, p.value, p.warning) for p in file.problems] == [(2, "Name", "=1+1", False)]
    assert "paste it as a value" in file.problems[0].remedy


def test_errors_of_the_spreadsheet() -> None:
    """#REF! is no value."""
    file = read("buildings", workbook(["Building code", "Name"], ["A", "#REF!"]))
    assert [(problem.row, problem.column) for problem in file.problems] == [(2, "Name")]


def test_native_types_of_a_spreadsheet() -> None:
    """Times, dates, durations, whole numbers and truth values come out as a person would type them."""
    grid = read_grids(
        "x.xlsx",
        workbook(
            [dt.time(8, 5), dt.date(2026, 9, 8), dt.datetime(2026, 9, 8), 5.0, 5.25, True],  # noqa: DTZ001 -- as stored
            [dt.time(13, 5, 30), dt.timedelta(hours=9, minutes=20), 101, "  text ", None, False],
        ),
    )[0]
    assert grid.rows == (
        (1, ("08:05", "2026-09-08", "2026-09-08", "5", "5.25", "yes")),
        (2, ("13:05:30", "09:20", "101", "text", "", "no")),
    )


def test_the_sheet_of_the_table_is_chosen() -> None:
    """Among several sheets the one named as the table is read, and a notice names the others."""
    book = load_workbook(io.BytesIO(workbook(["x"], title="Other")))
    sheet = book.create_sheet("Buildings")
    sheet.append(["Building code", "Name"])
    sheet.append(["A", "B"])
    file = read("buildings", saved(book))
    assert file.rows[0].cells == {"code": "A", "name": "B"}
    assert [problem.warning for problem in file.problems] == [True]
    assert "Other" in file.problems[0].message


def test_a_zip_of_tables_is_read_in_the_order_of_their_references() -> None:
    """Students before buildings in the zip, buildings first when read."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("district/students.csv", ALL["students"])
        packed.writestr("district/buildings.csv", ALL["buildings"])
        packed.writestr("__MACOSX/._students.csv", b"\x00\x05")
    files = read_tables("district.zip", stream.getvalue())
    assert [file.table.kind for file in files] == ["buildings", "students"]


def test_a_zip_with_a_stranger() -> None:
    """A file that is named like no table is refused with the names."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("pupils.csv", ALL["students"])
    with pytest.raises(UnreadableFileError, match="students") as refused:
        read_tables("district.zip", stream.getvalue())
    assert "pupils" in str(refused.value)


def test_two_files_of_one_name_in_a_zip() -> None:
    """Neither is passed over in silence."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("buildings.csv", ALL["buildings"])
        with pytest.warns(UserWarning, match="Duplicate name"):
            packed.writestr("buildings.csv", ALL["buildings"])
    assert "two files with the same name" in refusal(stream.getvalue())


def say(content: bytes) -> str:
    """What the reader makes of a file: its rows, its problems or why it can't be read; never another exception."""
    try:
        file = read("buildings", content)
    except UnreadableFileError as refused:
        return str(refused)
    return " ".join([*(str(row) for row in file.rows), *(problem.message for problem in file.problems)])


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    """No file makes anything but rows, problems or a sentence."""
    for start in (b"", b"Building code,Name\n", b"PK\x03\x04"):
        assert say(start + content)


GOOD = write_workbook([(TABLES[0], [("A", "Oak", "elementary")])])


@given(st.data())
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@pytest.mark.filterwarnings("ignore::UserWarning:openpyxl")
def test_damaged_workbooks_are_read_or_refused(data: st.DataObject) -> None:
    """Workbooks with a piece of any part cut out or doubled, and with any byte changed."""
    with zipfile.ZipFile(io.BytesIO(GOOD)) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    name = data.draw(st.sampled_from(sorted(parts)))
    start = data.draw(st.integers(0, len(parts[name])))
    end = data.draw(st.integers(start, min(len(parts[name]), start + 40)))
    double = data.draw(st.booleans())
    piece = parts[name][start:end]
    parts[name] = parts[name][:start] + (piece + piece if double else b"") + parts[name][end:]
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as out:
        for part, content in parts.items():
            out.writestr(part, content)
    place = data.draw(st.integers(0, len(GOOD) - 1))
    byte = data.draw(st.binary(min_size=1, max_size=1))
    for content in (stream.getvalue(), GOOD[:place] + byte + GOOD[place + 1 :]):
        assert say(content)


@pytest.mark.parametrize(("text", "value"), [("Mon", "0"), ("thursday", "3"), ("TUES", "1")])
def test_the_first_letters_of_a_word(text: str, value: str) -> None:
    """Enough letters to be no other word's."""
    table = find_table("contract-days")
    assert table is not None
    assert parse_cell(table.column("weekday"), text) == value
    with pytest.raises(CellError):
        parse_cell(table.column("weekday"), text[0])


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.kind)
def test_templates_explain_themselves(table: Any) -> None:
    """Both templates have the headers; the workbook has them frozen and explained, with notes beside."""
    assert write_template(table, "csv").decode("utf-8-sig").strip().split(",") == list(table.headers)
    book = load_workbook(io.BytesIO(write_template(table, "xlsx")))
    sheet = book[table.kind]
    assert [cell.value for cell in sheet[1]] == list(table.headers)
    assert sheet.freeze_panes == "A2"
    assert all(column.help in cell.comment.text for column, cell in zip(table.columns, sheet[1], strict=True))
    notes = [row[0].value for row in book["Notes"].iter_rows()]
    assert set(table.headers) <= set(notes)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.kind)
def test_every_example_can_be_read(table: Any) -> None:
    """The examples that templates show are ones that the reader takes, and writes back to the same value."""
    for column in table.columns:
        if column.example:
            value = parse_cell(column, column.example)
            assert parse_cell(column, write_cell(column, value)) == value


def test_a_required_cell_that_is_empty() -> None:
    """It says which column, and what belongs there."""
    column = TABLES[0].column("code")
    with pytest.raises(CellError) as refused:
        parse_cell(column, "")
    assert "Building code" in refused.value.message
    assert column.help in refused.value.remedy


# Cells that a spreadsheet would compute begin with one of these (OWASP, "CSV Injection").
@pytest.mark.parametrize("text", ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "'=1"])
def test_dangerous_cells_are_made_harmless(text: str) -> None:
    """In the sheet of problems and in both exports no cell begins so."""
    problem = RowProblem("buildings", 2, "Name", text, text, text)
    rows = list(read_grids("x.csv", write_problems([problem]))[0].rows)
    assert rows[1][1][3].startswith("'")
    book = load_workbook(io.BytesIO(write_workbook([(TABLES[0], [(text, text)])])))
    assert [cell.data_type for cell in book["buildings"][2][:2]] == ["s", "s"]
    assert book["buildings"]["A2"].value.startswith("'")


def test_negative_numbers_stay_numbers() -> None:
    """A longitude west isn't taken for a formula."""
    assert neutralize("-75.221000") == "-75.221000"


@given(st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp", "Zs"])))
def test_what_is_written_is_read_back(text: str) -> None:
    """Any text that is exported comes back as it was, and no cell that is written can be computed."""
    written = write_csv(["Building code", "Name"], [["A", text]])
    file = read("buildings", written)
    assert file.problems == ()
    assert file.rows[0].cells.get("name", "") == text

"""Reports as files: CSV and XLSX with every text made harmless, PDF for print. Files bear no student's name."""

import datetime as dt
import io
from collections.abc import Iterable, Iterator, Sequence

import tablib
from django.template.loader import render_to_string
from openpyxl import Workbook

from accounts.files import neutralize, write_csv
from accounts.pdf import pdf_of
from caseload.ledger.report_data import Cell, Report, ReportTable
from schedule.reports.audit_rows import COLUMNS, AuditRow, Value, cells_of


def report_file(report: Report, form: str) -> bytes:
    """The report as ``csv``, ``xlsx`` or ``pdf``. Raises `ApplicationError` where PDF can't be made here."""
    return {"csv": _csv, "xlsx": _xlsx, "pdf": _pdf}[form](report)


def report_file_name(report: Report, form: str) -> str:
    """Such as ``minutes-student-12-2026-10-30.csv``: ids and dates."""
    return f"minutes-{report.key}.{form}"


def _heading(report: Report) -> list[tuple[Cell, ...]]:
    return [(report.title, report.subject), *report.facts, *(("Note", note) for note in report.notes)]


def _table_rows(table: ReportTable) -> Iterator[tuple[Cell, ...]]:
    yield from table.rows
    if table.totals:
        yield table.totals


def _csv(report: Report) -> bytes:
    """One sheet: the tables below each other, then the rules."""
    rows: list[tuple[Cell, ...]] = _heading(report)[1:]
    for table in report.tables:
        rows += [(), (table.title,), table.columns, *_table_rows(table)]
    rows += [(), ("Rules in force",), *((rule,) for rule in report.rules)]
    width = max(len(row) for row in rows)
    padded = [[str(cell) for cell in row] + [""] * (width - len(row)) for row in rows]
    return write_csv([report.title, neutralize(report.subject), *[""] * (width - 2)], padded)


def _xlsx(report: Report) -> bytes:
    """A sheet a table; the first one says what it is and prints the rules."""
    about = tablib.Dataset(title="Report", headers=[report.title, neutralize(report.subject)])
    for row in [*_heading(report)[1:], *(("Rule", rule) for rule in report.rules)]:
        about.append([_safe(cell) for cell in row])
    sheets = [about]
    for table in report.tables:
        sheet = tablib.Dataset(title=table.title[:31], headers=list(table.columns))
        for row in _table_rows(table):
            sheet.append([_safe(cell) for cell in row])
        sheets.append(sheet)
    return bytes(tablib.Databook(sheets).export("xlsx"))


def _safe(cell: Cell) -> Cell:
    return neutralize(cell) if isinstance(cell, str) else cell


def session_file(rows: Iterable[AuditRow], form: str) -> bytes:
    """The auditor's file as ``csv`` or ``xlsx``, its second sheet explaining the columns."""
    table = [cells_of(row) for row in rows]
    names = [column.name for column in COLUMNS]
    if form == "csv":
        return write_csv(names, [[_text(cell) for cell in cells] for cells in table])
    about = [(column.name, column.meaning) for column in COLUMNS]
    return _book([("Sessions", names, table), ("Columns", ["Column", "What it means"], about)])


def _text(cell: Value) -> str:
    """ISO 8601 for dates and times; nothing for nothing."""
    if isinstance(cell, dt.datetime):
        return cell.strftime("%Y-%m-%dT%H:%M:%SZ")
    if isinstance(cell, dt.time):
        return f"{cell:%H:%M}"
    return "" if cell is None else str(cell)


def _book(sheets: Sequence[tuple[str, Sequence[str], Sequence[Sequence[Value]]]]) -> bytes:
    """A workbook whose dates are dates and whose texts no spreadsheet computes."""
    book = Workbook(write_only=True)
    for title, names, rows in sheets:
        sheet = book.create_sheet(title)
        sheet.append(list(names))
        for row in rows:
            sheet.append([_plain(cell) for cell in row])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _plain(cell: Value) -> Value:
    """As a workbook takes it: without a zone, and harmless."""
    if isinstance(cell, dt.datetime):
        return cell.replace(tzinfo=None)
    return neutralize(cell) if isinstance(cell, str) else cell


def _pdf(report: Report) -> bytes:
    return pdf_of(render_to_string("schedule/reports/print.html", {"report": report}))

"""A voucher as CSV, XLSX and PDF. Amounts are written as they were rounded; nothing in a cell is ever computed from
what somebody typed."""

import datetime as dt
import io
from collections.abc import Sequence
from decimal import Decimal

from django.template.loader import render_to_string
from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from accounts.files import neutralize, write_csv
from accounts.pdf import pdf_of
from schedule.trips.data import Sums, VoucherView
from travel.mileage.chart import SOURCE_WORDS
from travel.mileage.entries import Entry

HEADERS = (
    "Date",
    "From",
    "To",
    "Purpose",
    "Odometer before",
    "Odometer after",
    "Direct miles",
    "Source of the direct miles",
    "Driven miles",
    "Miles claimed",
    "Source of the miles",
    "Off the chart",
    "Dollars a mile",
    "Source of the rate",
    "Amount",
    "Parking",
    "Tolls",
    "Total",
    "Account code",
    "Rule",
    "Note",
)
RATE_HEADERS = ("Dollars a mile", "Miles claimed", "Amount", "Parking", "Tolls", "Total")
_FORMATS = {"Dollars a mile": "0.0000"}
_MONEY = frozenset({"Amount", "Parking", "Tolls", "Total"})
_SUMMED = ("Miles claimed", "Amount", "Parking", "Tolls", "Total")
_DAY = "mm/dd/yyyy"
_WIDTHS = {
    "Asked before submitting": 90,
    "The driver's answer": 50,
    "Date": 12,
    "From": 28,
    "To": 28,
    "Purpose": 36,
    "Source of the direct miles": 26,
    "Source of the miles": 30,
    "Off the chart": 40,
    "Source of the rate": 30,
    "Rule": 60,
    "Note": 30,
}

type Cell = str | Decimal | dt.date | None


def voucher_file(view: VoucherView, form: str) -> bytes:
    """A voucher as ``csv``, ``xlsx`` or ``pdf``."""
    return {"csv": _csv, "xlsx": _xlsx, "pdf": _pdf}[form](view)


def voucher_file_name(view: VoucherView, form: str) -> str:
    """Month and number; nobody's name."""
    number = f"-supplement-{view.number}" if view.number else ""
    return f"mileage-{view.month:%Y-%m}{number}.{form}"


def _cells(entry: Entry) -> tuple[Cell, ...]:
    return (
        entry.day,
        entry.origin,
        entry.destination,
        entry.purpose,
        entry.odometer_before,
        entry.odometer_after,
        entry.direct,
        SOURCE_WORDS[entry.direct_source] if entry.direct_source else "",
        entry.driven,
        entry.miles,
        entry.source_words,
        entry.off_chart_words,
        entry.rate,
        entry.rate_source,
        entry.amount,
        entry.parking,
        "in parking" if entry.tolls is None and entry.parking else entry.tolls,
        entry.total,
        entry.account_code,
        entry.rule,
        entry.note,
    )


def _total(sums: Sums) -> tuple[Cell, ...]:
    by_header: dict[str, Cell] = {
        "Date": "Sum",
        "Miles claimed": sums.miles,
        "Amount": sums.amount,
        "Parking": sums.parking,
        "Tolls": sums.tolls,
        "Total": sums.total,
    }
    return tuple(by_header.get(header) for header in HEADERS)


def _rate_rows(view: VoucherView) -> list[tuple[Cell, ...]]:
    """The sums of each rate, and at the end those of all."""
    rows: list[tuple[Cell, Sums]] = [*view.by_rate, ("All", view.sums)]
    return [(rate, one.miles, one.amount, one.parking, one.tolls, one.total) for rate, one in rows]


def _text(cell: Cell) -> str:
    return "" if cell is None else str(cell)


def _csv(view: VoucherView) -> bytes:
    rows = [_cells(entry) for entry in view.entries]
    return write_csv(HEADERS, [[_text(cell) for cell in row] for row in [*rows, _total(view.sums)]])


def _xlsx(view: VoucherView) -> bytes:
    book = Workbook()
    sheet = book.active
    if not isinstance(sheet, Worksheet):
        raise TypeError("A new workbook has no sheet.")
    sheet.title = f"{view.month:%Y-%m}"
    head = _head(view)
    for number, cells in enumerate(head, start=1):
        _fill(sheet, number, cells, ())
    top = len(head) + 2
    _fill(sheet, top, HEADERS, ())
    for number, entry in enumerate(view.entries, start=top + 1):
        _fill(sheet, number, _cells(entry), HEADERS)
    last = top + len(view.entries)
    _fill(sheet, last + 1, _total(view.sums), HEADERS)
    sheet.cell(last + 2, 1, "The same, added up by this sheet")
    for header in _SUMMED:
        place = HEADERS.index(header) + 1
        letter = get_column_letter(place)
        cell = sheet.cell(last + 2, place, f"=SUM({letter}{top + 1}:{letter}{last})")
        cell.number_format = _format(header)
    _dress(sheet, HEADERS, top, last + 1)
    sheet.freeze_panes = f"A{top + 1}"
    _rates_sheet(book, view)
    if view.answers:
        _answers_sheet(book, view)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _rates_sheet(book: Workbook, view: VoucherView) -> None:
    rows = _rate_rows(view)
    sheet = book.create_sheet("Sums by rate")
    for number, row in enumerate([RATE_HEADERS, *rows], start=1):
        _fill(sheet, number, row, RATE_HEADERS)
    _dress(sheet, RATE_HEADERS, 1, len(rows) + 1)


def _head(view: VoucherView) -> list[tuple[Cell, ...]]:
    """Whose it is, and who has said what of it."""
    rows: list[tuple[Cell, ...]] = [
        ("Driver", view.teacher),
        ("District", view.district),
        ("Claim", f"{view.title}, {view.month:%B %Y}"),
        ("State", view.status_label),
    ]
    if view.submitted_at is not None:
        rows.append(("Submitted", view.submitted_at.date(), view.submitted_by))
    if view.approval is not None:
        rows.append(("Approved", view.approval.at.date(), view.approval.by))
    if view.payment is not None:
        rows.append(("Paid", view.payment.at.date(), view.payment.words))
    return [*rows, ("Rules", view.rules)]


def _answers_sheet(book: Workbook, view: VoucherView) -> None:
    headers = ("Asked before submitting", "The driver's answer")
    sheet = book.create_sheet("Questions")
    for number, row in enumerate([headers, *((one.question, one.answer) for one in view.answers)], start=1):
        _fill(sheet, number, row, headers)
    _dress(sheet, headers, 1)


def _dress(sheet: Worksheet, headers: Sequence[str], *bold: int) -> None:
    """Widths of columns, and rows in bold."""
    for number in bold:
        for cell in sheet[number]:
            cell.font = Font(bold=True)
    for place, header in enumerate(headers, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = _WIDTHS.get(header, 14)


def _fill(sheet: Worksheet, number: int, cells: Sequence[Cell], headers: Sequence[str]) -> None:
    """Decimals as numbers, dates as dates, everything else as text that is never computed."""
    for place, value in enumerate(cells, start=1):
        if value is None or value == "":
            continue
        cell = sheet.cell(number, place)
        if isinstance(value, Decimal):
            cell.value = value
            cell.number_format = _format(headers[place - 1])
        elif isinstance(value, dt.date):
            cell.value = value
            cell.number_format = _DAY
        else:
            cell.value = neutralize(value)
            cell.data_type = "s"


def _format(header: str) -> str:
    return "#,##0.00" if header in _MONEY else _FORMATS.get(header, "0.0")


def _pdf(view: VoucherView) -> bytes:
    return pdf_of(render_to_string("schedule/mileage/voucher_pdf.html", {"voucher": view}))

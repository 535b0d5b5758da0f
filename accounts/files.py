"""Tables of our own as files that a spreadsheet opens: no cell is ever computed from what somebody typed.

tablib writes CSV and openpyxl writes workbooks; neither makes a cell such as `=1+1` harmless, so every text that
somebody typed goes through `neutralize` (OWASP, CSV injection).
"""

import re
from collections.abc import Iterable, Sequence

import tablib

FILE_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
}
NUMBER = re.compile(r"-?\d{1,12}(\.\d{1,12})?")
_DANGEROUS = re.compile(r"^'*[=+\-@\t\r]")
# XML, and so XLSX, can't hold these at all.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")

type Rows = Iterable[Sequence[str]]


def neutralize(text: str) -> str:
    """Text that no spreadsheet computes: an apostrophe goes before `=`, `+`, `-`, `@`, tab and carriage return.

    Plain negative numbers stay as they are. Reading an import takes the apostrophe off again.
    """
    clean = _CONTROL.sub(" ", text)
    return f"'{clean}" if _DANGEROUS.match(clean) and not NUMBER.fullmatch(clean) else clean


def write_csv(headers: Sequence[str], rows: Rows) -> bytes:
    """A CSV file in UTF-8 with the mark by which spreadsheets know it."""
    data = tablib.Dataset(headers=list(headers))
    for row in rows:
        data.append([neutralize(cell) for cell in row])
    text: str = data.export("csv")
    return text.encode("utf-8-sig")

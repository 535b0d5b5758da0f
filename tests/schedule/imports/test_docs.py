"""docs/importing.md says what the tables are."""

from pathlib import Path

from schedule.imports.files.grids import LARGEST_FILE, LARGEST_UNPACKED, MOST_COLUMNS, MOST_ROWS
from schedule.imports.tables.every import TABLES
from tests.schedule.imports.describe import describe_table

DOCUMENT = Path(__file__).resolve().parents[3] / "docs" / "importing.md"


def test_every_table_stands_in_the_document() -> None:
    """Sections of all tables, in their order, word for word. To mend it: paste what `describe_table` says."""
    text = DOCUMENT.read_text(encoding="utf-8")
    sections = "\n".join(describe_table(table) for table in TABLES)
    assert text.endswith(f"\n{sections}")


def test_the_limits_stand_in_the_document() -> None:
    """Sizes and counts as the reader has them."""
    text = DOCUMENT.read_text(encoding="utf-8")
    sizes = f"{LARGEST_FILE // 1024 // 1024} MB, {MOST_ROWS:,} rows and {MOST_COLUMNS} columns"
    assert sizes in text
    assert f"unpack to {LARGEST_UNPACKED // 1024 // 1024} MB" in text

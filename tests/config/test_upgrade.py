"""A district of before figures had dates loses nothing on its way to now: the demo's plans, on both databases.

The tables are made as they were, filled by the models of then, migrated, and compared column by column
(benchmarks/upgrade.py, which does the same with a generated district of 300 teachers).
"""

from pathlib import Path
from typing import Any

import psycopg
import pytest

from benchmarks.upgrade import upgraded

pytestmark = pytest.mark.long

MAY_CHANGE = {
    # "Whole, if any day is in session" is what the whole week means now (caseload 0015).
    "caseload_ledgersettings.short_week",
}
"""Columns of then whose values the migrations change, each with the reason."""
MAY_GO = {
    # Renamed to parking, beside tolls (travel 0012); what is claimed is compared with the figures.
    "travel_trip.parking_and_tolls",
    "travel_voucherline.parking_and_tolls",
    # Rows of their own (caseload 0025); who says what is compared with the figures.
    "caseload_student.supports",
    "caseload_student.cautions",
}
"""Columns of then that are gone, each with the reason."""


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """A file of its own."""
    return f"sqlite:///{tmp_path}/old.sqlite3"


@pytest.fixture
def empty_postgres_url(postgres_url: str) -> str:
    """A database of its own on the run's server."""
    with psycopg.connect(postgres_url, autocommit=True) as server:
        server.execute("CREATE DATABASE upgrade_test")
    return f"{postgres_url.rpartition('/')[0]}/upgrade_test"


def check(found: dict[str, Any]) -> None:
    """Nothing is gone or otherwise, and the figures are the same."""
    assert set(found["changed"]) <= MAY_CHANGE
    assert set(found["gone"]) <= MAY_GO
    assert found["after"] == found["before"]
    assert int(found["before"]["minutes owed"]) > 0
    assert all(not found["before"][name].startswith("0,") for name in ("supports", "cautions"))
    made, rows = found["made"], found["rows"]
    assert rows["caseload_serviceline"] == made["services"] == made["lines"] > 30
    assert made["lines without a service"] == 0
    assert rows["caseload_student"] == made["enrollments"] == made["students"] > 30
    assert rows["caseload_deliveryversion"] > rows["caseload_deliveryentry"] > 100
    assert rows["travel_voucherline"] == rows["travel_trip"] == 10


def test_the_demo_is_brought_to_now_on_sqlite(sqlite_url: str) -> None:
    """Counts, rows, minutes owed and delivered, dollars claimed."""
    check(upgraded(sqlite_url, "demo"))


def test_the_demo_is_brought_to_now_on_postgresql(empty_postgres_url: str) -> None:
    """Counts, rows, minutes owed and delivered, dollars claimed."""
    check(upgraded(empty_postgres_url, "demo"))

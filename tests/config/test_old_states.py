"""Databases of earlier versions lose nothing on their way to now: every column of theirs, and pages that answer.

What may change or go has its reason; the program of then made them, so nothing here rests on today's models.
"""

from pathlib import Path

import pytest

from tests.old_states import PAGES, brought_to_now, kept_states

pytestmark = pytest.mark.long

MAY_CHANGE: dict[str, str] = {}
"""Columns whose values migrations change, each with the reason."""
MAY_GO: dict[str, str] = {
    "caseload_student.supports": "rows of their own (caseload 0025)",
    "caseload_student.cautions": "rows of their own (caseload 0025)",
}
"""Columns that are gone, each with the reason."""


def test_there_are_some() -> None:
    """Two at least, beside the older one of test_upgrade.py."""
    assert len(kept_states()) >= 2


@pytest.mark.parametrize("name", kept_states())
def test_a_kept_database_is_brought_to_now(name: str, tmp_path: Path) -> None:
    found = brought_to_now(name, tmp_path / "old.sqlite3")
    assert set(found["changed"]) <= MAY_CHANGE.keys(), found["changed"]
    assert set(found["gone"]) <= MAY_GO.keys(), found["gone"]
    assert found["fewer"] == []
    rows = found["rows"]
    assert rows["caseload_student"] > 30
    assert rows["caseload_serviceline"] > 30
    assert rows["schedule_plannedsession"] > 30
    assert found["pages"] == dict.fromkeys(PAGES, 200)

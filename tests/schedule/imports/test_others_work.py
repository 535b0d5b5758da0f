"""Others write while an import is checked and saved, on an SQLite file and on PostgreSQL.

Nothing here is measured in seconds: the others write from inside the check's own progress, and get through or not.
"""

import json
from typing import Any

from tests.schedule.imports.side_import import ROWS
from tests.sides import WAIT_SECONDS, Side

NEW = ROWS - 1


def act(side: Side, action: str) -> dict[str, Any]:
    """What a process found that did this."""
    process = side.start("-m", "tests.schedule.imports.side_import", action)
    code = process.wait(WAIT_SECONDS)
    printed = (side.home / "out-0").read_text()
    assert code == 0, printed
    found: dict[str, Any] = json.loads(printed.splitlines()[-1])
    return found


def test_others_write_while_a_preview_is_made(side: Side) -> None:
    """In another district and in the same one; the preview saves nothing."""
    found = act(side, "check")
    assert found == {
        "others": ["through"],
        "rounds": 1,
        "state": "preview",
        "problems": 0,
        "new": 0,
        "first": ["Tarn S01", "Walker"],
        "mate": 0,
        "entries": 0,
    }


def test_others_write_while_an_import_is_saved_and_lose_nothing(side: Side) -> None:
    """A change before the saving, one of the same district during it, and one of another district.

    The support that somebody else noted stays, the student that somebody else added stays beside the new ones.
    """
    found = act(side, "save")
    assert found == {
        "others": ["through", "through"],
        # The mate's student called for another round; the stranger's building, in that round, for none.
        "rounds": 2,
        "state": "committed",
        "problems": 0,
        "new": NEW,
        "first": ["Renamed", "Walker"],
        "mate": 1,
        "entries": ROWS,
    }


def test_what_was_checked_is_saved_as_it_is_and_taken_back(side: Side) -> None:
    """Nobody changed anything: no second check, and undo leaves nothing behind."""
    found = act(side, "undo")
    assert (found["state"], found["new"], found["first"]) == ("undone", 0, ["Tarn S01", ""])

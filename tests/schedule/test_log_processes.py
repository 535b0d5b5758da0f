"""Several processes at one log: nothing is stored twice, nothing is overwritten, on both databases."""

import time

import pytest

from tests.jobs.conftest import (
    WAIT_SECONDS,
    Side,
    migrated_database,
    migrated_file,
    postgres_side,
    side,
    sqlite_side,
)
from tests.services import postgres_url

__all__ = ["migrated_database", "migrated_file", "postgres_side", "postgres_url", "side", "sqlite_side"]

COUNT = 4


@pytest.fixture
def prepared(side: Side) -> Side:
    """A database with a session to log and one that is logged."""
    assert _together(side, 1, "prepare") == ["ready"]
    return side


def _together(side: Side, count: int, action: str) -> list[str]:
    """What each of so many processes printed that began at the same moment."""
    before = len(side.processes)
    moment = str(time.time() + 2 * count + 2)
    processes = [side.start("-m", "tests.schedule.side_log", action, str(n), moment) for n in range(count)]
    codes = [process.wait(WAIT_SECONDS) for process in processes]
    printed = [(side.home / f"out-{before + n}").read_text() for n in range(count)]
    assert codes == [0] * count, "\n".join(printed)
    return sorted(printed)


def test_of_several_correctors_one_is_stored_and_the_others_are_told(prepared: Side) -> None:
    """All saw revision 1 and corrected at the same moment."""
    assert _together(prepared, COUNT, "correct") == ["changed_meanwhile"] * (COUNT - 1) + ["stored"]
    versions = "SELECT COUNT(*) FROM caseload_deliveryversion"
    assert prepared.rows(versions) == [(2,)]


def test_the_same_entry_sent_several_times_at_once_is_stored_once(prepared: Side) -> None:
    """Each sender gets the same three entries back."""
    answers = _together(prepared, COUNT, "log_same")
    assert len(set(answers)) == 1
    assert answers[0].startswith("stored:")
    assert prepared.rows("SELECT COUNT(*) FROM caseload_deliveryentry WHERE start = '10:00:00'") == [(3,)]


def test_a_session_that_several_log_at_once_is_logged_by_one(prepared: Side) -> None:
    """The others are told that it is logged; never half a class by one and half by another."""
    answers = _together(prepared, COUNT, "log_other")
    assert answers[:-1] == ["already_logged"] * (COUNT - 1)
    assert answers[-1].startswith("stored:")
    assert prepared.rows("SELECT COUNT(*) FROM caseload_deliveryentry WHERE start = '10:00:00'") == [(3,)]


VERSIONS = "SELECT COUNT(*) FROM caseload_deliveryversion"


def test_an_undo_tapped_several_times_at_once_takes_back_once(side: Side) -> None:
    """Each says the same; the log of three has six versions, and the one logged before has one."""
    (logged,) = _together(side, 1, "prepare_undo")
    assert logged.startswith("stored:")
    assert _together(side, COUNT, "undo_same") == ["taken back:3"] * COUNT
    assert side.rows(VERSIONS) == [(3 + 3 + 1,)]


def test_an_undo_and_corrections_at_once_never_overwrite_each_other(side: Side) -> None:
    """Either the undo comes first and the correctors are told, or a correction does and nothing is taken back."""
    _together(side, 1, "prepare_undo")
    answers = _together(side, COUNT, "undo_or_correct")
    undone = ["changed_meanwhile"] * (COUNT - 1) + ["taken back:3"]
    corrected = ["changed_meanwhile"] * (COUNT - 2) + ["changed_since", "stored"]
    assert answers in (undone, sorted(corrected))
    assert side.rows(VERSIONS) == [(3 + 1 + (3 if answers == undone else 1),)]

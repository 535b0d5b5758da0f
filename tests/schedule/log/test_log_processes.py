"""Several processes at one log: nothing is stored twice, nothing is overwritten, on both databases."""

import pytest

from tests.sides import Side

COUNT = 4
SIDE = "tests.schedule.log.side_log"


@pytest.fixture
def prepared(side: Side) -> Side:
    """A database with a session to log and one that is logged."""
    assert side.together(SIDE, "prepare", 1) == ["ready"]
    return side


def test_of_several_correctors_one_is_stored_and_the_others_are_told(prepared: Side) -> None:
    """All saw revision 1 and corrected at the same moment."""
    assert prepared.together(SIDE, "correct", COUNT) == ["changed_meanwhile"] * (COUNT - 1) + ["stored"]
    versions = "SELECT COUNT(*) FROM caseload_deliveryversion"
    assert prepared.rows(versions) == [(2,)]


def test_the_same_entry_sent_several_times_at_once_is_stored_once(prepared: Side) -> None:
    """Each sender gets the same three entries back."""
    answers = prepared.together(SIDE, "log_same", COUNT)
    assert len(set(answers)) == 1
    assert answers[0].startswith("stored:")
    assert prepared.rows("SELECT COUNT(*) FROM caseload_deliveryentry WHERE start = '10:00:00'") == [(3,)]


def test_a_session_that_several_log_at_once_is_logged_by_one(prepared: Side) -> None:
    """The others are told that it is logged; never half a class by one and half by another."""
    answers = prepared.together(SIDE, "log_other", COUNT)
    assert answers[:-1] == ["already_logged"] * (COUNT - 1)
    assert answers[-1].startswith("stored:")
    assert prepared.rows("SELECT COUNT(*) FROM caseload_deliveryentry WHERE start = '10:00:00'") == [(3,)]


@pytest.mark.postgres
def test_the_same_tap_between_any_two_statements_is_answered_with_the_same_entries(postgres_side: Side) -> None:
    """PostgreSQL shows each statement what was stored a moment before; SQLite's writers wait for each other."""
    (answer,) = postgres_side.together(SIDE, "log_between", 1)
    assert answer.endswith(" times the same")
    assert int(answer.split()[0]) > 5


VERSIONS = "SELECT COUNT(*) FROM caseload_deliveryversion"


def test_an_undo_tapped_several_times_at_once_takes_back_once(side: Side) -> None:
    """Each says the same; the log of three has six versions, and the one logged before has one."""
    (logged,) = side.together(SIDE, "prepare_undo", 1)
    assert logged.startswith("stored:")
    assert side.together(SIDE, "undo_same", COUNT) == ["taken back:3"] * COUNT
    assert side.rows(VERSIONS) == [(3 + 3 + 1,)]


def test_an_undo_and_corrections_at_once_never_overwrite_each_other(side: Side) -> None:
    """Either the undo comes first and the correctors are told, or a correction does and nothing is taken back."""
    side.together(SIDE, "prepare_undo", 1)
    answers = side.together(SIDE, "undo_or_correct", COUNT)
    undone = ["changed_meanwhile"] * (COUNT - 1) + ["taken back:3"]
    corrected = ["changed_meanwhile"] * (COUNT - 2) + ["changed_since", "stored"]
    assert answers in (undone, sorted(corrected))
    assert side.rows(VERSIONS) == [(3 + 1 + (3 if answers == undone else 1),)]

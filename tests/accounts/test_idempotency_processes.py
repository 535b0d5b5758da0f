"""Several processes send the same at one moment, on both databases: it is taken once, and all are answered so."""

from tests.sides import Side

COUNT = 4
SIDE = "tests.accounts.side_sending"


def test_the_same_sending_at_one_moment_is_taken_once(side: Side) -> None:
    assert side.together(SIDE, "prepare", 1) == ["ready"]
    answers = set(side.together(SIDE, "send", COUNT))
    assert len(answers) == 1
    assert answers.pop().startswith("201 ")
    assert side.rows("SELECT COUNT(*) FROM schedule_happening") == [(1,)]
    assert side.rows("SELECT COUNT(*) FROM accounts_idempotencykey") == [(1,)]

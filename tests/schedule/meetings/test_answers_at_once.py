"""Several answers to a common meeting at one moment: each stays, on both databases.

What is asserted is the rule of docs/together.md: who says yes is in it from the answer on.
"""

from tests.sides import Side

SIDE = "tests.schedule.meetings.side_meetings"
MATES = 3


def test_no_answer_is_lost_to_another_or_to_a_change(side: Side) -> None:
    assert side.together(SIDE, "prepare", 1) == ["ready"]
    assert side.together(SIDE, "answer", MATES + 1) == ["done"] * (MATES + 1)
    assert side.rows("SELECT title FROM schedule_commonmeeting") == [("Team of four",)]
    assert side.rows("SELECT COUNT(*) FROM schedule_commonmeeting_teachers") == [(MATES + 1,)]
    assert side.rows("SELECT COUNT(*) FROM schedule_commonmeeting_asked") == [(0,)]

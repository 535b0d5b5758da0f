"""Two teachers publish at one moment, a student of both at one time: one goes through, on both databases."""

from tests.sides import Side

SIDE = "tests.schedule.weeks.planning.side_publish"


def test_of_two_who_publish_at_one_moment_one_is_told(side: Side) -> None:
    """Real processes; what is in force is read past our own code."""
    assert side.together(SIDE, "prepare", 1) == ["ready"]
    told = side.together(SIDE, "publish", 2)
    assert told[0] == "In force"
    assert told[1].startswith("student_in_two_places: A student can't be in two places. Ola Tarn S01 is with ")
    assert side.rows("SELECT COUNT(*) FROM schedule_weekplan WHERE status = 'published'") == [(1,)]

"""Two teachers publish at one moment what can be had once: one goes through, on both databases."""

from tests.sides import Side

SIDE = "tests.schedule.weeks.planning.side_publish"


def test_of_two_who_publish_at_one_moment_one_is_told(side: Side) -> None:
    """Real processes; what is in force is read past our own code."""
    assert side.together(SIDE, "prepare", 1) == ["ready"]
    told = side.together(SIDE, "publish", 2)
    assert told[0] == "In force"
    assert told[1].startswith("student_in_two_places: A student can't be in two places. Ola Tarn S01 is with ")
    assert side.rows("SELECT COUNT(*) FROM schedule_weekplan WHERE status = 'published'") == [(1,)]


def test_of_two_who_publish_the_same_space_one_is_told_who_has_it(side: Side) -> None:
    """The second one is told what the first did, and what can be done now."""
    assert side.together(SIDE, "prepare_gym", 1) == ["ready"]
    told = side.together(SIDE, "publish", 2)
    assert told[0] == "In force"
    assert told[1].startswith("space_taken: A space can't be used by more classes than fit. ")
    assert "Vey 8:30 to 9:00 on Monday, September 14, 2026; this week has it 8:30 to 9:00." in told[1]
    assert told[1].endswith("Vey to move theirs, or publish without this session.")
    assert side.rows("SELECT COUNT(*) FROM schedule_weekplan WHERE status = 'published'") == [(1,)]

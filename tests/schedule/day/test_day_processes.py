"""Several processes tap at one moment, as a trembling thumb does: one drive, on both databases."""

from tests.sides import Side

COUNT = 4
SIDE = "tests.schedule.day.side_tap"


def test_taps_at_one_moment_are_one_drive(side: Side) -> None:
    """Every process is answered with the same drive, when it begins and when it ends."""
    assert side.together(SIDE, "prepare", 1) == ["ready"]
    assert len(set(side.together(SIDE, "start", COUNT))) == 1
    assert side.rows("SELECT COUNT(*) FROM travel_drivelog WHERE arrived_at IS NULL") == [(1,)]
    assert len(set(side.together(SIDE, "arrive", COUNT))) == 1
    assert side.rows("SELECT COUNT(*) FROM travel_drivelog WHERE arrived_at IS NOT NULL") == [(1,)]

"""Several processes tap at one moment, as a trembling thumb does: one drive, on both databases."""

import time

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


def _together(side: Side, count: int, action: str) -> list[str]:
    """What each of so many processes printed that began at the same moment."""
    before = len(side.processes)
    moment = str(time.time() + 2 * count + 2)
    processes = [side.start("-m", "tests.schedule.side_tap", action, str(n), moment) for n in range(count)]
    codes = [process.wait(WAIT_SECONDS) for process in processes]
    printed = [(side.home / f"out-{before + n}").read_text() for n in range(count)]
    assert codes == [0] * count, "\n".join(printed)
    return printed


def test_taps_at_one_moment_are_one_drive(side: Side) -> None:
    """Every process is answered with the same drive, when it begins and when it ends."""
    assert _together(side, 1, "prepare") == ["ready"]
    assert len(set(_together(side, COUNT, "start"))) == 1
    assert side.rows("SELECT COUNT(*) FROM travel_drivelog WHERE arrived_at IS NULL") == [(1,)]
    assert len(set(_together(side, COUNT, "arrive"))) == 1
    assert side.rows("SELECT COUNT(*) FROM travel_drivelog WHERE arrived_at IS NOT NULL") == [(1,)]

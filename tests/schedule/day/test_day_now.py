"""Where today stands at a moment; each test says what the day sheet's words ask for (docs/day-sheet.md)."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.day.data import DayLine, DriveView
from schedule.day.now import DayNow, day_at, stays_until


def line(kind: str, start: str, end: str, **values: object) -> DayLine:
    """A line of the day."""
    first, last = (dt.time.fromisoformat(text) for text in (start, end))
    minutes = [60 * one.hour + one.minute for one in (first, last)]
    return DayLine(
        kind, kind, kind, first, last, minutes[0], minutes[1], None, "", **values  # type: ignore[arg-type]
    )  # fmt: skip


def drive(start: str, end: str, *, under_way: bool = False) -> DayLine:
    """A drive that can still end, or not."""
    leg = DriveView(
        "1-2-0905", 1, "Near", 2, "Far", 20, Decimal(6), "", "", dt.time(9, 5), dt.time(9, 35), may_arrive=under_way
    )
    return line("drive", start, end, leg=leg)


DAY = (
    line("session", "08:30", "09:00", log="waiting"),
    drive("09:05", "09:35"),
    line("session", "09:40", "10:10", log="logged"),
    line("lunch", "10:10", "10:40"),
    line("session", "11:00", "11:30", log="waiting"),
)


def at(clock: str, day: tuple[DayLine, ...] = DAY) -> DayNow:
    """The day at a time of it."""
    return day_at(day, dt.datetime.fromisoformat(f"2026-09-14T{clock}"))


@pytest.mark.parametrize(
    ("clock", "earlier", "mark"),
    [
        ("06:40", 0, 0),
        ("08:45", 0, 0),
        # Over, and not logged yet: in sight until the drive begins, above the mark.
        ("09:04", 0, 1),
        ("09:05", 1, 0),
        ("09:37", 2, 0),
        # Logged: over with its end.
        ("10:10", 3, 0),
        ("10:50", 4, 0),
        # The last of the day waits for its log for as long as the day lasts.
        ("15:00", 4, 1),
    ],
)
def test_what_is_over_and_where_the_mark_stands(clock: str, earlier: int, mark: int) -> None:
    found = at(clock)
    assert (len(found.earlier), found.mark) == (earlier, mark)
    assert found.clock == dt.time.fromisoformat(clock)


def test_a_session_that_waits_for_its_log_stays_over_lunch() -> None:
    """Lunch is no reason to put it away; the next session is."""
    waits = replace(DAY[2], log="waiting")
    day = (*DAY[:2], waits, *DAY[3:])
    assert waits in [one.line for one in at("10:59", day).rest]
    assert waits in [one.line for one in at("11:00", day).earlier]
    assert at("11:00", day).to_log == 2


def test_a_drive_stays_until_its_end_was_tapped() -> None:
    """However late one is."""
    day = (DAY[0], drive("09:05", "09:35", under_way=True), *DAY[2:])
    assert day[1] in [one.line for one in at("12:00", day).rest]
    assert day[1] not in [one.line for one in at("12:00").rest]


def test_what_does_not_take_place_waits_for_nobody() -> None:
    """It is over with its time, and what follows isn't counted from it."""
    off = replace(DAY[0], off="the school is closed")
    assert stays_until(off, (off, *DAY[1:])) == 9 * 60
    assert stays_until(DAY[0], (DAY[0], replace(DAY[1], off="not driven"), *DAY[2:])) == 9 * 60 + 40


def test_another_day_has_no_now() -> None:
    found = day_at(DAY, None)
    assert (found.earlier, len(found.rest), found.clock) == ((), len(DAY), None)


@given(st.times())
def test_every_line_stands_once_and_in_order(now: dt.time) -> None:
    found = day_at(DAY, dt.datetime.combine(dt.date(2026, 9, 14), now))
    lines = [one.line for one in (*found.earlier, *found.rest)]
    assert sorted(lines, key=lambda one: one.start_minute) == list(DAY)
    assert len(lines) == len(DAY)
    assert all(one.line.end_minute > found.minute for one in found.rest[found.mark : found.mark + 1])

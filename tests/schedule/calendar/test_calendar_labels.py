"""Cycle days and A/B weeks in published calendars. How they are written is common practice, no source."""

from datetime import date, timedelta

import pytest

from schedule.calendar.calendars import BellDefaults, EntryKind, SpecialDays
from schedule.calendar.laid_out import lay_out_days
from schedule.calendar.published.labels import (
    DayLabel,
    LabelDifference,
    bare,
    difference_words,
    differences,
    label_of,
)
from schedule.calendar.rotations import Rotation, RotationKind
from tests.schedule.calendar.test_school_calendar import event, read

MONDAY = date(2026, 9, 14)


@pytest.mark.parametrize(
    ("title", "label"),
    [
        ("A Day", "a"), ("B-Day", "b"), ("Day C", "c"), ("Day: 3", "3"), ("Cycle Day 4", "4"), ("Day 2 of 6", "2"),
        ("Rotation Day 05", "5"), ("Day 10", "10"), ("A Week", "a"), ("Week B", "b"),
        ("Field Day", ""), ("Labor Day", ""), ("A", ""), ("3", ""), ("Day", ""), ("A Day at the Museum", ""),
        ("Vitamin D Day", ""), ("Day 3: early dismissal", ""),
    ],
)  # fmt: skip
def test_a_title_that_is_nothing_but_a_label(title: str, label: str) -> None:
    assert label_of(title) == label


def test_a_rotations_labels_are_written_either_way() -> None:
    assert [bare(label) for label in ("Day 1", "1", "A", "A Day", "day 10", "Blue")] == [
        "1",
        "1",
        "a",
        "a",
        "10",
        "blue",
    ]


def test_labels_are_no_events_of_their_own() -> None:
    """They wait for nobody; an event that says more is one."""
    preview = read(
        event("DTSTART;VALUE=DATE:20260914", title="Day 1"),
        event("DTSTART;VALUE=DATE:20260914", "DTEND;VALUE=DATE:20260919", title="A Week"),
        event("DTSTART;VALUE=DATE:20260915", title="Day 2: pictures"),
    )
    assert preview.labels == (
        DayLabel(MONDAY, MONDAY, "1"),
        DayLabel(MONDAY, MONDAY + timedelta(days=4), "a"),
    )
    assert [one.title for one in preview.unmatched] == ["Day 2: pictures"]
    assert preview.found == ()


def test_a_closing_that_one_of_both_lacks_shifts_all_that_follows() -> None:
    """A cycle of three from Monday: the calendar's Wednesday is closed, ours isn't."""
    rotation = Rotation(RotationKind.CYCLE, ("Day 1", "Day 2", "Day 3"), anchor=MONDAY, anchor_label="Day 1")

    def laid(*entries: SpecialDays) -> dict[date, str]:
        last = MONDAY + timedelta(days=6)
        days = lay_out_days(MONDAY, last, bells=BellDefaults("r"), rotation=rotation, entries=list(entries))
        return {day.date: day.cycle_label if day.open else "" for day in days.values()}

    wednesday = MONDAY + timedelta(days=2)
    theirs = laid(SpecialDays(wednesday, wednesday, EntryKind.CLOSED, "Flood"))
    labels = [DayLabel(day, day, bare(label)) for day, label in theirs.items() if label]
    found, looked_at = differences(labels, laid())
    assert looked_at == 4
    assert found == (
        LabelDifference(MONDAY + timedelta(days=3), "3", "Day 1"),
        LabelDifference(MONDAY + timedelta(days=4), "1", "Day 2"),
    )
    assert differences(labels, theirs) == ((), 4)
    said = difference_words("North Hollow School", found, looked_at)
    assert "differ on 2 of 4 days: September 17, 2026 is Day 3 there and Day 1 here; September 18" in said
    assert "agree on all of 4" in difference_words("North Hollow School", (), 4)


def test_a_label_on_a_closed_day_differs_and_a_week_passes_over_it() -> None:
    """A day that is named by itself is meant; a week is named with whatever is closed in it."""
    days = {MONDAY + timedelta(days=n): "A" if n in {0, 1, 3, 4} else "" for n in range(7)}
    wednesday = MONDAY + timedelta(days=2)
    assert differences([DayLabel(wednesday, wednesday, "a")], days) == ((LabelDifference(wednesday, "a", ""),), 1)
    assert differences([DayLabel(MONDAY, MONDAY + timedelta(days=6), "a")], days) == ((), 4)
    assert differences([DayLabel(date(2030, 1, 7), date(2030, 1, 7), "a")], days) == ((), 0)

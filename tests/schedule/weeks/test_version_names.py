"""How versions of a week are called. Our own rules, no source."""

import datetime as dt

from schedule.weeks.version_names import VersionRow, version_titles

MADE = dt.datetime(2026, 11, 28, 14, 10, tzinfo=dt.UTC)
LATER = MADE + dt.timedelta(seconds=20)


def test_a_version_has_its_number_and_a_draft_its_name_or_when_it_was_made() -> None:
    rows = [VersionRow(6, None, "", MADE), VersionRow(7, 3, "", MADE), VersionRow(8, None, "With the pool", LATER)]
    assert version_titles(rows) == {6: "Draft of Nov 28, 2:10 PM", 7: "Version 3", 8: "With the pool"}


def test_morning_hours_have_no_zero_before_them() -> None:
    made = dt.datetime(2026, 12, 3, 9, 5, tzinfo=dt.UTC)
    assert version_titles([VersionRow(1, None, "", made)]) == {1: "Draft of Dec 3, 9:05 AM"}


def test_drafts_of_one_minute_and_of_one_name_are_told_apart() -> None:
    rows = [VersionRow(9, None, "", LATER), VersionRow(6, None, "", MADE)]
    rows += [VersionRow(11, None, "with pool", LATER), VersionRow(10, None, "With pool", MADE)]
    assert version_titles(rows) == {
        6: "Draft of Nov 28, 2:10 PM",
        9: "Draft of Nov 28, 2:10 PM (second)",
        10: "With pool",
        11: "with pool (second)",
    }

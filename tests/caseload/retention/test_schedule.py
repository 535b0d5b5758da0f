"""Which rule holds, and up to which date records go by it."""

import datetime as dt

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from caseload.retention.schedule import (
    EXITED,
    JOBS,
    LEFT,
    STUDENTS,
    WRITTEN,
    YEAR,
    KeepingRule,
    events_of,
    in_force,
    last_gone,
    years_before,
)

DAY = dt.date(2026, 11, 30)


def rule(
    key: int, first: dt.date, years: int | None = 3, kind: str = JOBS, counts_from: str = WRITTEN
) -> KeepingRule:
    """A rule from a day on."""
    return KeepingRule(key, kind, years, counts_from, first)


def test_without_a_rule_nothing_goes() -> None:
    """No default: neither without any rule, nor before the first day of one, nor by one without years."""
    assert in_force([], DAY) == {}
    assert in_force([rule(1, DAY + dt.timedelta(days=1))], DAY) == {}
    assert last_gone(rule(1, DAY, years=None), DAY, [dt.date(2020, 6, 20)]) is None


def test_a_rule_holds_until_the_next_of_its_kind() -> None:
    """The latest that has begun, whatever order they were entered in; other kinds are on their own."""
    rules = [
        rule(2, dt.date(2025, 7, 1)),
        rule(1, dt.date(2020, 7, 1)),
        rule(3, dt.date(2020, 7, 1), kind=STUDENTS),
    ]
    assert in_force(rules, DAY)[JOBS].key == 2
    assert in_force(rules, dt.date(2025, 6, 30))[JOBS].key == 1
    assert in_force(rules, DAY)[STUDENTS].key == 3


@given(st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31)), st.integers(0, 60))
def test_years_before_as_dateutil_has_it(day: dt.date, years: int) -> None:
    """python-dateutil's relativedelta, a calendar of others, says the same of every day, leap days too."""
    assert years_before(day, years) == day - relativedelta(years=years)


@pytest.mark.parametrize(
    ("day", "gone"),
    [
        (dt.date(2026, 6, 19), dt.date(2022, 6, 17)),
        (dt.date(2026, 6, 20), dt.date(2023, 6, 20)),
        (dt.date(2027, 6, 19), dt.date(2023, 6, 20)),
    ],
)
def test_a_school_year_goes_whole(day: dt.date, gone: dt.date) -> None:
    """Three years after the year's last day, and not a day of it earlier."""
    ends = [dt.date(2022, 6, 17), dt.date(2023, 6, 20), dt.date(2024, 6, 21)]
    assert last_gone(rule(1, dt.date(2020, 1, 1), counts_from=YEAR), day, ends) == gone


def test_without_school_years_a_year_ends_on_june_30() -> None:
    """Common practice, no source."""
    by_year = rule(1, dt.date(2020, 1, 1), counts_from=YEAR)
    assert last_gone(by_year, dt.date(2026, 6, 29), []) == dt.date(2022, 6, 30)
    assert last_gone(by_year, dt.date(2026, 6, 30), []) == dt.date(2023, 6, 30)


def test_students_records_count_from_what_happened_to_the_student() -> None:
    """Never from when a row was written: a student who is still here keeps all of the record."""
    assert events_of(STUDENTS) == (LEFT, EXITED)
    assert events_of(JOBS) == (YEAR, WRITTEN)

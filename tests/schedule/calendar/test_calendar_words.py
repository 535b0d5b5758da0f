"""Public holidays by state, and findings as entries of the calendar."""

from datetime import date

import pytest

from schedule.calendar.published.words import (
    FindingKind,
    HolidayError,
    state_holidays,
)


def test_federal_holidays_fall_where_the_law_puts_them() -> None:
    """5 U.S.C. 6103(a) (from memory): third Monday of January, last Monday of May, first Monday of September,
    fourth Thursday of November; dates for 2026 worked out from a calendar."""
    days = {finding.first: finding for finding in state_holidays("NJ", [2026])}
    for month, day in ((1, 19), (5, 25), (9, 7), (11, 26)):
        finding = days[date(2026, month, day)]
        assert finding.kind is FindingKind.CLOSED
        assert finding.last == finding.first
        assert finding.matched == "public holiday in NJ"


def test_states_differ() -> None:
    """Patriots' Day, third Monday of April, is a holiday of Massachusetts (M.G.L. c. 4 s. 7, from memory)."""
    assert date(2027, 4, 19) in {finding.first for finding in state_holidays(" ma ", [2027])}
    assert date(2027, 4, 19) not in {finding.first for finding in state_holidays("NJ", [2027])}


def test_only_the_years_asked_for_come_in_order() -> None:
    days = [finding.first for finding in state_holidays("", [2027, 2026])]
    assert {day.year for day in days} == {2026, 2027}
    assert days == sorted(days)


@pytest.mark.parametrize(
    ("country", "state", "year", "words"),
    [
        ("US", "ZZ", 2026, '"ZZ" is not a state of US.*NJ'),
        ("QQ", "", 2026, 'no holidays for the country "QQ"'),
        ("US", "NJ", 20266, "1990 to 2100"),
    ],
)
def test_unknown_places_and_years_are_refused(country: str, state: str, year: int, words: str) -> None:
    with pytest.raises(HolidayError, match=words):
        state_holidays(state, [year], country=country)

"""Loads against published examples and rules."""

from fractions import Fraction

import pytest

from caseload.ledger.workload import WorkloadWeek, YearLength, minutes_a_week, preparation_counted, rounded
from caseload.plans.frequency import read_frequency

TEXAS_MINUTES, TEXAS_BLOCK = 450, 45
YEAR = YearLength(weeks=40, marking_periods=4)


def test_an_itinerant_caseload_review() -> None:
    """QPVI, Texas School for the Blind and Visually Impaired, 1995: 12.5 + 3.5 + 18 + 4 = 38 h, 0.5 over 37.5."""
    week = WorkloadWeek(direct=750, consultation=210, support=1080, travel=240)
    assert week.total == 38 * 60
    assert week.over(2250) == 30


@pytest.mark.parametrize(
    ("statement", "minutes"),
    [
        ("2 x 30 min/week", Fraction(60)),
        ("90 min/week", Fraction(90)),
        ("2 x 15 min/day", Fraction(150)),
        ("240 min/4 weeks", Fraction(60)),
        ("200 min/quarter", Fraction(20)),
        ("200 min/semester", Fraction(10)),
        ("3 of 4 weeks, 30 min", Fraction(45, 2)),
        ("1 x 45 min/6-day cycle", Fraction(75, 2)),
        ("130 min/month", Fraction(30)),
        ("2 x 30 min/marking period", Fraction(6)),
        ("400 min/year", Fraction(10)),
        ("100 min total", Fraction(5)),
    ],
)
def test_an_average_week_of_each_way_to_say_it(statement: str, minutes: Fraction) -> None:
    """Worked by hand; the year has 40 weeks and four marking periods, the service runs for 20 weeks."""
    assert minutes_a_week(read_frequency(statement), YEAR, 20) == minutes


@pytest.mark.parametrize("statement", ["400 min/year", "2 x 30 min/marking period"])
def test_without_a_school_year_its_average_is_unknown(statement: str) -> None:
    assert minutes_a_week(read_frequency(statement), None, 20) is None
    assert minutes_a_week(read_frequency("2 x 30 min/marking period"), YearLength(40, 0), 20) is None


def test_halves_of_minutes_go_up_once_all_is_added() -> None:
    assert rounded(Fraction(45, 2)) == 23
    assert rounded(Fraction(45, 2) * 2) == 45


def test_texas_preparation_blocks() -> None:
    """Texas Education Code 21.404: 450 minutes in two weeks, each block at least 45."""
    assert preparation_counted([90] * 5, TEXAS_BLOCK) >= TEXAS_MINUTES
    assert preparation_counted([50, 40] * 5, TEXAS_BLOCK) < TEXAS_MINUTES

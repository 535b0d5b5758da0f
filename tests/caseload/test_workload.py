"""Loads against published examples and rules."""

from fractions import Fraction

from caseload.ledger.workload import (
    Points,
    WorkloadWeek,
    caseload_points,
    full_time_equivalent,
    preparation_counted,
    preparation_owed,
)

TEXAS_MINUTES, TEXAS_BLOCK = 450, 45


def test_an_itinerant_caseload_review() -> None:
    """QPVI, Texas School for the Blind and Visually Impaired, 1995: 12.5 + 3.5 + 18 + 4 = 38 h, 0.5 over 37.5."""
    week = WorkloadWeek(direct=750, consultation=210, support=1080, travel=240)
    assert week.total == 38 * 60
    assert week.over(2250) == 30


def test_a_share_of_a_position() -> None:
    """A published worked example: 2/8 of the day x 2/5 of the week x 36/36 weeks = 0.10."""
    assert full_time_equivalent(Fraction(2, 8), Fraction(2, 5), Fraction(36, 36)) == Fraction(1, 10)


def test_caseload_points() -> None:
    """8VAC20-81-340: at most 20 points; 8 x 2.5 = 20 and 6 x 3.3 = 19.8 pass, 7 x 3.3 = 23.1 doesn't."""
    loads = [(8, "2.5"), (6, "3.3"), (7, "3.3")]
    points = [caseload_points([Points(count, Fraction(each))]) for count, each in loads]
    assert points == [20, Fraction("19.8"), Fraction("23.1")]
    assert [one <= 20 for one in points] == [True, True, False]


def test_texas_preparation_blocks() -> None:
    """Texas Education Code 21.404: 450 minutes in two weeks, each block at least 45."""
    assert preparation_counted([90] * 5, TEXAS_BLOCK) >= TEXAS_MINUTES
    assert preparation_counted([50, 40] * 5, TEXAS_BLOCK) < TEXAS_MINUTES


def test_minnesota_preparation() -> None:
    """Minnesota Statutes 122A.50: 5 minutes for each 25 of instruction, so 300 gives 60."""
    assert preparation_owed(300, minutes=5, for_each=25) == 60

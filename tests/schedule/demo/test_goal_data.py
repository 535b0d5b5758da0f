"""The four stories of the demo's goal data."""

import datetime as dt

import pytest

from caseload.progress.trend import Seen, TooFew, Trend, trend_of
from schedule.demo.goal_data import days_with_data, figures_of

FIRST = dt.date(2026, 9, 8)
GIVEN = [FIRST + dt.timedelta(days=number) for number in range(0, 84, 2)]


def trend(story: str) -> Trend | TooFew:
    days = days_with_data(story, GIVEN)
    return trend_of([Seen(day, float(value)) for day, value in figures_of(story, 40, 180, days, "S04")])


def test_data_are_taken_once_a_week() -> None:
    days = days_with_data("steady", GIVEN)
    assert len(days) == 12
    assert len({day.isocalendar()[1] for day in days}) == 12


def test_steady_rises_and_few_is_too_few_to_say() -> None:
    steady = trend("steady")
    assert isinstance(steady, Trend)
    assert steady.low > 0
    assert isinstance(trend("few"), TooFew)


@pytest.mark.parametrize("story", ["steady", "flat", "jumpy", "few"])
def test_figures_stay_between_both_ends(story: str) -> None:
    values = [value for _, value in figures_of(story, 40, 180, days_with_data(story, GIVEN), "S04")]
    assert values
    assert all(40 <= value <= 180 for value in values)


def test_jumpy_swings_and_says_no_direction() -> None:
    jumpy = trend("jumpy")
    assert isinstance(jumpy, Trend)
    assert not jumpy.says_direction
    values = [value for _, value in figures_of("jumpy", 40, 180, days_with_data("jumpy", GIVEN), "S04")]
    assert max(values) - min(values) > 70

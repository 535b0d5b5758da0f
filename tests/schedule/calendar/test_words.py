"""Words that sentences share. Our own, no source; dates and times are held against the C library's."""

import datetime as dt

import pytest

from accounts.dates import date_words, span_words
from schedule.calendar.words import clock_words, listed, period_title, period_words, week_words


@pytest.mark.parametrize(
    ("name", "title", "inside"),
    [
        ("3", "Period 3", "period 3"),
        ("Period 3", "Period 3", "period 3"),
        ("Advisory", "Advisory", "Advisory"),
        (" ", "", None),
    ],
)
def test_a_period_is_called_a_period_once(name: str, title: str, inside: str | None) -> None:
    assert period_title(name) == title
    if inside is not None:
        assert period_words([name]) == inside


def test_several_periods_are_listed() -> None:
    assert period_words(["Period 2", "4", "5"]) == "periods 2, 4 and 5"


def test_periods_of_two_letters_are_numbers_and_longer_ones_are_names() -> None:
    assert period_words(["10"]) == "period 10"
    assert period_words(["2", "Advisory"]) == "2 and Advisory"
    assert period_words(["Gym", "10"]) == "Gym and 10"
    assert period_title("Advisory 1") == "Advisory 1"


@pytest.mark.parametrize("date", [dt.date(2026, 11, 30), dt.date(2027, 1, 8), dt.date(2028, 2, 29)])
def test_dates_are_written_as_in_the_united_states(date: dt.date) -> None:
    """Month, day without a nought, year."""
    words = date.strftime("%B %d, %Y").replace(" 0", " ")
    assert date_words(date) == words
    assert week_words(date) == f"the week of {words}"
    assert span_words(date, dt.date(2030, 6, 1)) == f"{words} to June 1, 2030"


def test_a_clock_shows_twelve_hours() -> None:
    """Every minute of the day, as %I:%M writes it without its leading nought."""
    midnight = dt.datetime(2026, 11, 30, tzinfo=dt.UTC)
    for minute in range(24 * 60):
        shown = (midnight + dt.timedelta(minutes=minute)).strftime("%I:%M").removeprefix("0")
        assert clock_words(minute) == shown


def test_a_list_has_commas_and_one_and() -> None:
    assert [listed(list("abc"[:count])) for count in (1, 2, 3)] == ["a", "a and b", "a, b and c"]

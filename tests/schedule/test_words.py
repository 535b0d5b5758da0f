"""Words that sentences share. Our own, no source."""

import pytest

from schedule.calendar.words import period_title, period_words


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

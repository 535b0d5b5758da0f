"""What an aide's hours are read as, and which times they bar; from the words, with no database.

September 14, 2026 is a Monday.
"""

import datetime as dt

import pytest

from schedule.aides.hours import Aide, AidesNeeded, HoursError, HoursFrom, away, hours_words, read_hours
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.spans import Span

MONDAY = dt.date(2026, 9, 14)


def on(date: dt.date, label: str = "") -> DayFacts:
    return DayFacts(date, open=True, cycle_label=label)


def barred(aides: list[Aide], facts: DayFacts) -> list[Span]:
    return [hold.span for hold in away(aides, facts)]


def aide(name: str, *hours: tuple[dt.date, str]) -> Aide:
    return Aide(name, tuple(HoursFrom(first, read_hours(text)) for first, text in hours))


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("Mon-Thu 8:00 to 11:30", "Mon-Thu 8:00 to 11:30"),
        ("Mon,Wed 8:00-11:30, 12:30-3:00", "Mon,Wed 8:00 to 11:30, 12:30 to 3:00"),
        ("Day 3: 9:00 AM - 1:05 pm\nA Mon 13:00 to 14:15", "Day 3 9:00 to 1:05; A Mon 1:00 to 2:15"),
        ("8:00 to 11:30 and 12:30 to 3:00", "8:00 to 11:30, 12:30 to 3:00"),
        ("5:30 AM to 7:00 PM", "5:30 AM to 7:00 PM"),
        ("", ""),
    ],
)
def test_hours_are_kept_in_the_same_words_and_read_back(text: str, kept: str) -> None:
    """A school's clock: 12:30 to 3:00 is an afternoon. Common practice, no source."""
    assert hours_words(read_hours(text)) == kept
    assert hours_words(read_hours(kept)) == kept


@pytest.mark.parametrize(
    "text", ["mornings", "Mon-Thu", "8 to 11", "Mon 11:30 to 8:00", "Mon 8:00 to 25:00", "Mon 8:00 to 9:00 or so"]
)
def test_what_cannot_be_read_says_what_to_write(text: str) -> None:
    with pytest.raises(HoursError, match=r"Write"):
        read_hours(text)


def test_what_is_barred_is_the_rest_of_the_day() -> None:
    orel = aide("Ms. Orel", (MONDAY, "Mon-Thu 8:00 to 11:30"))
    assert barred([orel], on(MONDAY)) == [(0, 480), (690, 1440)]
    [first, _] = away([orel], on(MONDAY))
    assert first.bar.text == "an aide is needed, and Ms. Orel is there from 8:00 to 11:30"
    assert first.bar.ask == "Ms. Orel, about the hours"
    friday = MONDAY + dt.timedelta(days=4)
    assert barred([orel], on(friday)) == [(0, 1440)]
    assert away([orel], on(friday))[0].bar.text == "an aide is needed, and Ms. Orel isn't there on this day"


def test_each_version_holds_from_its_first_day_on() -> None:
    """Nothing is known of the days before the first one; no times are an aide who comes no more."""
    day, week = dt.timedelta(days=1), dt.timedelta(days=7)
    orel = aide("Ms. Orel", (MONDAY + week, "8:00 to 9:00"), (MONDAY, "8:00 to 11:30"), (MONDAY + 2 * week, ""))
    assert barred([orel], on(MONDAY - day)) == []
    assert barred([orel], on(MONDAY + week - day)) == [(0, 480), (690, 1440)]
    assert barred([orel], on(MONDAY + week)) == [(0, 480), (540, 1440)]
    assert barred([orel], on(MONDAY + 2 * week)) == [(0, 1440)]


def test_cycle_days_are_those_of_the_building() -> None:
    orel = aide("Ms. Orel", (MONDAY, "Day 2 8:00 to 9:00"))
    assert barred([orel], on(MONDAY, "Day 2")) == [(0, 480), (540, 1440)]
    assert barred([orel], on(MONDAY, "Day 3")) == [(0, 1440)]


def test_one_of_several_is_enough() -> None:
    early, late = aide("Ms. Orel", (MONDAY, "8:00 to 10:00")), aide("Mr. Pym", (MONDAY, "9:30 to 12:00"))
    assert barred([early, late], on(MONDAY)) == [(0, 480), (720, 1440)]
    assert "Mr. Pym is there from 9:30 to 12:00" in away([early, late], on(MONDAY))[0].bar.text
    assert barred([early, aide("Ms. Una")], on(MONDAY)) == [], "of one nothing is known: as if there all day"
    assert barred([], on(MONDAY)) == []


def test_own_aides_come_before_those_of_the_class_and_only_while_one_is_needed() -> None:
    own, of_class = aide("Own", (MONDAY, "8:00 to 9:00")), aide("Of class", (MONDAY, "8:00 to 10:00"))
    week = dt.timedelta(days=7)
    needed = AidesNeeded(
        {1: ((MONDAY, MONDAY + week),), 2: ((None, None),), 3: ((None, None),)}, {1: (own,)}, {7: (of_class,)}
    )
    assert [one.span for one in needed.away(1, 7, on(MONDAY))] == [(0, 480), (540, 1440)]
    assert needed.away(1, 7, on(MONDAY + week + dt.timedelta(days=1))) == ()
    assert [one.span for one in needed.away(2, 7, on(MONDAY))] == [(0, 480), (600, 1440)]
    assert needed.away(2, 8, on(MONDAY)) == (), "no aide is named for that class"
    assert needed.away(3, None, on(MONDAY)) == ()
    assert needed.away(4, 7, on(MONDAY)) == (), "nothing says that this one needs an aide"

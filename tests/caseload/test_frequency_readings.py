"""Frequencies that mislead: what has one meaning is read so, what has two is asked, with both.

34 CFR 300.320(a)(7) asks a plan for the frequency, location and duration of services: a total with a count leaves
open what one session has. Where nothing else is named, how people write is common practice, no source.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.plans.frequency import (
    Frequency,
    FrequencyError,
    FrequencyQuestionError,
    FrequencyUnit,
    read_frequency,
    reading_words,
    write_frequency,
)

DAY, MONTH, YEAR = FrequencyUnit.DAY, FrequencyUnit.MONTH, FrequencyUnit.YEAR


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Thirty minutes five times: nobody has thirty sessions in a week of five days.
        ("30 x 5/week", Frequency(5, 30)),
        ("45 x 2/month", Frequency(2, 45, unit=MONTH)),
        ("2 x 30 min/week", Frequency(2, 30)),
        ("30 min 2x/week", Frequency(2, 30)),
        ("2x/week x 30 min", Frequency(2, 30)),
        ("2 x week, 30 min", Frequency(2, 30)),
        # A period of four weeks, with sessions in any week of it.
        ("240 minutes per 4 weeks", Frequency(minutes_total=240, weeks_of=4)),
        ("240 minutes every 4-week period", Frequency(minutes_total=240, weeks_of=4)),
        ("3 x 30 min every 2 weeks", Frequency(3, 30, weeks_of=2)),
        ("30 min once every 1 week", Frequency(1, 30)),
        ("240 minutes per nine calendar weeks", Frequency(minutes_total=240, weeks_of=9)),
        ("1,800 minutes per year", Frequency(minutes_total=1800, unit=YEAR)),
        ("30 min/day, 3 days/week", Frequency(3, 30)),
        ("3 days a week, 30 minutes a day", Frequency(3, 30)),
        ("30 minutes, 3 days per week", Frequency(3, 30)),
        ("2 x 15 min/day, 3 days a week", Frequency(6, 15)),
        ("30 minutes 2 days per 6-day cycle", Frequency(2, 30, unit=FrequencyUnit.CYCLE, cycle_days=6)),
        ("30 min per session, 2 sessions per week", Frequency(2, 30)),
        ("2 sessions/week, 30 min/session", Frequency(2, 30)),
        ("60 minutes each per week, 2 sessions", Frequency(2, 60)),
        ("1 x 6-day cycle, 30 min", Frequency(1, 30, unit=FrequencyUnit.CYCLE, cycle_days=6)),
        # Said outright that the minutes are of all sessions.
        ("60 minutes per week in 2 sessions", Frequency(2, 30)),
        ("90 min/week divided into three sessions", Frequency(3, 30)),
        ("100 minutes per week over 3 days", Frequency(minutes_total=100)),
        # Said outright that they are of each.
        ("2 sessions of 60 minutes per week", Frequency(2, 60)),
        ("4 times 30 minutes per week", Frequency(4, 30)),
        ("60 minutes per week, 1 session", Frequency(1, 60)),
        ("2 sessions of 60 minutes per week, 3 of 4 weeks", Frequency(2, 60, weeks_on=3, weeks_of=4)),
        ("2 sessions weekly 60 minutes", Frequency(2, 60)),
        # What the minutes of all sessions leave a rest of, or too little for a session, has no count.
        ("15 minutes per week in 3 sessions", Frequency(3, 5)),
        ("12 minutes per week in 3 sessions", Frequency(minutes_total=12)),
        ("50 minutes per day in 3 sessions, 3 days a week", Frequency(minutes_total=150)),
        ("3 of 4 weeks, 100 minutes in 3 sessions", Frequency(minutes_total=100, weeks_on=3, weeks_of=4)),
        ("3 of 4 weeks, 30 x 5", Frequency(5, 30, weeks_on=3, weeks_of=4)),
        # More than three sessions on each school day are nobody's.
        ("16 x 10/week", Frequency(10, 16)),
        ("7 x 5/day", Frequency(5, 7, unit=DAY)),
        ("31 x 5/6-day cycle", Frequency(5, 31, unit=FrequencyUnit.CYCLE, cycle_days=6)),
        ("61 x 5/month", Frequency(5, 61, unit=MONTH)),
        ("2 x 30 min/semester", Frequency(2, 30, unit=FrequencyUnit.SEMESTER)),
        ("300 minutes per trimester", Frequency(minutes_total=300, unit=FrequencyUnit.TRIMESTER)),
    ],
)
def test_what_has_one_meaning_is_read(text: str, expected: Frequency) -> None:
    assert read_frequency(text) == expected


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("1 x half hour/week", 30),
        ("half an hour weekly", 30),
        ("a half-hour a week", 30),
        ("1/2 hour per week", 30),
        ("\u00bd hour per week", 30),
        ("1\u00bd hours per week", 90),
        ("1 1/2 hrs per week", 90),
        ("one and a half hours weekly", 90),
        ("an hour and a half a week", 90),
        ("1 hour and 30 minutes weekly", 90),
        (".5 hours per week", 30),
        ("three quarters of an hour weekly", 45),
        ("a quarter of an hour weekly", 15),
        ("twice a week for half an hour", 60),
        ("2 half-hour sessions per week", 60),
        ("2 1/2-hour sessions per week", 60),
        ("2 1/2 hours per week", 150),
        ("two half hours per week", 60),
        ("once a week for an hour", 60),
        ("30 minutes \u2212 twice a week", 60),
        ("\u00bc hour per week", 15),
        ("1\u00bc hours per week", 75),
        ("1\u00bc h/week", 75),
        ("1 3/4 hours weekly", 105),
        ("an hour and a quarter weekly", 75),
        ("an hour and three quarters weekly", 105),
        ("one and a quarter hours weekly", 75),
        ("2 and three-quarters hours weekly", 165),
        # As of half hours: so many sessions where "sessions" stands by.
        ("2 1/4-hour sessions per week", 30),
    ],
)
def test_parts_of_an_hour_are_minutes(text: str, minutes: int) -> None:
    assert read_frequency(text).minutes_in_period == minutes


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("60 minutes per week, 2 sessions", ["2 x 30 min/week", "2 x 60 min/week"]),
        ("90 min/week 3 times", ["3 x 30 min/week", "3 x 90 min/week"]),
        ("100 minutes per week, 4 times", ["4 x 25 min/week", "4 x 100 min/week"]),
        ("100 minutes per week, 3 times", ["100 min/week", "3 x 100 min/week"]),
        ("2 sessions, 60 minutes per week", ["2 x 30 min/week", "2 x 60 min/week"]),
        ("weekly 60 minutes, 2 sessions", ["2 x 30 min/week", "2 x 60 min/week"]),
        ("weekly 60 minutes 2 times", ["2 x 30 min/week", "2 x 60 min/week"]),
        ("100 minutes per week, 3 days", ["100 min/week", "3 x 100 min/week"]),
        ("3 days a week, 2 sessions, 30 minutes a day", ["6 x 15 min/week", "6 x 30 min/week"]),
        ("60 minutes per week, 2 days", ["2 x 30 min/week", "2 x 60 min/week"]),
        ("60 minutes daily, 2 sessions", ["2 x 30 min/day", "2 x 60 min/day"]),
        ("60 minutes per day in 2 sessions, 3 days a week", ["6 x 30 min/week"]),
        ("15 x 10/week", ["15 x 10 min/week", "10 x 15 min/week"]),
        ("6 x 5/day", ["6 x 5 min/day", "5 x 6 min/day"]),
        ("30 x 5/6-day cycle", ["30 x 5 min/6-day cycle", "5 x 30 min/6-day cycle"]),
        ("60 x 5/month", ["60 x 5 min/month", "5 x 60 min/month"]),
        ("10 x 5/week", ["10 x 5 min/week", "5 x 10 min/week"]),
        ("30 x 10/month", ["30 x 10 min/month", "10 x 30 min/month"]),
        ("biweekly 30 min", ["2 x 30 min/week", "1 of 2 weeks, 30 min"]),
        ("Bi-weekly, 30 min", ["2 x 30 min/week", "1 of 2 weeks, 30 min"]),
        ("2 x 30 min biweekly", ["2 x 30 min/week", "2 x 30 min/2 weeks"]),
        ("2 x 30 min every other week", ["2 x 30 min/week, 1 of 2 weeks", "2 x 30 min/2 weeks"]),
        # Twice a month, or every other one of ten: 34 CFR 300.320(a)(7) wants to know which.
        ("bimonthly 30 min", ["2 x 30 min/month", "5 x 30 min/year"]),
        ("90 minutes bi-monthly", ["2 x 90 min/month", "5 x 90 min/year"]),
        ("2-3 times per week, 30 min", ["2 x 30 min/week", "3 x 30 min/week"]),
        ("2 \u2013 3 x 30 min per week", ["2 x 30 min/week", "3 x 30 min/week"]),
        ("2 or 3 times a week for 20 min", ["2 x 20 min/week", "3 x 20 min/week"]),
        ("20 to 30 minutes weekly", ["20 min/week", "30 min/week"]),
        ("30-45min 2x/week", ["2 x 30 min/week", "2 x 45 min/week"]),
        ("twenty to twenty-five minutes 2x/week", ["2 x 20 min/week", "2 x 25 min/week"]),
        ("2-30 min/week", ["30 min/week", "2 x 30 min/week"]),
        ("2-30 min sessions per week", ["2 x 30 min/week"]),
        ("240 minutes per nine weeks", ["240 min/9 calendar weeks", "240 min/marking period"]),
    ],
)
def test_what_has_two_meanings_is_a_question_with_both(text: str, readings: list[str]) -> None:
    if len(readings) == 1:
        assert write_frequency(read_frequency(text)) == readings[0]
        return
    with pytest.raises(FrequencyQuestionError, match="can mean two things") as caught:
        read_frequency(text)
    assert [write_frequency(one) for one in caught.value.readings] == readings
    assert all(f"“{one}”" in str(caught.value) for one in readings)
    assert str(caught.value).startswith("“")


def test_three_meanings_are_asked_as_three() -> None:
    with pytest.raises(FrequencyQuestionError, match="can mean 3 things") as caught:
        read_frequency("5-10 min daily")
    assert [write_frequency(one) for one in caught.value.readings] == [
        "1 x 5 min/day",
        "1 x 10 min/day",
        "5 x 10 min/day",
    ]


@pytest.mark.parametrize(
    ("text", "marking_periods", "readings"),
    [
        ("2 x 30 min/quarter", None, ["2 x 30 min/quarter"]),
        ("2 x 30 min/quarter", 4, ["2 x 30 min/quarter"]),
        # The district has trimesters: one of its three, or a fourth of the year.
        ("2 x 30 min/quarter", 3, ["2 x 30 min/marking period", "8 x 30 min/year"]),
        ("300 min/quarter", 3, ["300 min/marking period", "1200 min/year"]),
        ("2 x 30 min/trimester", 3, ["2 x 30 min/trimester"]),
        ("2 x 30 min/trimester", 4, ["2 x 30 min/marking period", "6 x 30 min/year"]),
        ("2 x 30 min/semester", 2, ["2 x 30 min/semester"]),
        # Two of four quarters, three of six: the marking periods part into semesters.
        ("2 x 30 min/semester", 4, ["2 x 30 min/semester"]),
        ("2 x 30 min/semester", 6, ["2 x 30 min/semester"]),
        ("2 x 30 min/semester", 3, ["2 x 30 min/marking period", "4 x 30 min/year"]),
        ("240 minutes per nine weeks", 4, ["240 min/9 calendar weeks", "240 min/marking period"]),
        ("240 minutes per nine weeks", 2, ["240 min/9 calendar weeks"]),
        ("240 minutes per six weeks", 6, ["240 min/6 calendar weeks", "240 min/marking period"]),
        ("240 minutes per six weeks", None, ["240 min/6 calendar weeks"]),
    ],
)
def test_parts_of_the_year_are_the_districts(text: str, marking_periods: int | None, readings: list[str]) -> None:
    try:
        found: tuple[Frequency, ...] = (read_frequency(text, marking_periods),)
    except FrequencyQuestionError as error:
        found = error.readings
    assert [write_frequency(one) for one in found] == readings


PASTED = [
    "2 sessions per week,\n30 minutes each",
    "2\u00a0x\u00a030\u202fmin/week",
    "2 x 30\u2011minute sessions/week".replace(" x 30", " 30"),
    "30 minutes \u2013 twice a week",
    "\u2022 2 x 30 min/week",
    "\u2014 2 x 30 min / week",
    "2\u200b x 30\u00ad min/week\r\n",
    "30 minutes\ttwice\u2028weekly",
]


@pytest.mark.parametrize("text", PASTED)
def test_pasted_lines_are_read(text: str) -> None:
    """Line breaks, dashes, spaces that don't break and characters without a shape, as other programs leave them."""
    assert read_frequency(text) == Frequency(2, 30)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("30 minutes per day, 3 days", "in what period"),
        ("2 sessions, 3 days a week, 30 min", "how many times more than once"),
        ("30 x 5 x 2/week", "Could not read"),
        ("30 x 5/week, 2 times", "how many times more than once"),
        ("60 minutes per day in 7 sessions", "can't be shared out"),
        ("2 x 30 min/day, 3 of 4 weeks", "weekly frequency"),
        ("2 times 3 times daily 30 min", "how many times more than once"),
        ("3 x biweekly 2 times 30 min", "can mean several things"),
        ("biweekly 30 min per week", "says one of them twice"),
        ("8:30-9:00 weekly", "says one of them twice"),
        ("30 min daily per day, 3 days a week", "in what period more than once"),
        ("30 x 5/week, 45 min", "how many times more than once"),
        ("30 x 5", "in what period"),
        ("weekly in 3 sessions", "can't be shared out"),
        ("1 1/2-hour sessions per week", "Could not read"),
    ],
)
def test_what_has_no_meaning_says_why(text: str, words: str) -> None:
    with pytest.raises(FrequencyError, match=words):
        read_frequency(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2 x 30 min/week", "2 x 30 = 60 minutes a week"),
        ("1 x 30 min/month", "1 x 30 minutes a month"),
        ("90 min/year", "90 minutes a school year"),
        ("1 x 30 min/day", "1 x 30 minutes on each day in session"),
        ("2 x 45 min/6-day cycle", "2 x 45 = 90 minutes in each 6-day cycle"),
        ("240 min/4 weeks", "240 minutes in every 4 weeks, in any of them"),
        (
            "2 x 30 min/week, 3 of 4 weeks",
            "2 x 30 = 60 minutes a week in 3 of every 4 weeks: 180 minutes in 4 weeks",
        ),
        ("10 x 30 min in total", "10 x 30 = 300 minutes in all"),
        ("300 min/semester", "300 minutes a semester"),
    ],
)
def test_what_was_read_is_said_with_its_sum(text: str, words: str) -> None:
    assert reading_words(read_frequency(text)) == words


@pytest.mark.parametrize(
    ("frequency", "words"),
    [
        (Frequency(minutes_total=1), "1 minute a week"),
        (Frequency(1), "1 session of unknown length a week"),
        (Frequency(2), "2 sessions of unknown length a week"),
        (Frequency(2, weeks_on=3, weeks_of=4), "2 sessions of unknown length a week in 3 of every 4 weeks"),
        (Frequency(2, 30, unit=FrequencyUnit.CYCLE), "2 x 30 = 60 minutes in each cycle of the rotation"),
    ],
)
def test_what_stands_in_the_tables_is_said_as_well(frequency: Frequency, words: str) -> None:
    """Older rows hold frequencies that no statement of today is read as."""
    assert reading_words(frequency) == words


SEPARATORS = st.sampled_from(["\n", "\r\n", "\u00a0", "  ", "\t", "\u2003"])


@given(st.integers(1, 6), st.integers(5, 90), SEPARATORS, st.sampled_from(["week", "month", "day", "semester"]))
def test_ways_to_say_each_session_agree(times: int, minutes: int, space: str, unit: str) -> None:
    """However it is parted and ordered, a count with the minutes of each means the same."""
    expected = Frequency(times, minutes, unit=FrequencyUnit(unit))
    ways = (
        f"{times} x {minutes} min/{unit}",
        f"{minutes} min {times}x/{unit}",
        f"{times} sessions per {unit}, {minutes} minutes each",
        f"{minutes} min per session, {times} sessions per {unit}",
        f"{times} times a {unit} for {minutes} minutes",
    )
    for way in ways:
        assert read_frequency(way.replace(" ", space)) == expected


@given(st.integers(2, 6), st.integers(1, 40), st.sampled_from(["week", "month", "year"]))
def test_a_total_with_a_count_is_always_asked(times: int, fives: int, unit: str) -> None:
    """Both meanings are there, and each is read back from its own text: choosing one is the end of it."""
    total = 5 * fives
    with pytest.raises(FrequencyQuestionError) as caught:
        read_frequency(f"{total} minutes per {unit}, {times} sessions")
    in_all, of_each = caught.value.readings
    assert (in_all.minutes_in_period, of_each.minutes_in_period) == (total, total * times)
    assert [read_frequency(write_frequency(one)) for one in caught.value.readings] == [in_all, of_each]

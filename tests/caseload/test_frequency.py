"""Frequencies in the words of plans, read and written back."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.plans.frequency import (
    EXAMPLES,
    Frequency,
    FrequencyError,
    FrequencyUnit,
    read_frequency,
    session_lengths,
    write_frequency,
)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Phrases found in published special-education decisions and handbooks.
        ("Twice weekly for 30 minutes", Frequency(2, 30)),
        ("20 minutes one time per month", Frequency(1, 20, unit=FrequencyUnit.MONTH)),
        ("15 minutes once monthly", Frequency(1, 15, unit=FrequencyUnit.MONTH)),
        ("six times per month for 20 minutes", Frequency(6, 20, unit=FrequencyUnit.MONTH)),
        # Daily: one on each day in session.
        ("1 time daily 30 minutes", Frequency(1, 30, unit=FrequencyUnit.DAY)),
        ("5 times per week 42 minutes", Frequency(5, 42)),
        ("3 times a year 15 minutes", Frequency(3, 15, unit=FrequencyUnit.YEAR)),
        ("3 out of 4 weeks", Frequency(1, weeks_on=3, weeks_of=4)),
    ],
)
def test_phrases_of_published_plans(text: str, expected: Frequency) -> None:
    assert read_frequency(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Common practice, no source: the ways in which people write the same thing.
        ("2 x 30 min/week", Frequency(2, 30)),
        ("2x30/wk", Frequency(2, 30)),
        ("2 × 30 MIN / WEEK.", Frequency(2, 30)),  # noqa: RUF001 - the multiplication sign that plans use
        ("30 min x 2 per week", Frequency(2, 30)),
        ("two 30-minute sessions per week", Frequency(2, 30)),
        ("2 sessions per week, 30 minutes each", Frequency(2, 30)),
        ("2 sessions of 30 minutes each per school week", Frequency(2, 30)),
        ("30\u00a0minutes twice\na week", Frequency(2, 30)),
        ("1 x 1 hour/week", Frequency(1, 60)),
        ("90 min/month", Frequency(minutes_total=90, unit=FrequencyUnit.MONTH)),
        ("1.5 hours per month", Frequency(minutes_total=90, unit=FrequencyUnit.MONTH)),
        ("1 hour 30 minutes a month", Frequency(minutes_total=90, unit=FrequencyUnit.MONTH)),
        ("120 minutes per week", Frequency(minutes_total=120)),
        ("forty-five minutes weekly", Frequency(minutes_total=45)),
        ("thirty five minutes weekly", Frequency(minutes_total=35)),
        ("sixteen times a year, 30 minutes", Frequency(16, 30, unit=FrequencyUnit.YEAR)),
        ("30 minutes daily", Frequency(1, 30, unit=FrequencyUnit.DAY)),
        ("twice a day 10 minutes", Frequency(2, 10, unit=FrequencyUnit.DAY)),
        ("1x per 6-day cycle, 45 min", Frequency(1, 45, unit=FrequencyUnit.CYCLE, cycle_days=6)),
        ("once per six-day cycle, 45 min", Frequency(1, 45, unit=FrequencyUnit.CYCLE, cycle_days=6)),
        ("twice per cycle 30 min", Frequency(2, 30, unit=FrequencyUnit.CYCLE)),
        ("3 x 20 min per marking period", Frequency(3, 20, unit=FrequencyUnit.MARKING_PERIOD)),
        ("30 minutes quarterly", Frequency(minutes_total=30, unit=FrequencyUnit.QUARTER)),
        ("once each quarter, 30 minutes", Frequency(1, 30, unit=FrequencyUnit.QUARTER)),
        ("600 minutes in total", Frequency(minutes_total=600, unit=FrequencyUnit.TOTAL)),
        ("3 of 4 weeks, 30 min", Frequency(1, 30, weeks_on=3, weeks_of=4)),
        ("2 x 30 min/week, three out of every four weeks", Frequency(2, 30, weeks_on=3, weeks_of=4)),
        ("once every other week for 30 min", Frequency(1, 30, weeks_on=1, weeks_of=2)),
        ("1 x 30 min every 3 weeks", Frequency(1, 30, weeks_of=3)),
        ("3 times a month", Frequency(3, unit=FrequencyUnit.MONTH)),
        ("thrice a month, 20 minutes", Frequency(3, 20, unit=FrequencyUnit.MONTH)),
        ("600 minutes yearly", Frequency(minutes_total=600, unit=FrequencyUnit.YEAR)),
        ("600 minutes annually", Frequency(minutes_total=600, unit=FrequencyUnit.YEAR)),
        ("90 minutes monthly", Frequency(minutes_total=90, unit=FrequencyUnit.MONTH)),
        ("2 x 1 hour 30 minutes/week", Frequency(2, 90)),
        ("2 30-minute sessions weekly", Frequency(2, 30)),
        ("1 hour x 2 per week", Frequency(2, 60)),
        ("once a week, 3 of 4 weeks, 30 min", Frequency(1, 30, weeks_on=3, weeks_of=4)),
        ("30 min once every 2 weeks", Frequency(1, 30, weeks_of=2)),
        ("60 min every other week", Frequency(minutes_total=60, weeks_on=1, weeks_of=2)),
        ("60 min every 3 weeks", Frequency(minutes_total=60, weeks_of=3)),
        ("2 x 30 min, 3 of 4 weeks", Frequency(2, 30, weeks_on=3, weeks_of=4)),
        ("2 x 30 min/week".ljust(200, ","), Frequency(2, 30)),
    ],
)
def test_other_ways_to_write_them(text: str, expected: Frequency) -> None:
    assert read_frequency(text) == expected


@pytest.mark.parametrize(
    ("frequency", "text"),
    [
        (Frequency(2, 30), "2 x 30 min/week"),
        (Frequency(minutes_total=90, unit=FrequencyUnit.MONTH), "90 min/month"),
        (Frequency(1, 45, unit=FrequencyUnit.CYCLE, cycle_days=6), "1 x 45 min/6-day cycle"),
        (Frequency(1, 30, weeks_on=3, weeks_of=4), "3 of 4 weeks, 30 min"),
        (Frequency(1, weeks_on=3, weeks_of=4), "3 of 4 weeks"),
        (Frequency(2, 30, weeks_on=3, weeks_of=4), "2 x 30 min/week, 3 of 4 weeks"),
        (Frequency(minutes_total=30, weeks_on=3, weeks_of=4), "30 min/week, 3 of 4 weeks"),
        (Frequency(1, 30, unit=FrequencyUnit.DAY), "1 x 30 min/day"),
        (Frequency(minutes_total=240, weeks_of=4), "240 min/4 weeks"),
        (Frequency(3, 30, weeks_of=9), "3 x 30 min/9 calendar weeks"),
        (Frequency(2, 30, unit=FrequencyUnit.SEMESTER), "2 x 30 min/semester"),
        (Frequency(6, unit=FrequencyUnit.MARKING_PERIOD), "6 x/marking period"),
        (Frequency(10, 30, unit=FrequencyUnit.TOTAL), "10 x 30 min in total"),
    ],
)
def test_canonical_text(frequency: Frequency, text: str) -> None:
    assert write_frequency(frequency) == text


@st.composite
def frequencies(draw: st.DrawFn) -> Frequency:
    """Any frequency that a plan can state."""
    unit = draw(st.sampled_from(FrequencyUnit))
    counted = st.integers(1, 999)
    times = draw(counted if unit is FrequencyUnit.DAY else st.none() | counted)
    weeks_of = draw(st.none() | st.integers(2, 52)) if unit is FrequencyUnit.WEEK else None
    return Frequency(
        times=times,
        minutes=None if times is None else draw(st.none() | st.integers(1, 480)),
        minutes_total=draw(st.integers(1, 99_999)) if times is None else None,
        unit=unit,
        cycle_days=draw(st.none() | st.integers(2, 10)) if unit is FrequencyUnit.CYCLE else None,
        weeks_on=None if weeks_of is None else draw(st.none() | st.integers(1, weeks_of - 1)),
        weeks_of=weeks_of,
    )


@given(frequencies())
def test_what_is_written_is_read_back(frequency: Frequency) -> None:
    assert read_frequency(write_frequency(frequency)) == frequency
    assert read_frequency(write_frequency(frequency).upper()) == frequency


def read_or_refuse(text: str) -> None:
    """A text ends in a frequency that can be written back or in a message on how to write it, in nothing else."""
    try:
        found = read_frequency(text)
    except FrequencyError as error:
        assert "rite " in str(error)  # noqa: PT017 - either outcome is right
    else:
        assert read_frequency(write_frequency(found)) == found


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    read_or_refuse(text)


WORDS = "2,30,x,min,times,once,per,/,week,daily,6-day,cycle,of,4,weeks,for,every,other,total,hours,;"


@given(st.lists(st.sampled_from(re.split(",", WORDS)), max_size=9).map(" ".join))
def test_any_order_of_known_words_is_read_or_refused(text: str) -> None:
    read_or_refuse(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "There is no frequency"),
        ("fortnightly 30 min", 'Could not read "fortnightly 30 min"'),
        ("1-2 x 30-45 min/week", "can mean several things"),
        ("2-3 x 20 min biweekly", "can mean several things"),
        ("2 x 30 min bimonthly", "can mean several things"),
        ("2 x", "does not say in what period"),
        ("30 min", "does not say in what period"),
        ("per week", "neither how many times nor how many minutes"),
        ("2 x 30 min per", "stops before"),
        ("2 x 30 min/week 3 times", "how many times more than once"),
        ("2 x 30 min/week, 40 min", "how many minutes more than once"),
        ("2 x 30 min/week, monthly", "in what period more than once"),
        ("30 min per per week", 'Could not read "per week"'),
        ("0 x 30 min/week", "must be 1 to 999, not 0"),
        ("1 x 481 min/week", "must be 1 to 480, not 481"),
        ("1 x 30 min/11-day cycle", "must be 2 to 10, not 11"),
        ("4 of 4 weeks, 30 min", "leave at least one out"),
        ("1.33 hours/week", "not a whole number of minutes"),
        ("2 x 30 min/month, 3 of 4 weeks", "weekly frequency"),
        ("x" * 201, "longer than 200 characters"),
        ('=HYPERLINK("a")', "Could not read"),
    ],
)
def test_what_cannot_be_read_is_named_with_examples(text: str, words: str) -> None:
    with pytest.raises(FrequencyError) as caught:
        read_frequency(text)
    assert words in str(caught.value)
    assert all(example in str(caught.value) for example in EXAMPLES)


ONES = "one two three four five six seven eight nine"
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"
TENS = "twenty thirty forty fifty sixty seventy eighty ninety"


def test_numbers_are_read_in_words() -> None:
    """One to ninety-nine as English spells them, with a hyphen or a space."""
    words = [*ONES.split(), *TEENS.split()]
    for ten in TENS.split():
        words += [ten, *(f"{ten}-{one}" for one in ONES.split())]
    assert len(words) == 99
    for number, word in enumerate(words, start=1):
        for written in (word, word.replace("-", " ")):
            assert read_frequency(f"{written} minutes weekly") == Frequency(minutes_total=number)


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_in_messages_are_canonical(example: str) -> None:
    assert write_frequency(read_frequency(example)) == example


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"times": 2, "minutes_total": 60},
        {"minutes": 30, "minutes_total": 60},
        {"times": 2, "cycle_days": 6},
        {"times": 2, "weeks_on": 3},
        {"times": 2, "weeks_of": 53},
        {"times": 2, "weeks_on": 0, "weeks_of": 4},
        # A year has 52 weeks, and no plan owes a hundred thousand minutes: there are fewer in its school days.
        {"times": 2, "weeks_on": 1, "weeks_of": 53},
        {"minutes_total": 100_000},
        {"minutes_total": 60, "unit": FrequencyUnit.DAY},
    ],
)
def test_impossible_frequencies_cannot_be_made(fields: dict[str, int]) -> None:
    with pytest.raises(FrequencyError):
        Frequency(**fields)  # type: ignore[arg-type] # mypy cannot tell which of the names are there


def test_totals_of_a_period() -> None:
    assert Frequency(2, 30).minutes_in_period == 60
    assert Frequency(2, 30, weeks_on=3, weeks_of=4).minutes_in_period == 180
    assert Frequency(minutes_total=90, unit=FrequencyUnit.MONTH).minutes_in_period == 90
    assert Frequency(3).minutes_in_period is None


def test_minutes_are_divided_into_sessions() -> None:
    assert session_lengths(90, 30) == (30, 30, 30)
    assert session_lengths(100, 45) == (34, 33, 33)
    assert session_lengths(20, 45) == (20,)
    assert session_lengths(0, 45) == ()
    with pytest.raises(FrequencyError, match="at most 0 minutes"):
        session_lengths(90, 0)
    with pytest.raises(FrequencyError, match="divide -1 minutes"):
        session_lengths(-1, 30)


@given(st.integers(0, 5000), st.integers(1, 480))
def test_sessions_are_exact_equal_and_few(total: int, longest: int) -> None:
    lengths = session_lengths(total, longest)
    assert sum(lengths) == total
    assert all(1 <= length <= longest for length in lengths)
    assert max(lengths, default=0) - min(lengths, default=0) <= 1
    assert (len(lengths) - 1) * longest < total or not lengths

"""A frequency in words: the one canonical text, and how a person is told what was read."""

from caseload.plans.frequency.terms import Frequency, FrequencyUnit

_UNIT_WORDS = {
    FrequencyUnit.DAY: "day",
    FrequencyUnit.CYCLE: "cycle",
    FrequencyUnit.MONTH: "month",
    FrequencyUnit.MARKING_PERIOD: "marking period",
    FrequencyUnit.QUARTER: "quarter",
    FrequencyUnit.TRIMESTER: "trimester",
    FrequencyUnit.SEMESTER: "semester",
    FrequencyUnit.YEAR: "year",
    FrequencyUnit.WEEK: "week",
}
GRADING_WEEKS = {4: 9, 6: 6}
"""Weeks of a marking period, by how many a year has: people call those periods “the nine weeks”."""


def write_frequency(frequency: Frequency) -> str:
    """The one canonical text of a frequency; read_frequency reads it back to an equal value."""
    weeks = f"{frequency.weeks_on} of {frequency.weeks_of} weeks" if frequency.weeks_on else ""
    each = f"{frequency.minutes} min" if frequency.minutes else ""
    if weeks and frequency.times == 1:
        return ", ".join(part for part in (weeks, each) if part)
    head = f"{frequency.minutes_total} min" if frequency.times is None else f"{frequency.times} x {each}".rstrip()
    text = head + _write_period(frequency)
    return f"{text}, {weeks}" if weeks else text


def _write_period(frequency: Frequency) -> str:
    """`/week`, `/4 weeks`, `/6-day cycle` or ` in total`."""
    if frequency.unit is FrequencyUnit.TOTAL:
        return " in total"
    if frequency.weeks_of and not frequency.weeks_on:
        # "Nine weeks" alone may be the marking period.
        kind = "calendar " if frequency.weeks_of in GRADING_WEEKS.values() else ""
        return f"/{frequency.weeks_of} {kind}weeks"
    days = f"{frequency.cycle_days}-day " if frequency.cycle_days else ""
    return f"/{days}{_UNIT_WORDS[frequency.unit]}"


def reading_words(frequency: Frequency) -> str:
    """What was read, with the sum: "2 x 30 = 60 minutes a week"."""
    return f"{_amount(frequency)} {_period_words(frequency)}"


def things_words(readings: int) -> str:
    """How many things a text can mean."""
    return "two things" if readings == 2 else f"{readings} things"


def _amount(frequency: Frequency) -> str:
    """`2 x 30 = 60 minutes`, `1 x 30 minutes`, `90 minutes` or `3 sessions`."""
    times, minutes = frequency.times, frequency.minutes
    if times is None:
        return f"{frequency.minutes_total} minute{'s' if frequency.minutes_total != 1 else ''}"
    if minutes is None:
        return f"{times} session{'s' if times != 1 else ''} of unknown length"
    each = f"{times} x {minutes}"
    return f"{each} minutes" if times == 1 else f"{each} = {times * minutes} minutes"


def _period_words(frequency: Frequency) -> str:
    unit, minutes = frequency.unit, frequency.minutes_in_period
    if frequency.weeks_on:
        sum_words = "" if minutes is None else f": {minutes} minutes in {frequency.weeks_of} weeks"
        return f"a week in {frequency.weeks_on} of every {frequency.weeks_of} weeks{sum_words}"
    if frequency.weeks_of:
        return f"in every {frequency.weeks_of} weeks, in any of them"
    if unit is FrequencyUnit.DAY:
        return "on each day in session"
    if unit is FrequencyUnit.TOTAL:
        return "in all"
    if unit is FrequencyUnit.CYCLE:
        return (
            f"in each {frequency.cycle_days}-day cycle" if frequency.cycle_days else "in each cycle of the rotation"
        )
    return f"a school {_UNIT_WORDS[unit]}" if unit is FrequencyUnit.YEAR else f"a {_UNIT_WORDS[unit]}"

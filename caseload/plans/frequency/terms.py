"""What a frequency is. Integer minutes throughout."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

EXAMPLES = ("2 x 30 min/week", "90 min/month", "1 x 45 min/6-day cycle", "3 of 4 weeks, 30 min")
LONGEST_SESSION = 480  # minutes: no school day is longer
SCHOOL_DAYS_A_WEEK = 5


class FrequencyError(ValueError):
    """A frequency that cannot be read or cannot be; the message says what and shows how to write it."""


class FrequencyUnit(StrEnum):
    """The period that a frequency counts in. `day`: each day in session; `total`: the line's whole time.

    Quarters, trimesters and semesters are the district's marking periods, or so many of them together.
    """

    DAY = "day"
    WEEK = "week"
    CYCLE = "cycle"
    MONTH = "month"
    MARKING_PERIOD = "marking_period"
    QUARTER = "quarter"
    TRIMESTER = "trimester"
    SEMESTER = "semester"
    YEAR = "year"
    TOTAL = "total"


PARTS_OF_YEAR = {FrequencyUnit.SEMESTER: 2, FrequencyUnit.TRIMESTER: 3, FrequencyUnit.QUARTER: 4}
"""Units that part the school year, and in how many."""


@dataclass(frozen=True, slots=True)
class Frequency:
    """Sessions owed in each period (`times` of `minutes` each), or minutes owed without a count.

    Exactly one of `times` and `minutes_total` is set; `minutes` may be unknown (None) where a plan states only
    how often. `cycle_days` is the length of a cycle, None for the building's own. `weeks_on` of each
    `weeks_of` weeks narrows a weekly frequency ("3 out of 4 weeks"); `weeks_of` alone is a period of so many weeks,
    with sessions in any of them ("240 minutes per 4 weeks"). Raises FrequencyError.
    """

    times: int | None = None
    minutes: int | None = None
    minutes_total: int | None = None
    unit: FrequencyUnit = FrequencyUnit.WEEK
    cycle_days: int | None = None
    weeks_on: int | None = None
    weeks_of: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no plan can mean."""
        if (self.times is None) == (self.minutes_total is None):
            raise FrequencyError("A frequency gives either a number of sessions or total minutes.")
        if self.minutes is not None and self.times is None:
            raise FrequencyError("Minutes of each session need a number of sessions.")
        _within("The number of sessions", self.times, 1, 999)
        _within("The minutes of a session", self.minutes, 1, LONGEST_SESSION)
        _within("The total minutes", self.minutes_total, 1, 99_999)
        _within("The days of a cycle", self.cycle_days, 2, 10)
        if self.cycle_days is not None and self.unit is not FrequencyUnit.CYCLE:
            raise FrequencyError("Only a frequency per cycle has a number of cycle days.")
        if self.unit is FrequencyUnit.DAY and self.times is None:
            raise FrequencyError("A frequency per day says how many times a day.")
        self._check_weeks()

    def _check_weeks(self) -> None:
        """Hold "3 of 4 weeks" against itself."""
        if self.weeks_on is None and self.weeks_of is None:
            return
        if self.weeks_of is None or self.unit is not FrequencyUnit.WEEK:
            raise FrequencyError('Weeks on and off are two numbers in a weekly frequency, such as "3 of 4 weeks".')
        _within("The number of weeks it counts out of", self.weeks_of, 2, 52)
        if self.weeks_on is not None and not 1 <= self.weeks_on < self.weeks_of:
            raise FrequencyError(
                f'"{self.weeks_on} of {self.weeks_of} weeks" must name at least one week and '
                "leave at least one out."
            )

    @property
    def minutes_in_period(self) -> int | None:
        """Minutes owed in one period, None where the length of a session is not known.

        A day's frequency has each day in session for its period: a week owes it as often as it has such days.
        """
        once = self.minutes_total
        if self.times is not None:
            once = None if self.minutes is None else self.times * self.minutes
        return None if once is None else once * (self.weeks_on or 1)


class FrequencyQuestionError(FrequencyError):
    """A frequency that people understand in two ways: `readings` holds them, the likelier first."""

    def __init__(self, message: str, readings: Sequence[Frequency]) -> None:
        super().__init__(message)
        self.readings = tuple(readings)


def _within(what: str, value: int | None, least: int, most: int) -> None:
    """Refuse a number outside its bounds; None passes."""
    if value is not None and not least <= value <= most:
        raise FrequencyError(f"{what} must be {least} to {most}, not {value}.")


def session_lengths(total_minutes: int, longest: int) -> tuple[int, ...]:
    """Whole-minute sessions that add up to `total_minutes`, as few and as equal as `longest` allows.

    Longer ones first; no two differ by more than a minute. Raises FrequencyError below one minute.
    """
    if total_minutes < 0 or longest < 1:
        raise FrequencyError(f"Cannot divide {total_minutes} minutes into sessions of at most {longest} minutes.")
    count = -(-total_minutes // longest)
    if count == 0:
        return ()
    shorter, longer_ones = divmod(total_minutes, count)
    return (shorter + 1,) * longer_ones + (shorter,) * (count - longer_ones)

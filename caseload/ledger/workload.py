"""What a teacher's week is made of, and what plans owe in an average week. Pure.

Integer minutes; averages are exact fractions, rounded only once they are added up.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from caseload.plans.frequency import PARTS_OF_YEAR, SCHOOL_DAYS_A_WEEK, Frequency, FrequencyUnit

WEEKS_A_MONTH = Fraction(52, 12)


@dataclass(frozen=True, slots=True)
class WorkloadWeek:
    """What a week of an itinerant teacher is made of, in minutes.

    `support` is what keeps the services going: preparation, meetings, assessment, records.
    """

    direct: int
    consultation: int
    support: int
    travel: int

    @property
    def total(self) -> int:
        """All of it."""
        return self.direct + self.consultation + self.support + self.travel

    def over(self, contract: int) -> int:
        """Minutes above the contract's; negative: room left."""
        return self.total - contract


@dataclass(frozen=True, slots=True)
class YearLength:
    """Weeks from a school year's first day to its last, and how many marking periods it has."""

    weeks: int
    marking_periods: int


def minutes_a_week(frequency: Frequency, year: YearLength | None, line_weeks: int) -> Fraction | None:
    """Minutes that a frequency comes to in an average week; None where that can't be said.

    `line_weeks`: how long the service runs, for minutes that are owed in all. A month counts as 52/12 weeks. An
    average for comparing weeks, common practice, no source: what is owed by when is the ledger's to say.
    """
    minutes = frequency.minutes_in_period
    weeks = _weeks_in_period(frequency, year, line_weeks)
    return None if minutes is None or not weeks else minutes / weeks


def _weeks_in_period(frequency: Frequency, year: YearLength | None, line_weeks: int) -> Fraction | None:
    unit = frequency.unit
    known = {
        FrequencyUnit.DAY: Fraction(1, SCHOOL_DAYS_A_WEEK),
        FrequencyUnit.WEEK: Fraction(frequency.weeks_of or 1),
        FrequencyUnit.CYCLE: Fraction(frequency.cycle_days or SCHOOL_DAYS_A_WEEK, SCHOOL_DAYS_A_WEEK),
        FrequencyUnit.MONTH: WEEKS_A_MONTH,
        FrequencyUnit.TOTAL: Fraction(line_weeks),
    }
    if unit in known:
        return known[unit]
    if year is None:
        return None
    whole_year = 1
    periods = year.marking_periods if unit is FrequencyUnit.MARKING_PERIOD else PARTS_OF_YEAR.get(unit, whole_year)
    return Fraction(year.weeks, periods) if periods else None


def rounded(minutes: Fraction) -> int:
    """Whole minutes, halves up."""
    return int(minutes + Fraction(1, 2))


def preparation_counted(blocks: Sequence[int], smallest: int) -> int:
    """Minutes of preparation in blocks of at least `smallest`; shorter ones don't count."""
    return sum(block for block in blocks if block >= smallest)

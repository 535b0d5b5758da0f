"""The trend of a goal's data, and when the criterion is reached if it goes on. Pure.

The slope is Theil's and Sen's: the median of the slopes between every two points (Sen, Estimates of the regression
coefficient based on Kendall's tau, Journal of the American Statistical Association 63, 1968), with Sen's interval.
Vannest, Parker, Davis, Soares and Smith (Behavioral Disorders 37, 2012) advise it for data of single students: one
odd day hardly moves it. scipy does the arithmetic.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from caseload.progress.measures import Wanted
from jobs.later import later

stats = later("scipy.stats")

LEAST_DAYS = 5
"""Different days with data below which no trend is said: five points a phase, as the What Works Clearinghouse asks
of single-case designs (Kratochwill and others, Single-Case Designs Technical Documentation, 2010)."""
CONFIDENCE = 0.95
LONGEST_DAYS = 730
"""How far ahead a day is named at all."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One data point: its day and its figure in the goal's unit."""

    day: dt.date
    value: float


@dataclass(frozen=True, slots=True)
class TooFew:
    """There are too few data to say, and so many more days with data are wanted."""

    wanted: int


@dataclass(frozen=True, slots=True)
class Trend:
    """The middle slope in the goal's unit a day, with its interval; the line runs through `value` on `day`.

    `day` is the median of the days, as a number of days from `first`.
    """

    slope: float
    low: float
    high: float
    first: dt.date
    last: dt.date
    middle: float
    value: float

    def on(self, day: dt.date) -> float:
        """The line's value on a date."""
        return self.value + self.slope * ((day - self.first).days - self.middle)

    @property
    def a_week(self) -> float:
        """The slope in the goal's unit a week."""
        return 7 * self.slope

    @property
    def says_direction(self) -> bool:
        """Whether the interval lies on one side of no change."""
        return self.low > 0 or self.high < 0


def trend_of(seen: Sequence[Seen], confidence: float = CONFIDENCE) -> Trend | TooFew:
    """The trend of these points, several a day or not; too few where they lie on less than five days."""
    days = sorted({one.day for one in seen})
    if len(days) < LEAST_DAYS:
        return TooFew(LEAST_DAYS - len(days))
    x = np.array([(one.day - days[0]).days for one in seen], dtype=float)
    y = np.array([one.value for one in seen], dtype=float)
    found = stats.theilslopes(y, x, alpha=confidence)
    slope, low, high = float(found.slope), float(found.low_slope), float(found.high_slope)
    return Trend(slope, low, high, days[0], days[-1], float(np.median(x)), float(np.median(y)))


class HowSure(StrEnum):
    """How the interval of days lies to the day by which a goal is to be reached."""

    THERE = "there"
    LIKELY = "likely"
    OPEN = "open"
    UNLIKELY = "unlikely"


@dataclass(frozen=True, slots=True)
class ReachDay:
    """When the trend's line meets the criterion: `expected`, and from `earliest` to `latest` by the interval.

    None where the line at that slope doesn't meet it within two years, or ever.
    """

    chance: HowSure
    expected: dt.date | None = None
    earliest: dt.date | None = None
    latest: dt.date | None = None


def reached_by(trend: Trend, criterion: float, wanted: Wanted, end: dt.date) -> ReachDay:
    """When a criterion is met if the trend goes on, and how sure it is that this is by a goal's last day.

    The two slopes at the ends of the interval run through the same middle as the line itself.
    """
    sign = 1 if wanted is Wanted.MORE else -1
    if sign * (trend.on(trend.last) - criterion) >= 0:
        return ReachDay(HowSure.THERE, trend.last, trend.last, trend.last)
    expected, *ends = (_meets(trend, slope, criterion, sign) for slope in (trend.slope, trend.low, trend.high))
    earliest, latest = (ends[1], ends[0]) if sign > 0 else (ends[0], ends[1])
    if earliest is None or earliest > end:
        chance = HowSure.UNLIKELY
    else:
        chance = HowSure.LIKELY if latest is not None and latest <= end else HowSure.OPEN
    return ReachDay(chance, expected, earliest, latest)


def _meets(trend: Trend, slope: float, criterion: float, sign: int) -> dt.date | None:
    """The first day after the last data on which a line of this slope through the middle is at the criterion."""
    if sign * slope <= 0:
        return None
    days = trend.middle + (criterion - trend.value) / slope
    least = (trend.last - trend.first).days
    if days > least + LONGEST_DAYS:
        return None
    return trend.first + dt.timedelta(days=max(int(np.ceil(days - 1e-9)), least))


def phases_of(seen: Sequence[Seen], changes: Sequence[dt.date]) -> list[list[Seen]]:
    """Points between phase changes, the earliest first; a change's own day begins its phase. Empty ones stay."""
    bounds = [dt.date.min, *sorted(changes), dt.date.max]
    return [[one for one in seen if first <= one.day < after] for first, after in pairwise(bounds)]

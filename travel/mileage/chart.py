"""Where the miles of a trip come from, and how far what was driven lies from what the chart says. Pure.

The chart is what says how far two places are without the driver's word on that trip: the road engine; where the
district has none, the distance that the teacher entered once for all drives between the two; else the estimate from
coordinates (docs/drive-times.md). Miles are in tenths.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from functools import reduce


class MilesSource(StrEnum):
    """Where miles come from, the surest first."""

    ODOMETER = "odometer"
    ROAD = "road"
    ENTERED = "entered"
    ESTIMATE = "estimate"
    PLANNED = "planned"
    TYPED = "typed"
    UNKNOWN = ""


SOURCE_WORDS = {
    MilesSource.ODOMETER: "odometer",
    MilesSource.ROAD: "road engine",
    MilesSource.ENTERED: "the driver's own table of drives",
    MilesSource.ESTIMATE: "estimate from coordinates",
    MilesSource.PLANNED: "the week as it was planned",
    MilesSource.TYPED: "typed by the driver",
    MilesSource.UNKNOWN: "not kept",
}
MILES_SOURCES = [(one.value, words) for one, words in SOURCE_WORDS.items() if one]
"""The choices of a table's field; an empty one is a trip from before sources were kept."""

TELLING_MILES = Decimal("0.5")
"""Common practice, no source: on a way of a mile a reading of the odometer in tenths is off by its parking lot."""


@dataclass(frozen=True, slots=True)
class ChartMiles:
    """A distance of the chart and where it comes from."""

    miles: Decimal
    source: MilesSource


def there_and_back(ways: Iterable[ChartMiles | None]) -> ChartMiles | None:
    """Several ways one after the other, as sure as the least sure of them; None where one of them isn't known."""
    known = list(ways)
    if not known or None in known:
        return None
    return reduce(_joined, (one for one in known if one is not None))


def _joined(one: ChartMiles, other: ChartMiles) -> ChartMiles:
    sureness = list(MilesSource)
    return ChartMiles(one.miles + other.miles, max(one.source, other.source, key=sureness.index))


def off_chart_percent(driven: Decimal | None, direct: Decimal | None, source: MilesSource) -> int | None:
    """By how many percent of the chart's distance more was driven (less: below 0); None without both.

    What the driver typed where the chart knows no way is no chart to hold anything against.
    """
    if driven is None or not direct or source is MilesSource.TYPED:
        return None
    return int(((driven - direct) * 100 / direct).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def is_off_chart(driven: Decimal | None, direct: Decimal | None, source: MilesSource, share_percent: int) -> bool:
    """Whether the two differ by more than the district's share, and by more than a parking lot is long."""
    if off_chart_percent(driven, direct, source) is None or driven is None or direct is None:
        return False
    gap = abs(driven - direct)
    return gap * 100 > share_percent * direct and gap > TELLING_MILES

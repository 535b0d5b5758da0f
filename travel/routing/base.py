"""What a drive-time provider is asked for and what it answers. Knows no Django, reads no clock."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import Protocol

# The international mile, exactly (international yard and pound agreement of 1959).
METRES_A_MILE = Decimal("1609.344")


class PointError(ValueError):
    """A latitude or longitude that is on no map; the message says which and what is allowed."""


@dataclass(frozen=True, slots=True)
class Point:
    """A place in degrees, WGS84; south and west are negative. Raises `PointError`."""

    latitude: float
    longitude: float

    def __post_init__(self) -> None:
        """Refuse what is on no map, NaN included."""
        for name, value, most in (("latitude", self.latitude, 90), ("longitude", self.longitude, 180)):
            if not -most <= value <= most:
                raise PointError(f"The {name} {value} is not between -{most} and {most} degrees.")


class LegSource(StrEnum):
    """Where the minutes of a leg come from. Values fit `schedule.DayItem.source`."""

    MEASURED_BY_YOU = "own_minutes"
    ESTIMATE = "estimate"


LEG_SOURCE_WORDS = {
    LegSource.MEASURED_BY_YOU: "measured by you",
    LegSource.ESTIMATE: "estimate",
}


@dataclass(frozen=True, slots=True)
class Leg:
    """One drive: whole minutes at the wheel (rounded up; parking and packing are the building's), and how far.

    `miles` is in tenths, `metres` whole; both are None where nobody knows the distance, which only happens
    with a teacher's own minutes to a building without coordinates.
    """

    minutes: int
    miles: Decimal | None
    metres: int | None
    source: LegSource

    def __post_init__(self) -> None:
        """Hold minutes and distance to what a drive can be."""
        if self.minutes < 0 or (self.metres is not None and self.metres < 0):
            raise ValueError("A drive has no negative minutes or metres.")
        if (self.miles is None) != (self.metres is None):
            raise ValueError("A drive's miles and metres are known together or not at all.")


class Provider(Protocol):
    """Answers drive times between all pairs of some points."""

    def table(self, points: Sequence[Point]) -> tuple[tuple[Leg, ...], ...]:
        """Row i, column j: the drive from point i to point j. The diagonal is 0."""


def miles_of(metres: float) -> Decimal:
    """Metres as miles in tenths, halves rounded up."""
    return (Decimal(metres) / METRES_A_MILE).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def metres_of(miles: Decimal) -> int:
    """Miles as whole metres, halves rounded up."""
    return int((miles * METRES_A_MILE).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def whole_minutes(minutes: float) -> int:
    """Minutes rounded up: a plan that is a little too generous gets the teacher there."""
    # A billionth of a minute is float noise and not a reason for another minute.
    return max(0, math.ceil(minutes - 1e-9))

"""What a drive-time engine or estimator is asked for and what it answers. Knows no Django, reads no clock."""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

# The international mile, exactly (international yard and pound agreement of 1959).
METERS_A_MILE = Decimal("1609.344")


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


class RoadError(Exception):
    """A road engine can't answer at all; `message` says why and `remedy` what to do."""

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(f"{message} {remedy}")
        self.message = message
        self.remedy = remedy


class LegSource(StrEnum):
    """Where the minutes of a leg come from, the surest first. Values fit `schedule.DayItem.source`."""

    MEASURED_BY_YOU = "own_minutes"
    LEARNED = "learned"
    ROAD = "road"
    ESTIMATE = "estimate"


LEG_SOURCE_WORDS = {
    LegSource.MEASURED_BY_YOU: "measured by you",
    LegSource.LEARNED: "learned",
    LegSource.ROAD: "road",
    LegSource.ESTIMATE: "estimate",
}


@dataclass(frozen=True, slots=True)
class Leg:
    """One drive: whole minutes at the wheel (rounded up; parking and packing are the building's), and how far.

    `miles` is in tenths, `meters` whole; both are None where nobody knows the distance, which only happens
    with a teacher's own minutes to a building without coordinates. `exact` is the minutes before rounding, where
    they were worked out.
    """

    minutes: int
    miles: Decimal | None
    meters: int | None
    source: LegSource
    exact: float | None = None

    def __post_init__(self) -> None:
        """Hold minutes and distance to what a drive can be."""
        if self.minutes < 0 or (self.meters is not None and self.meters < 0):
            raise ValueError("The minutes and meters of a drive can't be negative.")
        if (self.miles is None) != (self.meters is None):
            raise ValueError("A drive's miles and meters are known together or not at all.")

    @property
    def wheel_minutes(self) -> float:
        """Minutes at the wheel, as exactly as they are known."""
        return float(self.minutes) if self.exact is None else self.exact


def miles_of(meters: float) -> Decimal:
    """Meters as miles in tenths, halves rounded up."""
    return (Decimal(meters) / METERS_A_MILE).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def meters_of(miles: Decimal) -> int:
    """Miles as whole meters, halves rounded up."""
    return int((miles * METERS_A_MILE).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def whole_minutes(minutes: float) -> int:
    """Minutes rounded up: a plan that is a little too generous gets the teacher there."""
    # A billionth of a minute is float noise and not a reason for another minute.
    return max(0, math.ceil(minutes - 1e-9))

"""What a drive-time engine or estimator is asked for and what it answers. Knows no Django, reads no clock."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import Protocol

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


class DriveEstimator(Protocol):
    """Answers drive times between all pairs of some points."""

    def table(self, points: Sequence[Point]) -> tuple[tuple[Leg, ...], ...]:
        """Row i, column j: the drive from point i to point j. The diagonal is 0."""


@dataclass(frozen=True, slots=True)
class FarPoint:
    """A point that no road comes near: the nearest lies `meters` away, or there is none at all (``None``)."""

    index: int
    meters: int | None


@dataclass(frozen=True, slots=True)
class RoadAnswer:
    """What a road engine says about some points, by their indexes.

    `legs` holds a drive for each pair that has one. A pair that is missing has no route, unless one of its points
    is among `far`. No leg between two points is ever 0 minutes long.
    """

    legs: Mapping[tuple[int, int], Leg]
    far: tuple[FarPoint, ...] = ()


class RoadEngine(Protocol):
    """Answers drive times along roads."""

    def answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs. Raises `RoadError` if the engine can't be asked or speaks nonsense."""


# Farther from a road than this, a building's pin is wrong or the map doesn't reach it.
SNAP_LIMIT_METERS = 300


def road_leg(seconds: float, meters: float) -> Leg:
    """A drive between two different places. Raises `RoadError` for what isn't a duration or distance."""
    if not (math.isfinite(seconds) and math.isfinite(meters) and seconds >= 0 and meters >= 0):
        raise RoadError(
            f"The road engine gave a drive of {seconds} seconds and {meters} meters.",
            "Prepare the roads again, or check the server.",
        )
    # Two pins that touch the road at one spot still need the car moved.
    return Leg(
        minutes=max(1, whole_minutes(seconds / 60)),
        miles=miles_of(meters),
        meters=round(meters),
        source=LegSource.ROAD,
        exact=seconds / 60,
    )


def _require_size(matrix: Sequence[Sequence[float | None]], size: int) -> None:
    if len(matrix) != size or any(len(row) != size for row in matrix):
        raise RoadError(
            f"The road engine was asked for {size} buildings and its table has another size.",
            "Prepare the roads again, or check the server.",
        )


def _far_points(snapped: Sequence[float | None]) -> Iterator[FarPoint]:
    for index, meters in enumerate(snapped):
        if meters is None or meters > SNAP_LIMIT_METERS:
            yield FarPoint(index, None if meters is None else round(meters))


def road_answer(
    durations: Sequence[Sequence[float | None]],
    distances: Sequence[Sequence[float | None]],
    snapped: Sequence[float | None],
) -> RoadAnswer:
    """An answer from an engine's matrices: seconds, meters, and how far each point lies from its road (meters).

    Raises `RoadError` if rows or columns are missing.
    """
    for matrix in (durations, distances):
        _require_size(matrix, len(snapped))
    far = {point.index: point for point in _far_points(snapped)}
    legs = {
        (i, j): road_leg(seconds, meters)
        for i, (times, lengths) in enumerate(zip(durations, distances, strict=True))
        for j, (seconds, meters) in enumerate(zip(times, lengths, strict=True))
        if i != j and i not in far and j not in far and seconds is not None and meters is not None
    }
    return RoadAnswer(legs, tuple(far.values()))


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

"""What a road engine says about some points: drives that are made when they are asked for, and what is no drive.

An engine's numbers are held once, all together, against what a car can do. Numbers that no drive can have are
refused pair by pair; whoever asked uses another source for those and says so.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, permutations
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from travel.roads.base import METERS_A_MILE, Leg, LegSource, Point, RoadError, miles_of, whole_minutes

type Matrix = Sequence[Sequence[float | None]]
type Pair = tuple[int, int]

# Farther from a road than this, a building's pin is wrong or the map doesn't reach it.
SNAP_LIMIT_METERS = 300

FASTEST = 140 / 3.6
"""Meters a second: the most that the road engine's rules for a car give any road (140 km/h). The highest limit
posted in the United States is 85 miles an hour, 137 km/h (Texas State Highway 130; from memory)."""
SLOWEST = 9 * float(METERS_A_MILE) / 3600
"""Meters a second over a whole drive: the last mile in New York City takes 9 miles an hour, the slowest of the
United States (INRIX 2018)."""
WAITING_SECONDS = 1800
"""A ferry or a drawbridge may be waited for so long. Common practice, no source."""
LONGEST_DETOUR, DETOUR_METERS = 10, 100_000
"""A way is at most ten times the straight line and 100 km more, such as around a bay. Common practice, no
source."""
SPHERE_ERROR = 0.99
"""A sphere of the mean radius measures up to 0.6 % too much or too little."""
SPHERE_RADIUS = 6_371_008.8
SLACK_METERS, SLACK_SECONDS = 10, 1
"""Engines round to whole meters and tenths of seconds."""

CHECK = "Prepare the roads again, or check the server."


@dataclass(frozen=True, slots=True)
class FarPoint:
    """A point that no road comes near: the nearest lies `meters` away, or there is none at all (``None``)."""

    index: int
    meters: int | None


@dataclass(frozen=True, slots=True)
class RoadAnswer:
    """What a road engine says about some points, by their indexes.

    `legs` holds a drive for each pair that has one. A pair that is missing has no route, unless one of its points
    is among `far` or its numbers were `refused`. No leg between two points is ever 0 minutes long.
    """

    legs: Mapping[Pair, Leg]
    far: tuple[FarPoint, ...] = ()
    refused: tuple[Pair, ...] = ()


class RoadEngine(Protocol):
    """Answers drive times along roads."""

    def answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs. Raises `RoadError` if the engine can't be asked or speaks nonsense."""


class RoadLegs(Mapping[Pair, Leg]):
    """Drives by pair, each made when it is first asked for: a table of 150 has 22,350, and few are looked at."""

    def __init__(self, seconds: NDArray[np.float64], meters: NDArray[np.float64], there: NDArray[np.bool_]) -> None:
        self._seconds, self._meters, self._there = seconds, meters, there
        self._made: dict[Pair, Leg] = {}

    def __getitem__(self, pair: Pair) -> Leg:
        """The drive of a pair."""
        made = self._made.get(pair)
        if made is None:
            if pair not in self:
                raise KeyError(pair)
            made = self._made[pair] = road_leg(float(self._seconds[pair]), float(self._meters[pair]))
        return made

    def __contains__(self, pair: object) -> bool:
        """Whether a pair has one, without making it."""
        match pair:
            case (int(one), int(other)) if min(one, other) >= 0 and max(one, other) < len(self._there):
                return bool(self._there[one, other])
        return False

    def __iter__(self) -> Iterator[Pair]:
        """Every pair that has one."""
        return ((i, j) for i, j in np.argwhere(self._there).tolist())

    def __len__(self) -> int:
        """How many have one."""
        return int(np.count_nonzero(self._there))

    def absent(self) -> list[Pair]:
        """Every pair of two different points that has none."""
        return [(i, j) for i, j in np.argwhere(~self._there).tolist() if i != j]


def pairs_without(legs: Mapping[Pair, Leg], size: int) -> list[Pair]:
    """The pairs of so many points that have no drive."""
    if isinstance(legs, RoadLegs):
        return legs.absent()
    return [pair for pair in permutations(range(size), 2) if pair not in legs]


def road_leg(seconds: float, meters: float) -> Leg:
    """A drive between two different places. Raises `RoadError` for what isn't a duration or distance."""
    if not (math.isfinite(seconds) and math.isfinite(meters) and seconds >= 0 and meters >= 0):
        raise RoadError(f"The road engine gave a drive of {seconds} seconds and {meters} meters.", CHECK)
    # Two pins that touch the road at one spot still need the car moved.
    return Leg(
        minutes=max(1, whole_minutes(seconds / 60)),
        miles=miles_of(meters),
        meters=round(meters),
        source=LegSource.ROAD,
        exact=seconds / 60,
    )


def road_answer(
    points: Sequence[Point], durations: Matrix, distances: Matrix, snapped: Sequence[float | None]
) -> RoadAnswer:
    """An answer from an engine's matrices: seconds, meters, and how far each point lies from its road (meters).

    Raises `RoadError` if rows or columns are missing.
    """
    size = len(points)
    seconds, meters = _array(durations, size), _array(distances, size)
    # Between two pins at one spot of a road an engine may say -0.7 meters.
    meters[(meters < 0) & (meters >= -SLACK_METERS)] = 0
    far = tuple(_far_points(snapped))
    asked = ~np.eye(size, dtype=bool)
    for one in far:
        asked[one.index, :] = asked[:, one.index] = False
    asked &= ~(np.isnan(seconds) | np.isnan(meters))
    can_be = _can_be(points, seconds, meters)
    refused = tuple((i, j) for i, j in np.argwhere(asked & ~can_be).tolist())
    return RoadAnswer(RoadLegs(seconds, meters, asked & can_be), far, refused)


def _array(matrix: Matrix, size: int) -> NDArray[np.float64]:
    """A matrix of an engine; what is missing is not a number."""
    if len(matrix) != size or any(len(row) != size for row in matrix):
        raise RoadError(f"The road engine was asked for {size} buildings and its table has another size.", CHECK)
    try:
        return np.fromiter(chain.from_iterable(matrix), dtype=float, count=size * size).reshape(size, size)
    except TypeError:  # a pair without a route
        return np.array(list(chain.from_iterable(matrix)), dtype=float).reshape(size, size)


def _can_be(
    points: Sequence[Point], seconds: NDArray[np.float64], meters: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which pairs have numbers that a drive can have: as long as the straight line at least, as fast as a car."""
    straight = sphere_meters(points)
    least = SPHERE_ERROR * straight - 2 * SNAP_LIMIT_METERS
    most = LONGEST_DETOUR * straight + DETOUR_METERS
    quickest = (meters - SLACK_METERS) / FASTEST - SLACK_SECONDS
    slowest = meters / SLOWEST + WAITING_SECONDS
    with np.errstate(invalid="ignore"):
        length = (meters >= np.maximum(least, 0)) & (meters <= most)
        return length & (seconds >= np.maximum(quickest, 0)) & (seconds <= slowest)


def sphere_meters(points: Sequence[Point]) -> NDArray[np.float64]:
    """Straight lines between all points on a sphere (haversine): near enough to tell what can't be, and quick.

    Not to be written into: whoever asks again for the same points gets the same.
    """
    return _sphere_meters(tuple(points))


@lru_cache(maxsize=16)
def _sphere_meters(points: tuple[Point, ...]) -> NDArray[np.float64]:
    places = np.radians(np.array([(one.latitude, one.longitude) for one in points], dtype=float).reshape(-1, 2))
    latitude, longitude = places[:, 0], places[:, 1]
    up = np.sin((latitude[:, None] - latitude) / 2) ** 2
    across = np.sin((longitude[:, None] - longitude) / 2) ** 2 * np.cos(latitude)[:, None] * np.cos(latitude)
    meters: NDArray[np.float64] = 2 * SPHERE_RADIUS * np.arcsin(np.sqrt(np.minimum(up + across, 1)))
    meters.setflags(write=False)
    return meters


def _far_points(snapped: Sequence[float | None]) -> Iterator[FarPoint]:
    for index, meters in enumerate(snapped):
        if meters is None or not 0 <= meters <= SNAP_LIMIT_METERS:
            known = meters is not None and math.isfinite(meters) and meters >= 0
            yield FarPoint(index, round(meters) if known and meters is not None else None)

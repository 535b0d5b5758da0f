"""Drive times estimated from coordinates alone: geodesic distance, a detour factor and a speed.

`docs/drive-times.md` gives the source of every number below. Both factors are read from knots with straight
lines between, so that a building a few meters farther away never comes out as nearer or quicker.
"""

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache

from geopy.distance import geodesic

from travel.roads.base import METERS_A_MILE, Leg, LegSource, Point, miles_of, whole_minutes

type Knots = tuple[tuple[float, float], ...]

# Road over straight line, by straight-line meters. Between 1.2 (Newell 1980; O'Sullivan and Morrall 1996:
# 1.21-1.23) for long trips and 1.44 for the shortest (drives of 0.5 to 5 km in the Swiss Mobility and Transport
# Microcensus 2010: 1.436 in the mean); about 1.3 in the middle and falling with distance (Giacomin and Levinson
# 2015). Where the knots lie is an assumption of ours.
CIRCUITY: Knots = ((1_000, 1.44), (4_000, 1.35), (10_000, 1.30), (25_000, 1.25), (50_000, 1.20))

# Mean miles an hour over a whole drive, by road miles. Up to 3 miles: the slowest speeds that the Highway Capacity
# Manual 2000 (exhibit 15-2) still grades C, on downtown streets (class IV, 13), urban arterials (class III, 18) and
# suburban ones (class II, 22); which class rules which distance is an assumption of ours. 27.7 at 8.0 miles (BMC
# Health Services Research 2022) and 32.2 at 12.1 miles (Federal Highway Administration, Highway Statistics 2006,
# table NT-3) are published; the others are common practice without a source. Where sources leave a choice, the
# slower one counts: a class waits after a drive that took longer than planned, and nobody after a shorter one.
SPEED: Knots = ((1.0, 13.0), (2.0, 18.0), (3.0, 22.0), (8.0, 27.7), (12.1, 32.2), (25.0, 40.0), (50.0, 48.0))

# On country roads: the first and the last half mile through a village at the slowest speed graded C on a suburban
# street (class II, as above), and between them the slowest graded C on a two-lane highway of class I (Highway
# Capacity Manual 2000, exhibit 20-2: 46 to 50). Drivers were measured faster: 46.9, 47.0 and 49.7 miles an hour in
# the mean on the minor arterials and collector roads of the United States in 2007, 2009 and 2015 (National Highway
# Traffic Safety Administration, National Traffic Speeds Survey I to III). That a village takes half a mile is an
# assumption of ours.
VILLAGE_MILES, VILLAGE_SPEED, COUNTRY_SPEED = 1.0, 22.0, 46.0


@lru_cache(maxsize=1 << 17)
def straight_meters(one: Point, other: Point) -> float:
    """Length of the geodesic on the WGS84 ellipsoid, in meters (Karney 2013, through geopy)."""
    return float(geodesic((one.latitude, one.longitude), (other.latitude, other.longitude)).meters)


def between_knots(knots: Knots, at: float) -> float:
    """The value at a point: straight lines between the knots, level before the first and after the last."""
    place = bisect_right(knots, at, key=lambda knot: knot[0])
    if place == 0:
        return knots[0][1]
    if place == len(knots):
        return knots[-1][1]
    (left, low), (right, high) = knots[place - 1], knots[place]
    return low + (high - low) * (at - left) / (right - left)


def road_meters(straight: float) -> float:
    """Meters of road to expect for a straight-line distance in meters."""
    return straight * between_knots(CIRCUITY, straight)


def wheel_minutes(road: float, *, country: bool = False) -> float:
    """Minutes at the wheel (not rounded) to expect for meters of road, in a town or on country roads."""
    miles = road / float(METERS_A_MILE)
    if country:
        village = min(miles, VILLAGE_MILES)
        return 60 * (village / VILLAGE_SPEED + (miles - village) / COUNTRY_SPEED)
    return 60 * miles / between_knots(SPEED, miles)


def estimate_leg(straight: float, *, country: bool = False) -> Leg:
    """The drive between two places that lie so many meters apart in a straight line."""
    road = road_meters(straight)
    minutes = wheel_minutes(road, country=country)
    return Leg(
        minutes=whole_minutes(minutes),
        miles=miles_of(road),
        meters=round(road),
        source=LegSource.ESTIMATE,
        exact=minutes,
    )


class GeodesicEstimator:
    """Estimates that need no map and no network; the same in both directions."""

    def table(self, points: Sequence[Point]) -> tuple[tuple[Leg, ...], ...]:
        """Every pair of the points; each straight line is measured once."""
        here = estimate_leg(0)
        legs = {
            (i, j): estimate_leg(straight_meters(points[i], points[j]))
            for i in range(len(points))
            for j in range(i + 1, len(points))
        }
        return tuple(
            tuple(here if i == j else legs[min(i, j), max(i, j)] for j in range(len(points)))
            for i in range(len(points))
        )

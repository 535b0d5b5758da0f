"""Whether a building's coordinates are likely, given where the district's others stand. Pure.

A slip of the pen puts a school on another continent: latitude and longitude in each other's place, or a minus sign
left out. Nothing is corrected here: it is asked, by name, with what was probably meant.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product

from travel.roads.base import METERS_A_MILE, Point, PointError
from travel.roads.geodesic import straight_meters

FAR_MILES = 200
"""Common practice, no source: farther than four hours at the wheel, nobody drives there and back in a day."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A building that stands somewhere."""

    name: str
    point: Point


def _miles(one: Point, other: Point) -> float:
    return straight_meters(one, other) / float(METERS_A_MILE)


def _nearest(here: Point, others: Iterable[Placed]) -> tuple[float, Placed] | None:
    """How far the nearest of the others is."""
    found = [(_miles(here, other.point), other) for other in others]
    return min(found, key=lambda pair: pair[0], default=None)


def _is_near(one: Point, others: Iterable[Placed]) -> bool:
    """Whether another building is within a degree both ways: at most 98 miles, and nothing has to be measured."""
    return any(
        abs(one.latitude - other.point.latitude) < 1 and abs(one.longitude - other.point.longitude) < 1
        for other in others
    )


def place_question(one: Placed, others: Iterable[Placed]) -> str:
    """What to ask about a building's coordinates: how far off they are, and what was perhaps meant.

    Empty where they are likely, and where no other building stands anywhere.
    """
    known = list(others)
    nearest = None if _is_near(one.point, known) else _nearest(one.point, known)
    if nearest is None or nearest[0] <= FAR_MILES:
        return ""
    miles, other = nearest
    return f"{one.name} would lie {miles:,.0f} miles from {other.name}, the nearest building. {_meant(one, known)}"


def _meant(one: Placed, others: Iterable[Placed]) -> str:
    known = list(others)
    latitude, longitude = one.point.latitude, one.point.longitude
    found = [
        (distance[0], words, point)
        for words, point in _slips(latitude, longitude)
        if (distance := _nearest(point, known)) is not None and distance[0] <= FAR_MILES
    ]
    if not found:
        return "Check latitude and longitude."
    _, words, point = min(found, key=lambda slip: slip[0])
    return f"{words} Did you mean latitude {point.latitude:g} and longitude {point.longitude:g}?"


def _slips(latitude: float, longitude: float) -> Iterator[tuple[str, Point]]:
    """What may have been meant: swapped, a sign wrong, or both."""
    for swapped, south, west in product((False, True), (1, -1), (1, -1)):
        if (swapped, south, west) == (False, 1, 1):
            continue
        first, second = (longitude, latitude) if swapped else (latitude, longitude)
        try:
            point = Point(south * first, west * second)
        except PointError:
            continue
        what = "Latitude and longitude seem to be swapped" if swapped else "A minus sign seems to be wrong"
        both = ", and a minus sign wrong" if swapped and (south, west) != (1, 1) else ""
        yield f"{what}{both}.", point


def far_words(placed: Mapping[int, Placed]) -> tuple[str, ...]:
    """A sentence for each building that lies far from every other, by name; two that are far apart share one."""
    told: dict[frozenset[str], str] = {}
    for key, one in placed.items():
        if _is_near(one.point, (other for at, other in placed.items() if at != key)):
            continue
        nearest = _nearest(one.point, (other for at, other in placed.items() if at != key))
        if nearest is not None and nearest[0] > FAR_MILES:
            miles, other = nearest
            told.setdefault(
                frozenset((one.name, other.name)),
                f"{one.name} lies {miles:,.0f} miles from {other.name}, the nearest building here. Check the "
                "coordinates; nobody is planned to drive there.",
            )
    return tuple(told.values())

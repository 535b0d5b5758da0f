"""The order of buildings along the road."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import cos, hypot, radians

MILES_A_DEGREE = 69.0
"""Of latitude; a rough figure is enough to put lines in order."""

type Coordinates = tuple[float, float]


def miles_apart(one: Coordinates, other: Coordinates) -> float:
    """Straight distance of two places in degrees of latitude and longitude, on a flat map of the county."""
    north = other[0] - one[0]
    east = (other[1] - one[1]) * cos(radians((one[0] + other[0]) / 2))
    return hypot(north, east) * MILES_A_DEGREE


def road_order(places: Mapping[str, Coordinates]) -> list[tuple[str, float]]:
    """The places in an order that follows the road, each with its miles along it from the first.

    Of the nearest-neighbor chains from every place the shortest is taken, turned so that its northern end
    comes first.
    """
    if not places:
        return []
    order = min((_chain(start, places) for start in sorted(places)), key=lambda keys: _length(keys, places))
    if places[order[-1]][0] > places[order[0]][0]:
        order.reverse()
    along, result = 0.0, [(order[0], 0.0)]
    for before, after in pairwise(order):
        along += miles_apart(places[before], places[after])
        result.append((after, round(along, 2)))
    return result


def _chain(start: str, places: Mapping[str, Coordinates]) -> list[str]:
    order = [start]
    left = sorted(set(places) - {start})
    while left:
        here = places[order[-1]]
        nearest = min(left, key=lambda key: miles_apart(here, places[key]))
        order.append(nearest)
        left.remove(nearest)
    return order


def _length(keys: Sequence[str], places: Mapping[str, Coordinates]) -> float:
    return sum(miles_apart(places[one], places[other]) for one, other in pairwise(keys))

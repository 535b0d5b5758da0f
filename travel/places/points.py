"""Where a building stands, as road engines and maps take it."""

from travel.places.models import Building
from travel.roads.base import Point


def point_of(building: Building) -> Point | None:
    """Where a building stands, or None if its coordinates are not known."""
    if building.latitude is None or building.longitude is None:
        return None
    return Point(float(building.latitude), float(building.longitude))

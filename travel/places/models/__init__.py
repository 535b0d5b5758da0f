"""Tables of buildings and spaces."""

from travel.places.models.building import Building, BuildingStaff
from travel.places.models.space import Space

__all__ = ["Building", "BuildingStaff", "Space"]

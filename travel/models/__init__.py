"""Tables of the travel floor."""

from travel.models.building import Building, BuildingStaff
from travel.models.leg import OwnDriveTime
from travel.models.space import Space, SpaceKind

__all__ = ["Building", "BuildingStaff", "OwnDriveTime", "Space", "SpaceKind"]

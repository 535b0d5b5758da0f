"""Tables of the travel floor."""

from travel.models.building import Building, BuildingStaff
from travel.models.choices import FoundPlaces, TravelChoices
from travel.models.drives import DriveFactor, DriveLog
from travel.models.leg import OwnDriveTime
from travel.models.space import Space, SpaceKind

__all__ = [
    "Building",
    "BuildingStaff",
    "DriveFactor",
    "DriveLog",
    "FoundPlaces",
    "OwnDriveTime",
    "Space",
    "SpaceKind",
    "TravelChoices",
]

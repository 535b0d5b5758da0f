"""Tables of the travel floor."""

from travel.drives.models.drives import DriveFactor, DriveLog
from travel.drives.models.own import OwnDriveTime
from travel.mileage.models import (
    AccountCode,
    MileageRate,
    MileageSettings,
    TeacherHome,
    Trip,
    Voucher,
    VoucherAnswer,
    VoucherLine,
    VoucherStep,
)
from travel.places.models.building import Building, BuildingStaff
from travel.places.models.review import BuildingReview
from travel.places.models.space import Space, SpaceKind
from travel.roads.models import FoundPlaces, TravelChoices

__all__ = [
    "AccountCode",
    "Building",
    "BuildingReview",
    "BuildingStaff",
    "DriveFactor",
    "DriveLog",
    "FoundPlaces",
    "MileageRate",
    "MileageSettings",
    "OwnDriveTime",
    "Space",
    "SpaceKind",
    "TeacherHome",
    "TravelChoices",
    "Trip",
    "Voucher",
    "VoucherAnswer",
    "VoucherLine",
    "VoucherStep",
]

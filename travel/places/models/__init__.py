"""Tables of buildings and spaces."""

from travel.places.models.building import Building, BuildingStaff
from travel.places.models.review import BuildingReview, reviewed_at, reviewed_between, reviewed_on
from travel.places.models.space import Space

__all__ = ["Building", "BuildingReview", "BuildingStaff", "Space", "reviewed_at", "reviewed_between", "reviewed_on"]

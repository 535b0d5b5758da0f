"""Forms of the travel floor."""

from accounts.forms import RecordForm
from travel.places.models import Building, Space


class BuildingForm(RecordForm):
    """A building."""

    class Meta:
        model = Building
        fields = [
            "name",
            "code",
            "level",
            "address",
            "latitude",
            "longitude",
            "arrive_minutes",
            "leave_minutes",
            "office_phone",
            "office_contact",
            "parking",
            "door",
            "time_zone",
            "last_day",
        ]


class SpaceForm(RecordForm):
    """A space of a building."""

    class Meta:
        model = Space
        fields = ["name", "kind", "classes_that_fit", "first_day", "last_day"]

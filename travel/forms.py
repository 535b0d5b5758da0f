"""Forms of the travel floor."""

from accounts.forms import RecordForm
from travel.models import Building, OwnDriveTime, Space


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
            "time_zone",
        ]


class SpaceForm(RecordForm):
    """A space of a building."""

    class Meta:
        model = Space
        fields = ["name", "kind", "classes_that_fit"]


class OwnDriveTimeForm(RecordForm):
    """A teacher's own minutes between two buildings."""

    class Meta:
        model = OwnDriveTime
        fields = ["origin", "destination", "minutes", "miles", "both_ways"]
        labels = {"origin": "From", "destination": "To", "both_ways": "The way back takes as long"}
        help_texts = {"minutes": "At the wheel, from one car park to the other.", "both_ways": ""}

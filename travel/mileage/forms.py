"""Forms of mileage: a district's rules and rates, a teacher's home, trips."""

from accounts.forms import RecordForm
from travel.mileage.models import MileageRate, MileageSettings, TeacherHome, Trip


class MileageSettingsForm(RecordForm):
    """Which miles the district pays."""

    class Meta:
        model = MileageSettings
        fields = ["home_legs", "distance", "rounding"]
        labels = {
            "home_legs": "From home to the first stop, and from the last one home",
            "distance": "Which distance counts",
            "rounding": "How each line is rounded to the cent",
        }


class MileageRateForm(RecordForm):
    """A rate from a day on."""

    class Meta:
        model = MileageRate
        fields = ["first_day", "dollars", "source"]
        labels = {"dollars": "Dollars a mile", "source": "Where it comes from"}


class TeacherHomeForm(RecordForm):
    """Where a teacher's days begin."""

    class Meta:
        model = TeacherHome
        fields = ["regular_place", "commute_miles", "latitude", "longitude"]
        labels = {
            "regular_place": "Regular place of work",
            "commute_miles": "Normal commute in miles, one way",
            "latitude": "Home: latitude",
            "longitude": "Home: longitude",
        }


class TripForm(RecordForm):
    """A trip that was driven otherwise than planned."""

    class Meta:
        model = Trip
        fields = [
            "direct_miles",
            "driven_miles",
            "odometer_before",
            "odometer_after",
            "parking_and_tolls",
            "note",
        ]
        labels = {
            "odometer_before": "Odometer before",
            "odometer_after": "Odometer after",
            "parking_and_tolls": "Parking and tolls in dollars",
        }
        help_texts = {
            "driven_miles": "In total. Leave it empty if you read the odometer or the direct distance is enough."
        }


class TripAddForm(TripForm):
    """A trip that no week called for."""

    needed_sometimes = ("origin", "destination")

    class Meta(TripForm.Meta):
        fields = ["date", "origin", "destination", "round_trip", *TripForm.Meta.fields]
        labels = {
            **TripForm.Meta.labels,
            "date": "Day driven",
            "origin": "From",
            "destination": "To",
            "round_trip": "There and back",
        }
        help_texts = {
            **TripForm.Meta.help_texts,
            "date": "",
            "round_trip": "",
            "direct_miles": "In total. Leave it empty to take it from the table of drive times.",
        }

    def prepare(self) -> None:
        """An end without a building is home."""
        for name in ("origin", "destination"):
            self.fields[name].empty_label = "Home"  # type: ignore[attr-defined]  # a choice of rows has one
            self.fields[name].help_text = ""

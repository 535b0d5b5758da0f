"""Forms of mileage: a district's rules and rates, a teacher's home, trips."""

import datetime as dt
from typing import Any

from django import forms

from accounts.forms import RecordForm
from travel.mileage.chart import MilesSource
from travel.mileage.models import SINCE_EVER, AccountCode, MileageRate, MileageSettings, TeacherHome, Trip


class DatedForm(RecordForm):
    """What holds from a day on; without a day it has always been so."""

    def prepare(self) -> None:
        """Leave the day empty where nobody has said one."""
        field = self.fields["first_day"]
        field.required = False
        field.help_text = f"{field.help_text} Empty: it has always been so."
        if self.initial.get("first_day") == SINCE_EVER:
            self.initial["first_day"] = None

    def clean_first_day(self) -> dt.date:
        """The day, or the first of all."""
        day: dt.date | None = self.cleaned_data.get("first_day")
        return day or SINCE_EVER


class MileageSettingsForm(DatedForm):
    """Which miles the district pays from a day on; what is left out of the form stays as it is."""

    kept_if_empty = ("rounded_at", "share_percent", "most_day_miles")

    def prepare(self) -> None:
        super().prepare()
        for name in self.kept_if_empty:
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        """With what is as it was."""
        values = super().clean() or {}
        kept = {name: getattr(self.instance, name) for name in self.kept_if_empty if not values.get(name)}
        return {**values, **kept}

    class Meta:
        model = MileageSettings
        fields = [
            "first_day",
            "home_legs",
            "distance",
            "rounding",
            "rounded_at",
            "share_percent",
            "most_day_miles",
            "purpose",
            "account_code",
        ]
        labels = {
            "first_day": "From",
            "home_legs": "From home to the first stop, and from the last one home",
            "distance": "Which distance counts",
            "rounding": "How amounts are rounded to the cent",
            "rounded_at": "What is rounded",
            "share_percent": "Farther than the chart by, in percent",
            "most_day_miles": "Most miles in a day",
            "purpose": "Business purpose",
            "account_code": "Account code",
        }


class MileageRateForm(RecordForm):
    """A rate from a day on."""

    class Meta:
        model = MileageRate
        fields = ["first_day", "last_day", "dollars", "source"]
        labels = {
            "first_day": "First day",
            "last_day": "Last day",
            "dollars": "Dollars a mile",
            "source": "Where it comes from",
        }


class AccountCodeForm(DatedForm):
    """What one building's or one teacher's trips are booked to."""

    needed_sometimes = ("building", "teacher")

    class Meta:
        model = AccountCode
        fields = ["building", "teacher", "code", "first_day"]
        labels = {"building": "Trips to", "teacher": "Or trips of", "code": "Account code", "first_day": "From"}
        help_texts = {"building": "", "teacher": "A building's code goes before its driver's."}


class TeacherHomeForm(DatedForm):
    """Where a teacher's days begin from a day on."""

    class Meta:
        model = TeacherHome
        fields = ["first_day", "regular_places", "commute_miles", "latitude", "longitude"]
        widgets = {"regular_places": forms.CheckboxSelectMultiple}
        labels = {
            "first_day": "From",
            "regular_places": "Regular places of work",
            "commute_miles": "Normal commute in miles, one way",
            "latitude": "Home: latitude",
            "longitude": "Home: longitude",
        }
        help_texts = {
            "regular_places": "One or more: the way between them and home is commuting. A school where you expect "
            "to work for more than a year is one of them (IRS Publication 463, “Temporary work location”)."
        }


class TripForm(RecordForm):
    """A trip that was driven differently than planned."""

    class Meta:
        model = Trip
        fields = [
            "direct_miles",
            "driven_miles",
            "odometer_before",
            "odometer_after",
            "parking",
            "tolls",
            "purpose",
            "note",
        ]
        labels = {
            "purpose": "Business purpose",
            "odometer_before": "Odometer before",
            "odometer_after": "Odometer after",
            "parking": "Parking in dollars",
            "tolls": "Tolls in dollars",
        }
        help_texts = {
            "parking": "",
            "tolls": "",
            "direct_miles": "In total. Only where the chart of distances doesn't know the way.",
            "driven_miles": "In total. Leave it empty if you read the odometer or the direct distance is enough.",
        }

    def prepare(self) -> None:
        """Ask for direct miles only where the chart knows none."""
        if self.instance.direct_miles is not None and self.instance.direct_source != MilesSource.TYPED:
            del self.fields["direct_miles"]


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
            "direct_miles": "In total. Only where the chart of distances doesn't know the way.",
        }

    def prepare(self) -> None:
        """An end without a building is home."""
        for name in ("origin", "destination"):
            self.fields[name].empty_label = "Home"  # type: ignore[attr-defined]  # a choice of rows has one
            self.fields[name].help_text = ""

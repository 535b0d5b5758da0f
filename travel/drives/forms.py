"""Forms about drives."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from accounts.forms import RecordForm
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
from travel.roads.models import TravelChoices


class DriveFactorForm(RecordForm):
    """How much longer drives take in a window of the clock."""

    class Meta:
        model = DriveFactor
        fields = ["start", "end", "factor", "origin", "destination", "both_ways", "reason"]
        labels = {"start": "From (time)", "end": "Until (time)", "origin": "From (building)", "destination": "To"}
        help_texts = {"origin": "Leave both buildings empty for all drives."}


class TravelChoicesForm(RecordForm):
    """What the district decides about drive times."""

    class Meta:
        model = TravelChoices
        fields = ["drive_percentile", "use_roads", "roads_between", "look_up_addresses"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Where no roads are prepared, there are none to turn off; what nobody has said yet stays unsaid."""
        super().__init__(*args, **kwargs)
        if not self.instance.roads_key:
            del self.fields["use_roads"]
        choices = [("", "Nobody has said"), *TravelChoices.RoadsBetween.choices]
        self.fields["roads_between"] = forms.ChoiceField(
            label="Roads between the buildings",
            choices=choices,
            required=False,
            help_text="Only for drives that are estimated: ten miles take 20 minutes on streets of towns, 15 on "
            "country roads. What you choose is counted from now on, and you can change it back.",
        )


class DriveLogForm(RecordForm):
    """A drive by clock times, local to the buildings, or by the odometer, or both."""

    left = forms.TimeField(
        required=False, label="Left the parking lot", help_text="Local time at the building you left."
    )
    arrived = forms.TimeField(
        required=False, label="Arrived", help_text="Local time at the building you left, too."
    )

    class Meta:
        model = DriveLog
        fields = ["date", "origin", "destination", "left", "arrived", "odometer_before", "odometer_after", "note"]
        labels = {"origin": "From", "destination": "To", "odometer_before": "Odometer before", "note": "Note"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Show a drive's moments as clock times."""
        super().__init__(*args, **kwargs)
        row = self.instance
        if row.pk:
            zone = ZoneInfo(row.origin.zone)
            for name, at in (("left", row.started_at), ("arrived", row.arrived_at)):
                self.fields[name].initial = at.astimezone(zone).time().replace(second=0) if at else None

    def clean(self) -> dict[str, Any]:
        """Clock times as moments; those that were not changed keep their seconds."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        left, arrived = values.pop("left", None), values.pop("arrived", None)
        if "left" in self.changed_data or {"date", "origin"} & set(self.changed_data):
            values["started_at"] = self._moment(values, left)
        if "arrived" in self.changed_data or {"date", "origin"} & set(self.changed_data):
            values["arrived_at"] = self._moment(values, arrived)
        return values

    def _moment(self, values: dict[str, Any], time: dt.time | None) -> dt.datetime | None:
        date, origin = values.get("date"), values.get("origin")
        if time is None or date is None or origin is None:
            return None
        return dt.datetime.combine(date, time, tzinfo=ZoneInfo(origin.zone))


class OwnDriveTimeForm(RecordForm):
    """A teacher's own minutes between two buildings."""

    class Meta:
        model = OwnDriveTime
        fields = ["origin", "destination", "minutes", "miles", "both_ways"]
        labels = {"origin": "From", "destination": "To", "both_ways": "The way back takes as long"}
        help_texts = {"minutes": "Driving time, from one parking lot to the other.", "both_ways": ""}

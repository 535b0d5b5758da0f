"""The form of an aide's hours."""

from django import forms

from accounts.forms import RecordForm
from schedule.aides.models import AideHours


class AideHoursForm(RecordForm):
    """Hours from a day on; none for an aide who comes no more."""

    needed_sometimes = ("times",)

    class Meta:
        model = AideHours
        fields = ["first_day", "times"]
        widgets = {"times": forms.TextInput}

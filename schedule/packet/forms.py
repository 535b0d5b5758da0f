"""The form of a packet's days, and of a link to it."""

from django import forms

from accounts.fields import DateField
from accounts.forms import pickers_set


class PacketDaysForm(forms.Form):
    """Which days."""

    first = DateField(label="First day")
    last = DateField(label="Last day")

    def __init__(self, *args: object, **values: object) -> None:
        super().__init__(*args, **values)  # type: ignore[arg-type]  # Django's own
        pickers_set(self)


class PacketLinkForm(forms.Form):
    """A link to the packet of these days."""

    first_date = DateField(label="First day")
    last_date = DateField(label="Last day")
    label = forms.CharField(
        label="For whom", max_length=60, help_text="Such as “substitute on Friday”; no student's name."
    )

    def __init__(self, *args: object, **values: object) -> None:
        super().__init__(*args, **values)  # type: ignore[arg-type]  # Django's own
        pickers_set(self)

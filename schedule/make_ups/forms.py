"""What the make-ups' pages send."""

from calendar import day_name

from django import forms

from accounts.fields import DateField, id_read
from schedule.make_ups.selectors.slots import MOST_WEEKS, SlotChoice

WEEKDAYS = [("", "Any day"), *((str(number), name) for number, name in enumerate(day_name[:5]))]
MOST_TOGETHER = 30


class ServicesField(forms.CharField):
    """Ids of services in one field, with commas between."""

    widget = forms.HiddenInput

    def clean(self, value: object) -> tuple[int, ...]:
        """The ids. Raises `ValidationError` for what is no id."""
        parts = [part.strip() for part in str(super().clean(value)).split(",") if part.strip()]
        found = [id_read(part) for part in parts]
        if len(found) > MOST_TOGETHER or not all(found):
            raise forms.ValidationError("Choose the students from the make-ups again.")
        return tuple(one for one in found if one is not None)


class BookForm(forms.Form):
    """One slot of the list; `for` and `with` say which session it makes up, and with whom."""

    date = DateField()
    start = forms.TimeField()
    minutes = forms.IntegerField(min_value=1, max_value=480)
    makes_up_for = DateField(required=False)
    others = ServicesField(required=False)


class SlotsForm(forms.Form):
    """What slots are looked for."""

    until = DateField(
        label="Look until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), required=False
    )
    weekday = forms.TypedChoiceField(label="Day", choices=WEEKDAYS, coerce=int, empty_value=None, required=False)
    building = forms.CharField(required=False, max_length=40)
    makes_up_for = DateField(required=False, widget=forms.HiddenInput)
    others = ServicesField(required=False)

    @property
    def choice(self) -> SlotChoice:
        """What was asked for; nothing in particular where the form can't be read."""
        if not self.is_valid():
            return SlotChoice()
        asked = self.cleaned_data
        return SlotChoice(
            asked["makes_up_for"], asked["others"], asked["until"], asked["weekday"], asked["building"]
        )


class PlanAllForm(forms.Form):
    """How many weeks may hold make-ups."""

    weeks = forms.IntegerField(
        label="Weeks to place them in",
        min_value=1,
        max_value=MOST_WEEKS,
        initial=4,
        widget=forms.NumberInput(attrs={"class": "short"}),
    )

"""What the make-ups' pages send."""

from django import forms

from accounts.fields import DateField
from schedule.make_ups.selectors.slots import MOST_WEEKS


class BookForm(forms.Form):
    """One slot of the list."""

    date = DateField()
    start = forms.TimeField()
    minutes = forms.IntegerField(min_value=1, max_value=480)


class SlotsUntilForm(forms.Form):
    """How far to look."""

    until = DateField(
        label="Look until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), required=False
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

"""The form that asks for everybody's week."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from accounts.fields import DateField, RowsField
from accounts.models import Person
from schedule.weeks.aims import AIM_WORDS, Aim
from schedule.weeks.forms import DateInput

SEARCH = ((5, "5 seconds"), (10, "10 seconds"), (20, "20 seconds"), (60, "1 minute"))


class PlanEverybodyForm(forms.Form):
    """Which teachers, which week, how long, what comes first."""

    teachers = RowsField(Person.objects.none())
    monday = DateField(label="A date of the week", widget=DateInput)
    aim = forms.TypedChoiceField(
        label="What comes first",
        choices=[(aim.value, words) for aim, words in AIM_WORDS.items()],
        coerce=Aim,
        initial=Aim.USUAL_TIMES.value,
        widget=forms.RadioSelect,
    )
    time_limit = forms.TypedChoiceField(
        label="Search for each teacher",
        choices=SEARCH,
        coerce=int,
        initial=20,
        help_text="Seconds of work. The weeks come out the same however many workers share it.",
    )

    def __init__(self, *args: Any, teachers: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["teachers"] = RowsField(
            teachers, error_messages={"required": "Choose at least one teacher."}, label="Teachers"
        )

"""The form that asks for several teachers' weeks together."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from accounts.fields import DateField, RowsField
from accounts.models import Person
from schedule.weeks.aims import AIM_WORDS, Aim
from schedule.weeks.forms import DateInput

SEARCH = ((5, "5 seconds"), (10, "10 seconds"), (30, "30 seconds"))


class PlanTogetherForm(forms.Form):
    """Which teachers, which week, how long, what comes first."""

    teachers = RowsField(Person.objects.none(), widget=forms.CheckboxSelectMultiple)
    monday = DateField(label="A date of the week", widget=DateInput)
    time_limit = forms.TypedChoiceField(
        label="Search a week for at most",
        choices=SEARCH,
        coerce=int,
        initial=10,
        help_text="Each week is planned several times, at most 12 minutes for all together.",
    )
    aim = forms.TypedChoiceField(
        label="What comes first",
        choices=[(aim.value, words) for aim, words in AIM_WORDS.items()],
        coerce=Aim,
        initial=Aim.USUAL_TIMES.value,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, teachers: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["teachers"] = RowsField(
            teachers, widget=forms.CheckboxSelectMultiple, initial=self.initial.get("teachers")
        )

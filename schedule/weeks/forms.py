"""The form that asks for a plan."""

import datetime as dt
from typing import Any

from django import forms
from django.db.models import QuerySet

from accounts.fields import DateField
from accounts.models import Person
from schedule.weeks.aims import AIM_WORDS, Aim

MOST_WEEKS = 6

SEARCH = ((10, "10 seconds a week"), (20, "20 seconds a week"), (60, "1 minute a week"), (180, "3 minutes a week"))


class DateInput(forms.DateInput):
    """The browser's own date picker."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class PlanWeeksForm(forms.Form):
    """Which dates, how long to search, what comes first, and whether pinned sessions stay."""

    teacher = forms.ModelChoiceField(Person.objects.none(), empty_label=None)
    first_date = DateField(label="From", widget=DateInput)
    last_date = DateField(label="Until", widget=DateInput)
    time_limit = forms.TypedChoiceField(
        label="Search for at most",
        choices=SEARCH,
        coerce=int,
        initial=60,
        help_text=(
            "The first plan takes seconds. The search ends sooner if no better week exists, and takes up to three "
            "times as long on a busy machine."
        ),
    )
    aim = forms.TypedChoiceField(
        label="What comes first",
        choices=[(aim.value, words) for aim, words in AIM_WORDS.items()],
        coerce=Aim,
        initial=Aim.USUAL_TIMES.value,
        widget=forms.RadioSelect,
        help_text=(
            "Owed minutes and the wishes of your contract always come first. Then the planner moves as "
            "few sessions as it "
            "can from their usual day and time, or drives as little as it can. You see what the other choice would "
            "give."
        ),
    )
    keep_pins = forms.BooleanField(label="Leave pinned sessions where they are", required=False, initial=True)

    def __init__(self, *args: Any, teachers: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if teachers.count() == 1:
            del self.fields["teacher"]
        else:
            field = self.fields["teacher"]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = teachers

    def clean(self) -> dict[str, Any]:
        """Hold the two dates against each other."""
        values = super().clean() or {}
        first, last = values.get("first_date"), values.get("last_date")
        if first and last:
            if last < first:
                self.add_error("last_date", "The last date is before the first.")
            elif last - first > dt.timedelta(weeks=MOST_WEEKS):
                self.add_error("last_date", f"Plan at most {MOST_WEEKS} weeks at once.")
        return values

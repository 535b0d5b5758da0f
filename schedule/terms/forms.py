"""The form that asks for a term."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from accounts.fields import DateField
from accounts.models import Person
from caseload.ledger.defaults import MOST_USUAL_TIMES_WORTH
from schedule.terms.services.plans import MOST_WEEKS, USUAL_SECONDS
from schedule.weeks.forms import DateInput

WORTH = f"Give 0 to {MOST_USUAL_TIMES_WORTH} whole minutes of driving a week, or leave it empty."
SEARCH = ((30, "30 seconds"), (120, "2 minutes"), (300, "5 minutes"))


class PlanTermForm(forms.Form):
    """Which dates, what usual times are worth, how long to search."""

    teacher = forms.ModelChoiceField(Person.objects.none(), empty_label=None)
    first_date = DateField(label="From", widget=DateInput)
    last_date = DateField(
        label="Until", widget=DateInput, help_text=f"The end of the term; at most {MOST_WEEKS} weeks."
    )
    worth = forms.IntegerField(
        label="Keep usual times unless leaving them saves at least so many minutes of driving a week",
        min_value=0,
        max_value=MOST_USUAL_TIMES_WORTH,
        required=False,
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), WORTH),
        help_text=(
            "A large number keeps the routine: sessions move only where the calendar leaves no choice. A small "
            "one lets single weeks drive less. Owed minutes and your contract's wishes come first either way. "
            "Empty: as the district's rules of that time say."
        ),
    )
    afresh = forms.BooleanField(
        label="Plan a new timetable, whatever is in force",
        required=False,
        help_text="Otherwise the timetable in force is kept, and changed only where it has to be.",
    )
    time_limit = forms.TypedChoiceField(
        label="Search for at most",
        choices=SEARCH,
        coerce=int,
        initial=USUAL_SECONDS,
        help_text="A first timetable takes seconds. The search ends sooner if no better one exists.",
    )

    def __init__(self, *args: Any, teachers: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if teachers.count() == 1:
            del self.fields["teacher"]
        else:
            field = self.fields["teacher"]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = teachers

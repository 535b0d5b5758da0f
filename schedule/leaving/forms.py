"""The form of a teacher who leaves or is away."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.forms.models import ModelChoiceField

from accounts.fields import DateField, RowsField
from accounts.models import Person
from caseload.plans.enrollment.forms import student_with_building
from caseload.plans.models import Student
from schedule.weeks.forms import DateInput


class LeavingForm(forms.Form):
    """When, and who takes which students."""

    needed_sometimes = ("last_day", "students")
    first_day = DateField(
        widget=DateInput, label="First day away", help_text="Days before it stay with the teacher."
    )
    last_day = DateField(
        required=False,
        widget=DateInput,
        label="Last day away",
        help_text="The students go back on the day after. Empty: the teacher leaves for good.",
    )
    receiver = ModelChoiceField(Person.objects.none(), label="Who takes them")
    students = RowsField(
        Student.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Which students",
        help_text="None checked: everybody who is with the teacher on that day.",
    )

    def __init__(self, *args: Any, receivers: QuerySet[Person], students: QuerySet[Student], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        receiver, which = self.fields["receiver"], self.fields["students"]
        if isinstance(receiver, ModelChoiceField):
            receiver.queryset = receivers
        if isinstance(which, RowsField):
            which.queryset = students
            which.label_from_instance = student_with_building  # type: ignore[method-assign,assignment]  # Django's way to say it


class LastDayForm(forms.Form):
    """Another last day away, and what it would do once that was asked."""

    effects: Sequence[str] = ()
    effects_seen = ""
    last_day = DateField(widget=DateInput, label="Last day away")

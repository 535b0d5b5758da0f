"""Which accesses are asked for."""

from typing import Any

from django import forms
from django.forms.models import ModelChoiceField

from accounts.fields import DateField
from accounts.forms import pickers_set
from accounts.models import Person
from caseload.access.models import Access
from caseload.access.selectors import NO_ROLE
from caseload.plans.finding.forms import student_choice
from caseload.plans.models import Student


class AccessForm(forms.Form):
    """Who, about whom, what, in which role, and from when to when."""

    person = forms.ModelChoiceField(Person.objects.none(), label="By", required=False, empty_label="Everybody")
    student = forms.ModelChoiceField(
        Student.objects.none(), label="About", required=False, empty_label="All students"
    )
    kind = forms.ChoiceField(label="What", required=False, choices=[("", "Everything"), *Access.Kind.choices])
    role = forms.ChoiceField(
        label="In the role of",
        required=False,
        choices=[("", "Any"), *Person.Role.choices, (NO_ROLE, "None recorded")],
    )
    first = DateField(label="From")
    last = DateField(label="Until")

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        person = self.fields["person"]
        if isinstance(person, ModelChoiceField):
            person.queryset = Person.objects.filter(district=viewer.district)
        student_choice(self, viewer, Student.objects.visible_to(viewer))
        pickers_set(self)

"""Which accesses are asked for."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms.models import ModelChoiceField

from accounts.fields import DateField
from accounts.forms import pickers_set
from accounts.models import Person
from caseload.access.models import Access
from caseload.access.selectors import NO_ROLE
from caseload.plans.models import Student
from caseload.plans.names import student_names


class AboutStudentField(ModelChoiceField):  # type: ignore[type-arg]  # it takes no type at run time
    """Students by name."""

    names: Mapping[int, str] = {}

    def label_from_instance(self, obj: Student) -> str:
        """As the viewer may know them."""
        return self.names.get(obj.pk, obj.code)


class AccessForm(forms.Form):
    """Who, about whom, what, in which role, and from when to when."""

    person = forms.ModelChoiceField(Person.objects.none(), label="By", required=False, empty_label="Everybody")
    student = AboutStudentField(Student.objects.none(), label="About", required=False, empty_label="All students")
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
        person, student = self.fields["person"], self.fields["student"]
        if isinstance(person, ModelChoiceField):
            person.queryset = Person.objects.filter(district=viewer.district)
        if isinstance(student, AboutStudentField):
            student.names = student_names(viewer).listed
            student.queryset = Student.objects.visible_to(viewer)
        pickers_set(self)

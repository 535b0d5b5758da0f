"""Forms of posts and of questions who serves whom."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.forms.models import ModelChoiceField

from accounts.fields import DateField, RowsField
from accounts.forms import RecordForm
from accounts.models import Person
from caseload.plans.enrollment.forms import student_with_building
from caseload.plans.models import SchoolClass, Student
from schedule.assigning.models import AssigningRun, TeacherPost
from schedule.weeks.forms import DateInput
from travel.places.models import Building

SEARCH = ((1, "1 minute"), (3, "3 minutes"), (10, "10 minutes"))


class PostForm(RecordForm):
    """What a teacher is employed for from a day on."""

    class Meta:
        model = TeacherPost
        fields = ("first_day", "share", "base", "field", "not_at")
        widgets = {"not_at": forms.CheckboxSelectMultiple}


class AssigningForm(forms.Form):
    """What is asked, from when, of which teachers."""

    needed_sometimes = ("leaver", "last_day", "bases", "share", "classes", "moving_to")
    question = forms.ChoiceField(
        choices=AssigningRun.Question.choices,
        initial=AssigningRun.Question.WHO,
        widget=forms.RadioSelect,
        label="What to ask",
    )
    leaver = ModelChoiceField(
        Person.objects.none(),
        required=False,
        label="Who leaves or is away",
        help_text="The others take the students.",
    )
    last_day = DateField(
        required=False, widget=DateInput, label="Last day away", help_text="The students go back on the day after."
    )
    bases = RowsField(
        Building.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Where the new post might have its base",
        help_text="Each is tried by itself; the one with the least driving comes first.",
    )
    share = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=100,
        initial=100,
        label="Share of the new post",
        help_text="Percent of a full post.",
    )
    classes = RowsField(
        SchoolClass.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Which classes move",
        help_text="With all of their students.",
    )
    moving_to = ModelChoiceField(
        Building.objects.none(),
        required=False,
        label="Where they move",
        help_text="A building that is added is entered under Buildings first, with its place and bells.",
    )
    first_day = DateField(
        widget=DateInput, label="First day", help_text="From when students would be with their new teachers."
    )
    teachers = RowsField(Person.objects.none(), widget=forms.CheckboxSelectMultiple, label="Who takes part")
    staying = RowsField(
        Student.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Students who stay with their teacher",
        help_text="Whatever it costs in driving.",
    )
    minutes = forms.TypedChoiceField(label="Search for at most", choices=SEARCH, coerce=int, initial=3)

    def __init__(
        self,
        *args: Any,
        teachers: QuerySet[Person],
        students: QuerySet[Student],
        buildings: QuerySet[Building],
        classes: QuerySet[SchoolClass],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (
            ("leaver", teachers),
            ("teachers", teachers),
            ("staying", students),
            ("bases", buildings),
            ("classes", classes),
            ("moving_to", buildings),
        ):
            field = self.fields[name]
            if isinstance(field, ModelChoiceField):
                field.queryset = rows
        staying = self.fields["staying"]
        if isinstance(staying, ModelChoiceField):
            staying.label_from_instance = student_with_building  # type: ignore[method-assign,assignment]  # Django's way to say it
        moving = self.fields["classes"]
        if isinstance(moving, ModelChoiceField):
            moving.label_from_instance = _with_building  # type: ignore[method-assign,assignment]  # as above
            if not classes.exists():
                moving.help_text = "No class is entered yet. Add the classes under their building first."

    def clean_share(self) -> int:
        """A full post where nothing is said."""
        return self.cleaned_data["share"] or 100


def _with_building(row: Any) -> str:
    return f"{row.name} ({row.building})"

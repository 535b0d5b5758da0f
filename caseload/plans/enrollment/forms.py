"""Forms of enrollments: moving, leaving, correcting, programs elsewhere, handing a caseload over."""

from typing import Any

from django.forms import CheckboxSelectMultiple
from django.forms.models import ModelChoiceField

from accounts.fields import DateField, RowsField
from accounts.forms import RecordForm
from accounts.models import Person, held_ever
from caseload.plans.models import CaseloadAssignment, Enrollment, Student

PLACE = ("building", "home_class", "grade")


class _WithClasses(RecordForm):
    """Classes stand with their buildings: the list holds those of several."""

    def prepare(self) -> None:
        """Say of each class where it is."""
        field = self.fields.get("home_class")
        if isinstance(field, ModelChoiceField):
            field.label_from_instance = _with_building  # type: ignore[method-assign,assignment]  # Django's way to say it
            field.empty_label = "None"


def _with_building(row: Any) -> str:
    return f"{row.building}: {row}"


class MoveForm(_WithClasses):
    """Another school, class or grade from a day on."""

    from_day = DateField(label="From", help_text="The first day there. Days before it keep what held then.")

    class Meta:
        model = Enrollment
        fields = PLACE

    def prepare(self) -> None:
        """The day first."""
        super().prepare()
        self.order_fields(["from_day", *PLACE])


class LeaveForm(RecordForm):
    """A student's last day here."""

    class Meta:
        model = Enrollment
        fields = ("last_day",)
        labels = {"last_day": "Last day"}
        help_texts = {"last_day": "Empty: the student stays after all."}


class EnrollmentForm(_WithClasses):
    """What was always wrong in an enrollment, or a program elsewhere that the plan names."""

    class Meta:
        model = Enrollment
        fields = (*PLACE, "first_day", "last_day")


class HandOverForm(RecordForm):
    """Students and the services that a teacher provides, to another teacher from a day on."""

    giver = ModelChoiceField(Person.objects.none(), label="From", help_text="Whose caseload it is until then.")
    students = RowsField(
        Student.objects.all(),
        required=False,
        widget=CheckboxSelectMultiple,
        help_text="None checked: all of the first teacher's students.",
    )

    class Meta:
        model = CaseloadAssignment
        fields = ("teacher", "first_day")
        labels = {"teacher": "To", "first_day": "First day"}
        help_texts = {"first_day": "Days before it stay with the teacher before."}

    def prepare(self) -> None:
        """Who has left can still hand over; names stand for students."""
        self.fields["first_day"].required = True
        giver, students = self.fields["giver"], self.fields["students"]
        if isinstance(giver, ModelChoiceField):
            giver.queryset = Person.objects.filter(held_ever(Person.Role.TEACHER), district=self.viewer.district)
        if isinstance(students, ModelChoiceField):
            students.label_from_instance = _named  # type: ignore[method-assign,assignment]  # Django's way to say it
        self.order_fields(["giver", "teacher", "first_day", "students"])


def _named(row: Any) -> str:
    return f"{row.last_name}, {row.first_name} ({row.building})"

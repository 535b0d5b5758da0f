"""Forms of enrollments: moving, leaving, correcting, programs elsewhere, handing a caseload over."""

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.forms import CheckboxSelectMultiple
from django.forms.models import ModelChoiceField
from django.urls import reverse

from accounts.fields import DateField, RowsField, id_read
from accounts.forms import RecordForm
from accounts.models import Person, held_ever
from accounts.selectors import today_of
from caseload.plans.enrollment.selectors import students_to_hand_over
from caseload.plans.models import CaseloadAssignment, Enrollment, Student

PLACE = ("building", "home_class", "grade")

SHOW_STUDENTS = {
    "hx-trigger": "change",
    "hx-target": "#id_students",
    "hx-select": "#id_students",
    "hx-swap": "outerHTML",
}
"""Who is chosen there has other students to choose among; without scripts they come with what would change."""


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
        help_text="None checked: all of the first teacher's students. Once the teacher is chosen they stand here.",
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
            giver.widget.attrs |= SHOW_STUDENTS | {"hx-get": reverse("caseload_hand_over")}
        if isinstance(students, ModelChoiceField):
            students.label_from_instance = student_with_building  # type: ignore[method-assign,assignment]  # Django's way to say it
            students.queryset = self._offered(Student.objects.changeable_by(self.viewer))
        self.order_fields(["giver", "teacher", "first_day", "students"])

    def _offered(self, rows: QuerySet[Student]) -> QuerySet[Student]:
        """Those of the teacher who is chosen, today or on the first day: a district has thousands."""
        asked = id_read(str(self["giver"].value() or "")) or 0
        giver = Person.objects.filter(pk=asked, district=self.viewer.district)
        days = {today_of(self.viewer), self._first_day()}
        theirs = {one.pk for teacher in giver for day in days for one in students_to_hand_over(teacher, day)}
        return rows.filter(pk__in=theirs).select_related("building")

    def _first_day(self) -> dt.date:
        """What was typed, where it is a date."""
        try:
            day: dt.date = self.fields["first_day"].clean(self["first_day"].value())
        except ValidationError:
            return today_of(self.viewer)
        return day


def student_with_building(row: Any) -> str:
    """A student in a list to choose from: last name first, with the building."""
    return f"{row.last_name}, {row.first_name} ({row.building})"

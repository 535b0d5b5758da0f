"""Forms of routines, their parts, and the routine of a session."""

from typing import Any

from django import forms
from django.forms import CheckboxSelectMultiple
from django.forms.models import ModelChoiceField
from django.urls import reverse

from accounts.fields import RowsField, id_read
from accounts.forms import RecordForm, RowChoice
from accounts.selectors import today_of
from caseload.plans.names import student_names
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.needs import NeedsError, needs_read, needs_write
from schedule.class_hour.selectors.routines import goals_offered, known_equipment, offered_of
from schedule.equipment.models import Activity

SHOW_OF_TEACHER = {
    "hx-trigger": "change",
    "hx-target": "#id_students",
    "hx-select": "#id_students",
    "hx-select-oob": "#id_school_class",
    "hx-swap": "outerHTML",
}
"""Another teacher has other students and classes to choose among."""


class RoutineForm(RecordForm):
    """A routine without its parts."""

    class Meta:
        model = Routine
        fields = [
            "teacher",
            "name",
            "about",
            "variant",
            "school_class",
            "students",
            "attention_minutes",
            "on_shelf",
        ]
        widgets = {"students": CheckboxSelectMultiple}

    def prepare(self) -> None:
        """A teacher's are the teacher's own; a variant has the class of its original; names stand for students."""
        if self.viewer.is_teacher:
            del self.fields["teacher"]
        if self.instance.variant_of_id is None:
            del self.fields["variant"]
        else:
            del self.fields["school_class"], self.fields["students"]
            self.fields["variant"].required = True
        students, classes = self.fields.get("students"), self.fields.get("school_class")
        if isinstance(students, ModelChoiceField) and isinstance(classes, ModelChoiceField):
            self._offer(students, classes)

    def _offer(self, students: RowChoice, classes: RowChoice) -> None:
        """A teacher's own; of a district's thousands those of the teacher who is chosen."""
        if "teacher" in self.fields:
            self.fields["teacher"].widget.attrs |= SHOW_OF_TEACHER | {"hx-get": reverse("routine_new")}
            students.help_text = f"{students.help_text} Once the teacher is chosen they stand here."
            teacher = id_read(str(self["teacher"].value() or ""))
            students.queryset, classes.queryset = offered_of(self.viewer, self.instance, teacher)
        shown = students.queryset.values_list("pk", flat=True) if students.queryset is not None else ()
        names = student_names(self.viewer, among=shown)
        students.label_from_instance = lambda row: names.listed.get(row.pk, row.code)  # type: ignore[method-assign,assignment]  # Django's way to say it
        classes.label_from_instance = lambda row: f"{row.name}, {row.building}"  # type: ignore[method-assign,assignment]  # likewise


class PartForm(RecordForm):
    """A part of a routine; what it takes is written as a teacher writes it."""

    needs = forms.CharField(
        label="Equipment",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Such as 12 poly spots, 1 parachute. Names as they stand under Equipment.",
    )

    class Meta:
        model = RoutinePart
        fields = [
            "kind", "title", "activity", "what", "cue", "minutes", "least_minutes", "when_short", "where", "leads",
            "aide_notes", "set_up", "set_up_by", "is_known", "is_far_apart",
        ]  # fmt: skip

    def _offer_goals(self) -> None:
        """Those of the students who have the routine, and those chosen already; called by student and text."""
        rows = goals_offered(self.viewer, self.instance, today_of(self.viewer))
        names = student_names(self.viewer)
        field = RowsField(
            queryset=rows, required=False, widget=CheckboxSelectMultiple, label="Goals that it serves",
            help_text="While this part runs, data are offered on these.",
        )  # fmt: skip
        field.label_from_instance = lambda row: f"{names.listed.get(row.student_id, row.student.code)}: {row.text}"  # type: ignore[method-assign,assignment]  # Django's way to say it
        self.fields["goals"] = field
        if self.instance.pk:
            self.initial["goals"] = list(rows.filter(routine_parts=self.instance).values_list("pk", flat=True))

    def prepare(self) -> None:
        """Show what it takes now; offer the activities in use, and the one that it has."""
        self._offer_goals()
        if self.instance.pk:
            rows = self.instance.needs.select_related("equipment")
            self.initial.setdefault("needs", needs_write((row.equipment.name, row.count) for row in rows))
        activity = self.fields["activity"]
        if isinstance(activity, ModelChoiceField):
            activity.queryset = Activity.objects.visible_to(self.viewer).in_use() | Activity.objects.filter(
                pk=self.instance.activity_id
            )
        self.order_fields(
            ["kind", "title", "activity", "what", "cue", "minutes", "least_minutes", "when_short", "needs", "goals"]
        )

    def clean_needs(self) -> dict[int, int]:
        """Counts by equipment."""
        try:
            return needs_read(self.cleaned_data["needs"], known_equipment(self.viewer))
        except NeedsError as error:
            raise forms.ValidationError(str(error), code="unknown_equipment") from error


class ChoiceForm(forms.Form):
    """The routine of one session: an id, none, or the usual one."""

    routine = forms.ChoiceField()

    def __init__(self, *args: Any, options: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["routine"] = forms.ChoiceField(choices=options, label="Routine for this session")


class TryMinutesForm(forms.Form):
    """In how many minutes a routine is to be tried."""

    minutes = forms.IntegerField(min_value=1, max_value=240, required=False, label="Minutes")


class VariantForm(forms.Form):
    """What is different in a new variant."""

    variant = forms.CharField(max_length=40, label="What is different")

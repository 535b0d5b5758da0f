"""Forms of goals, their ends, phase changes and rules, and of data points."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from accounts.fields import form_field_of
from accounts.forms import RecordForm
from caseload.progress.models import DataPoint, GoalRules, PhaseChange, StudentGoal
from caseload.progress.reading import goal_readings
from caseload.progress.words import reading_words

OF_MEASURE = ("trials", "distance_unit", "levels")


class GoalForm(RecordForm):
    """A goal: its text is read, and whatever is filled in beside it counts instead."""

    reading = forms.ChoiceField(
        required=False, label="It can mean", help_text="Choose what the plan means.", widget=forms.RadioSelect
    )
    needed_sometimes = OF_MEASURE

    class Meta:
        model = StudentGoal
        fields = [
            "text",
            "start",
            "end",
            "parent",
            "baseline",
            "measure",
            "wanted",
            "criterion",
            "trials",
            "distance_unit",
            "levels",
            "sessions",
            "sessions_of",
            "condition",
            "position",
        ]
        labels = {
            "text": "Goal",
            "parent": "Objective under",
            "start": "First day",
            "end": "To be reached by",
            "measure": "How it is measured",
            "wanted": "What is wanted",
            "trials": "Of how many trials",
            "distance_unit": "Measured in",
            "levels": "Levels",
            "sessions": "In how many sessions",
            "sessions_of": "Of how many sessions",
            "position": "Place in the list",
        }
        help_texts = {
            "measure": "What one data point is.",
            "criterion": "What the goal asks for.",
            "condition": "Such as “with a verbal cue”.",
        }

    def prepare(self) -> None:
        """Of a new goal the text says what is measured; a known goal shows what was read."""
        self.fields["measure"].choices = [("", "As the text says"), *StudentGoal.Measure.choices]  # type: ignore[attr-defined]  # a choice field
        student = getattr(self.instance, "student", None)
        parents = StudentGoal.objects.filter(student=student, parent=None).exclude(pk=self.instance.pk)
        self.fields["parent"].queryset = parents  # type: ignore[attr-defined]  # a choice of rows
        self.fields["parent"].label_from_instance = lambda row: row.text[:80]  # type: ignore[attr-defined]
        self.fields["parent"].empty_label = "None: a goal of its own"  # type: ignore[attr-defined]
        if not parents.exists():
            del self.fields["parent"]
        for name in ("wanted", "position"):
            self.fields[name].required = False
        if not self.instance.pk:
            del self.fields["position"]
        self._offer_readings()
        self.order_fields(["text", "reading"])

    def _offer_readings(self) -> None:
        """Where the text that was typed can mean two things."""
        told = self.data if self.is_bound else {"text": self.instance.text, "measure": self.instance.measure}
        found = () if told.get("measure") else goal_readings(str(told.get("text") or ""))
        if len(found) < 2:
            del self.fields["reading"]
            return
        words = [reading_words(one) for one in found]
        self.fields["reading"].choices = [(one, one) for one in words]  # type: ignore[attr-defined]  # a choice field

    def clean(self) -> dict[str, Any]:
        """Ask which is meant; figures that nobody filled in are the text's to say."""
        values: dict[str, Any] = super().clean() or {}
        if "reading" in self.fields and not values.get("reading") and "reading" not in self.errors:
            raise ValidationError({"reading": "This goal can mean two things. Choose one."})
        reads = not self.instance.pk and not values.get("measure")
        left_out = [name for name, value in values.items() if self._is_left_out(name, value, reads=reads)]
        return {name: value for name, value in values.items() if name not in left_out}

    def _is_left_out(self, name: str, value: Any, *, reads: bool) -> bool:
        """Whether a field says nothing: of a new goal that is read, every empty one and which way is wanted."""
        if value not in (None, ""):
            return reads and name == "wanted"
        return reads or name in {"wanted", "position"}


class GoalEndForm(RecordForm):
    """When a goal ended, and why."""

    class Meta:
        model = StudentGoal
        fields = ["ended_on", "ended_why"]
        labels = {"ended_on": "Last day for data", "ended_why": "Why"}


class PhaseChangeForm(RecordForm):
    """What changed, and from which day."""

    class Meta:
        model = PhaseChange
        fields = ["day", "words"]
        labels = {"day": "First day", "words": "What changed"}


class GoalRulesForm(RecordForm):
    """The district's rules for goals from a day on."""

    class Meta:
        model = GoalRules
        fields = ["first_day", "decision_rule", "days_without_data"]


class DataForm(forms.ModelForm):  # type: ignore[type-arg]  # Django's ModelForm takes no type at run time
    """One data point as a plain form sends it; a service decides whether it can be kept."""

    class Meta:
        model = DataPoint
        fields = ["client_id", "day", "session_uid", "value", "tried", "marks", "taken_by_name", "note"]
        formfield_callback = form_field_of

    def _post_clean(self) -> None:
        """Validate nothing here: the service holds the whole point."""

"""Forms of the delivery log: they read what was typed, the services decide."""

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.forms import BaseFormSet, formset_factory

from accounts.dates import short_date_words
from accounts.fields import DateField, IdField, form_field_of
from accounts.forms import RecordForm, pickers_set
from accounts.models import Person
from caseload.delivery.models import CompensatoryTime, LedgerSettings, MissedReason, TeamDecision
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from travel.mileage.forms import DatedForm
from travel.places.models import Building

AS_PLANNED = "As planned"


class ClientIdForm(forms.Form):
    """A form whose sending has an id, so that a second press of the button stores nothing twice."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)

    needed_sometimes: tuple[str, ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)

    def refuse(self, error: ValidationError) -> None:
        """Put what a service found wrong at the fields; what has no field here stands at the top."""
        errors = error.error_dict if hasattr(error, "error_dict") else {"": error.error_list}
        for name, texts in errors.items():
            self.add_error(name if name in self.fields else None, list(texts))


def reason_choices(reasons: Iterable[MissedReason], empty: str) -> list[tuple[str, str]]:
    """The district's reasons by code."""
    return [("", empty), *((one.code, one.words) for one in reasons)]


class OutcomeFields(forms.Form):
    """What happened to one student's service."""

    reason = forms.ChoiceField(label="What happened", required=False)
    delivered_minutes = forms.IntegerField(
        label="Minutes delivered",
        required=False,
        min_value=0,
        max_value=480,
        widget=forms.NumberInput(attrs={"class": "short", "inputmode": "numeric"}),
    )
    note = forms.CharField(
        required=False, max_length=1000, widget=forms.Textarea, help_text="Seen only with the student's record."
    )

    needed_sometimes: tuple[str, ...] = ("reason", "delivered_minutes")

    def __init__(self, *args: Any, reasons: Sequence[MissedReason], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["reason"]
        if isinstance(field, forms.ChoiceField):
            field.choices = reason_choices(reasons, AS_PLANNED)
        pickers_set(self)

    @property
    def outcome(self) -> Outcome:
        """What was told, once the form is valid."""
        values = self.cleaned_data
        told = values.get("given_by"), values.get("given_under")
        return Outcome(values["delivered_minutes"], values["reason"], values["note"], *told)


class GivenFields(forms.Form):
    """Who gave a session, if not the provider."""

    given_by = forms.CharField(
        label="Given by",
        required=False,
        max_length=120,
        help_text="A substitute or an assistant. Empty: the provider.",
    )
    given_under = forms.CharField(
        label="Under", required=False, max_length=120, help_text="Under whom an assistant gave it."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)


class StudentOutcomeForm(OutcomeFields):
    """The same within a whole class; `line` is the service."""

    line = IdField(widget=forms.HiddenInput)


StudentOutcomes = formset_factory(StudentOutcomeForm, extra=0)
type OutcomeSet = BaseFormSet[StudentOutcomeForm]


class CorrectionForm(ClientIdForm, GivenFields, OutcomeFields):
    """What happened after all, or that the entry was a mistake."""

    withdraw = forms.BooleanField(
        label="This was logged by mistake: take the log back, so that the session waits to be logged again",
        required=False,
    )
    expected_revision = forms.IntegerField(widget=forms.HiddenInput)

    field_order = ("reason", "delivered_minutes", "note", "given_by", "given_under", "withdraw")
    needed_sometimes: tuple[str, ...] = ("reason", "delivered_minutes")


class DecisionForm(forms.ModelForm):  # type: ignore[type-arg]  # Django's ModelForm takes no type at run time
    """What the plan's team decided."""

    expected_revision = forms.IntegerField(widget=forms.HiddenInput)

    needed_sometimes: tuple[str, ...] = ()

    class Meta:
        model = TeamDecision
        formfield_callback = form_field_of
        fields = ("effect", "decided_by", "decided_on", "note")
        labels = {"effect": "The missed minutes are", "decided_by": "Decided by", "decided_on": "Decided on"}
        widgets = {"effect": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        effect = self.fields["effect"]
        if isinstance(effect, forms.ChoiceField):
            effect.choices = TeamDecision.Effect.choices
        pickers_set(self)

    def _post_clean(self) -> None:
        """Validate nothing here: the service holds the whole row."""

    def refuse(self, error: ValidationError) -> None:
        """Put what a service found wrong at the fields."""
        for name, texts in error.error_dict.items():
            self.add_error(name if name in self.fields else None, list(texts))


class DayMarkForm(ClientIdForm):
    """The press that logs what falls out on a day: a teacher's, a building's, or the teacher's in that building."""

    date = DateField()
    teacher = forms.ModelChoiceField(Person.objects.none(), required=False)
    building = forms.ModelChoiceField(Building.objects.none(), required=False)

    def __init__(
        self, *args: Any, teachers: QuerySet[Person], buildings: QuerySet[Building], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (("teacher", teachers), ("building", buildings)):
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = rows


class LineChoiceField(forms.ModelChoiceField):  # type: ignore[type-arg]  # takes no type at run time
    """A service by what the plan says, where and when."""

    def label_from_instance(self, obj: ServiceLine) -> str:
        """Statement, setting and dates."""
        return (
            f"{obj.statement}, {obj.get_setting_display().lower()} ({short_date_words(obj.start)} to "
            f"{short_date_words(obj.end)})"
        )


class CompensatoryTimeForm(RecordForm):
    """What a student's team decided to give."""

    class Meta:
        model = CompensatoryTime
        fields = ("minutes", "decided_by", "decided_on", "until", "note")
        labels = {"decided_by": "Decided by", "decided_on": "Decided on", "until": "To be given by"}
        help_texts = {"until": ""}


class CompensatoryChoiceField(forms.ModelChoiceField):  # type: ignore[type-arg]  # takes no type at run time
    """Compensatory time by its minutes and the day of the decision."""


class MinutesForm(ClientIdForm, GivenFields):
    """Minutes that no session of a published week was planned for."""

    service_line = LineChoiceField(ServiceLine.objects.none(), label="Service", empty_label=None)
    date = DateField()
    start = forms.TimeField(label="Began at", required=False)
    delivered_minutes = forms.IntegerField(
        label="Minutes delivered",
        min_value=1,
        max_value=480,
        widget=forms.NumberInput(attrs={"class": "short", "inputmode": "numeric"}),
    )
    makes_up = forms.BooleanField(label="This was a make-up for minutes owed before", required=False, initial=True)
    makes_up_for = DateField(
        label="Day of the session that it makes up",
        required=False,
        help_text="Empty: the minutes go to the oldest that are owed.",
    )
    compensatory = CompensatoryChoiceField(
        CompensatoryTime.objects.none(),
        label="Gives compensatory time",
        required=False,
        empty_label="No, minutes of the service",
        help_text="Minutes that the team decided on count in their own account, and for no service.",
    )
    confirmed = forms.BooleanField(required=False, widget=forms.HiddenInput)
    note = forms.CharField(
        required=False, max_length=1000, widget=forms.Textarea, help_text="Seen only with the student's record."
    )

    def __init__(
        self,
        *args: Any,
        lines: QuerySet[ServiceLine],
        times: QuerySet[CompensatoryTime],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        compensatory = self.fields["compensatory"]
        if isinstance(compensatory, forms.ModelChoiceField):
            compensatory.queryset = times
        if not times.exists():
            del self.fields["compensatory"]
        field = self.fields["service_line"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = lines

    def clean_makes_up_for(self) -> dt.date | None:
        """Only a make-up is for another day."""
        day: dt.date | None = self.cleaned_data["makes_up_for"]
        return day if self.cleaned_data.get("makes_up") else None

    def ask(self, question: str) -> None:
        """Show a question in place of saving; sent once more, with its box ticked, it is answered."""
        field = self.fields["confirmed"]
        field.widget, field.label = forms.CheckboxInput(), "Yes, log them as well"
        self.add_error("confirmed", question)


class LedgerSettingsForm(DatedForm):
    """The district's rules from a day on."""

    class Meta:
        model = LedgerSettings
        fields = (
            "first_day",
            "short_week",
            "carry_ahead",
            "counts_from",
            "least_minutes",
            "backdating_days",
            "make_up_days",
            "under_required",
            "usual_times_worth",
        )
        labels = {
            "first_day": "From",
            "short_week": "A week with closed days owes",
            "carry_ahead": "Minutes above what a period owes count for other periods",
            "counts_from": "Count minutes from",
            "least_minutes": "Minutes of the shortest session",
            "backdating_days": "Most days back that a session can be logged or corrected",
            "make_up_days": "Days within which missed minutes should be made up",
            "under_required": "A session given by somebody else says under whom",
            "usual_times_worth": "Keep usual times unless leaving them saves so many minutes of driving a week",
        }
        help_texts = {
            "carry_ahead": "",
            "make_up_days": "",
            "under_required": "A substitute's or an assistant's, from this day on.",
        }
        widgets = {"short_week": forms.RadioSelect}


class ReasonForm(forms.Form):
    """One row of the table of reasons."""

    code = forms.CharField(widget=forms.HiddenInput, required=False)
    words = forms.CharField(max_length=80)
    effect = forms.ChoiceField(choices=MissedReason.Effect.choices)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)


class ReasonsFromForm(forms.Form):
    """From which day on what was changed in the table holds."""

    first_day = DateField(
        label="From",
        required=False,
        help_text="The first day of sessions for which what you change here holds. Empty: it has always been so.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)


class NewReasonForm(RecordForm):
    """A reason of the district's own."""

    class Meta:
        model = MissedReason
        fields = ("words", "code", "effect", "position")


Reasons = formset_factory(ReasonForm, extra=0)

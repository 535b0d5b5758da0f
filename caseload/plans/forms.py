"""Forms of the caseload floor."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.forms.models import ModelChoiceField
from django.http import QueryDict

from accounts.dates import date_words, span_words
from accounts.fields import DateField
from accounts.forms import RecordForm, choice_of_names
from accounts.selectors import today_of
from caseload.plans.frequency import EXAMPLES
from caseload.plans.hooks import period_names
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, StudentHold, enrollments_of, stays_of
from caseload.plans.services import statement_values
from travel.places.models import Building

STATEMENT_HINT = f"As the plan writes it: {', '.join(EXAMPLES[:3])}."


def _with_building(row: Any) -> str:
    """A class or a space with its building, where several buildings are in one list."""
    return f"{row.building}: {row}"


class _Pressed(forms.HiddenInput):
    """What a button of that name says, which stands before it in the form; else what it was rendered with."""

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> str:
        """The first that says something."""
        said = data.getlist(name) if isinstance(data, QueryDict) else [data.get(name)]
        return next((str(one) for one in said if one), "")


class StatementForm(RecordForm):
    """A form with a statement: `reading` is the one that was chosen where it can mean two things."""

    reading = forms.CharField(required=False, max_length=120, widget=_Pressed)

    def read_now(self, day: Any, row: ServiceLine | None = None) -> str:
        """Said together with what else is wrong in the form; the service reads it again."""
        text = str(self.cleaned_data["statement"])
        wanted = str(self["reading"].data or "")
        read = statement_values(text, district=self.viewer.district, day=day, wanted=wanted, row=row)
        return str(read["statement"])

    @property
    def readings(self) -> list[dict[str, str]]:
        """The readings to choose from, where the statement has two."""
        errors = self.errors.as_data().get("statement", []) if self.is_bound else []
        asked = [error.params["readings"] for error in errors if error.params and "readings" in error.params]
        return asked[0] if asked else []


class StudentForm(RecordForm):
    """A student; of a known one school, class, grade and caseload teacher change from a day on."""

    from_day = DateField(
        label="From",
        required=False,
        help_text="From which day another school, class, grade or caseload teacher holds. Days before it keep "
        "theirs. Empty: today; for another school a day is needed.",
    )
    needed_sometimes = ("from_day",)

    class Meta:
        model = Student
        fields = [
            "first_name",
            "last_name",
            "code",
            "grade",
            "building",
            "home_class",
            "caseload_teacher",
            "first_day",
            "last_day",
        ]

    def prepare(self) -> None:
        """Only a coordinator gives a caseload to someone else."""
        home_class = self.fields.get("home_class")
        if isinstance(home_class, ModelChoiceField):
            home_class.label_from_instance = _with_building  # type: ignore[method-assign,assignment]  # Django's way to say it
            home_class.empty_label = "None"
        if self.viewer.is_teacher:
            self.fields.pop("caseload_teacher", None)
        if self.instance.pk is None:
            self.fields.pop("from_day", None)
        else:
            self.order_fields([*self.Meta.fields[:7], "from_day"])


class StudentWithoutPlanForm(StatementForm, StudentForm):
    """A student who came before the plan did: the least that a week can be planned with."""

    statement = forms.CharField(label="Service until the plan arrives", max_length=120, help_text=STATEMENT_HINT)
    setting = forms.ChoiceField(choices=ServiceLine.Setting, initial=ServiceLine.Setting.ONE_TO_ONE)
    plan_end = DateField(
        label="Until", required=False, help_text="If empty, the end of June. It ends when the plan arrives."
    )

    class Meta(StudentForm.Meta):
        fields = [
            "first_name",
            "last_name",
            "code",
            "grade",
            "building",
            "home_class",
            "caseload_teacher",
            "first_day",
        ]

    def prepare(self) -> None:
        """The first day says from when the service is given; a push-in needs more than this form asks."""
        super().prepare()
        self.fields["first_day"].required = True
        self.fields["first_day"].help_text = ""
        self.fields["setting"].choices = [  # type: ignore[attr-defined]  # it is the ChoiceField above
            choice for choice in ServiceLine.Setting.choices if choice[0] != ServiceLine.Setting.PUSH_IN
        ]

    def clean_statement(self) -> str:
        """It can be read."""
        return self.read_now(self.cleaned_data.get("first_day"))


class PlanForm(RecordForm):
    """A plan."""

    class Meta:
        model = Plan
        fields = ["start", "end", "annual_review", "note"]


ELSEWHERE_HINT = (
    "Such as the pool of the high school or a gym across the street: you drive there, the students come from their "
    "school. In water and on unfamiliar ground people get hurt: the student's plan, the physician or the school "
    "nurse, local rules and the lifeguards decide who goes and how."
)


class ServiceLineForm(StatementForm):
    """What a plan owes."""

    needed_sometimes = ("pushed_into", "way_minutes")

    class Meta:
        model = ServiceLine
        fields = [
            "statement",
            "service_type",
            "setting",
            "building",
            "pushed_into",
            "largest_group",
            "provider",
            "start",
            "end",
            "extended_year",
            "days_apart",
            "allowed_spaces",
            "held_in",
            "way_minutes",
        ]
        labels = {
            "statement": "How often and how long",
            "building": "Given at",
            "days_apart": "Days apart",
            "held_in": "Held in another building",
            "way_minutes": "Students need this many minutes to get there",
        }
        help_texts = {
            "statement": STATEMENT_HINT,
            "held_in": ELSEWHERE_HINT,
            "way_minutes": "And as many to get back: they are out of class for both. 0 for none.",
            "days_apart": "0: may meet twice a day. 1: on different days. 2: every other day at most.",
        }
        widgets = {"allowed_spaces": forms.CheckboxSelectMultiple}

    def prepare(self) -> None:
        """Spaces and classes of the student's buildings; without dates, the plan's."""
        self._places_offered()
        self.fields["way_minutes"].required = False
        for name in {"start", "end"} & set(self.fields):
            self.fields[name].required = False
            self.fields[name].help_text = f"If empty, the plan's: {date_words(getattr(self.instance.plan, name))}."
        if self.instance.pk:
            self.fields["statement"].help_text = f"Read as {self.instance.read_as}. {STATEMENT_HINT}"
        self.fields["provider"].required = False
        self.fields["provider"].help_text = "If empty, the caseload teacher."

    def _places_offered(self) -> None:
        """Where the student is, was or will be; which of these is asked only where there are several."""
        places = {stay.building_id for stay in stays_of(self.instance.plan.student)}
        for name in ("pushed_into", "allowed_spaces"):
            field = self.fields[name]
            if isinstance(field, ModelChoiceField) and field.queryset is not None:
                field.queryset = field.queryset.filter(building__in=places)
                if len(places) > 1:
                    field.label_from_instance = _with_building  # type: ignore[method-assign,assignment]  # Django's way to say it
        self._spaces_elsewhere(places)
        offered = self.fields["building"]
        if len(places) == 1 and self.instance.building_id is None:
            del self.fields["building"]
        elif isinstance(offered, ModelChoiceField):
            offered.queryset = Building.objects.filter(pk__in=places | {self.instance.building_id})
            offered.empty_label = "At the student's school"
            offered.help_text = "For a program elsewhere that the plan names; it counts by its calendar then."

    def _spaces_elsewhere(self, places: set[int]) -> None:
        """Those of other buildings than the student's, and the one that is chosen."""
        held, field = self.instance.held_in, self.fields["held_in"]
        if isinstance(field, ModelChoiceField) and field.queryset is not None:
            others = field.queryset.exclude(building__in=places - {held.building_id if held is not None else None})
            field.queryset = others.select_related("building").order_by("building__name", "name")
            field.label_from_instance = _with_building  # type: ignore[method-assign,assignment]  # Django's way to say it
            field.empty_label = "No: at the student's school"

    def clean_way_minutes(self) -> int:
        """Nothing entered is no way."""
        return self.cleaned_data.get("way_minutes") or 0

    def clean_statement(self) -> str:
        """It can be read."""
        own = self.cleaned_data.get("from_day") or self.cleaned_data.get("start")
        return self.read_now(own or self.instance.plan.start, self.instance)


class SeenForm(RecordForm):
    """Carries the revision of the service that the person saw."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def prepare(self) -> None:
        """What is seen now, which the person sends back."""
        super().prepare()
        self.fields["seen"].initial = self.instance.service.revision

    def seen_now(self, revision: int) -> None:
        """The person is told what somebody else did meanwhile, and so has seen it."""
        posted = cast("QueryDict", self.data).copy()
        posted["seen"] = str(revision)
        self.data = posted


class ServiceCorrectForm(SeenForm, ServiceLineForm):
    """Terms that were always wrong."""


class ServiceChangeForm(SeenForm, ServiceLineForm):
    """Terms that change from a day on."""

    from_day = DateField(
        label="From", help_text="The first day of the new terms. What was owed before it stays as it is."
    )
    field_order = ["from_day"]

    class Meta(ServiceLineForm.Meta):
        fields = [name for name in ServiceLineForm.Meta.fields if name not in {"service_type", "start"}]

    def prepare(self) -> None:
        """Without an end, the terms hold as long as those before would have."""
        super().prepare()
        self.fields["end"].label = "Until"
        self.fields["end"].help_text = f"If empty, until {date_words(self.instance.end)}, as before."

    def clean_from_day(self) -> dt.date:
        """A day of these terms: the form shows no others, so they can't be what is changed.

        Where somebody was faster, the service says what they did.
        """
        day: dt.date = self.cleaned_data["from_day"]
        if self.data.get("seen") not in {None, "", str(self.instance.service.revision)}:
            return day
        versions = self.instance.service.versions.exclude(pk=self.instance.pk)
        held = versions.filter(start__lte=day, end__gte=day).first()
        if held is not None:
            raise ValidationError(
                f"On that day “{held.statement}” holds, from {span_words(held.start, held.end)}. Go back to the "
                "student and press Change beside those terms."
            )
        return day


class RenewalForm(RecordForm):
    """The dates of the plan that follows; the terms are those of the plan before."""

    class Meta:
        model = Plan
        fields = ["start", "end", "annual_review", "note"]
        labels = {"start": "First day of the new plan", "end": "Last day"}


class PeriodOrClockForm(RecordForm):
    """Days and a period of the building's bells, or two clock times instead: the page shows the times then only."""

    needed_sometimes = ("period", "start", "end")

    def building(self) -> Building:
        """Whose bells."""
        raise NotImplementedError

    def periods(self) -> list[str]:
        """The names to choose from."""
        return period_names(self.building())

    def prepare(self) -> None:
        """Periods of the building."""
        choice_of_names(self, "period", self.periods(), "Clock times instead")

    def clean(self) -> dict[str, Any]:
        """A chosen period takes the place of clock times, which the page then hides."""
        values = super().clean() or {}
        if values.get("period"):
            for name in ("start", "end"):
                self.errors.pop(name, None)
                values[name] = None
        return values


class StudentHoldForm(PeriodOrClockForm):
    """A time when a student can't be taken."""

    def periods(self) -> list[str]:
        """Of the buildings where the student is today or later; of the record's where the student has left."""
        student, today = self.instance.student, today_of(self.viewer)
        places = [one.building for one in enrollments_of(student) if one.stay.ends >= today] or [student.building]
        return list(dict.fromkeys(name for place in dict.fromkeys(places) for name in period_names(place)))

    class Meta:
        model = StudentHold
        help_texts = {"period": ""}
        fields = ["reason", "days", "period", "start", "end", "first_day", "last_day"]
        labels = {
            "period": "Period",
            "start": "Or from",
            "end": "To",
            "first_day": "Only from",
            "last_day": "Only until",
        }


class SchoolClassForm(RecordForm):
    """A class."""

    needed_sometimes = ("ratio",)

    class Meta:
        model = SchoolClass
        fields = ["name", "code", "kind", "ratio", "class_teacher", "grades", "largest"]
        labels = {"largest": "Most students"}

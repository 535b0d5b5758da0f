"""Forms of bells, days, times, the calendar and the teacher's rules."""

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.formsets import BaseFormSet
from django.forms.models import ModelChoiceField

from accounts.fields import DateField
from accounts.forms import RecordForm, pickers_set
from caseload.plans.forms import PeriodOrClockForm
from schedule.calendar.models import (
    BellPeriod,
    BellRule,
    BellSchedule,
    CalendarEntry,
    CalendarSource,
    ClassDayTime,
    ClassMeeting,
    ContractDay,
    DayRotation,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    WordRule,
)
from travel.places.models import Building

TIMES = {"start": "Or from", "end": "To"}

type Periods = BaseFormSet[PeriodForm]


def of_building(form: forms.BaseForm, name: str, building: Any) -> None:
    """Cut a choice of rows down to one building."""
    field = form.fields[name]
    if isinstance(field, ModelChoiceField) and field.queryset is not None:
        field.queryset = field.queryset.filter(building=building)


class BellScheduleForm(RecordForm):
    """A bell schedule, without its periods, and the day from which they ring."""

    first_day = DateField(
        label="From",
        required=False,
        help_text="The first day on which these periods ring; what rang before stays. Empty: since always.",
    )

    class Meta:
        model = BellSchedule
        fields = ["name", "kind", "passing_minutes"]
        labels = {"kind": "Rings on"}
        help_texts = {
            "name": "Such as Regular or Early dismissal.",
            "passing_minutes": "Longest gap between two periods that only serves to change rooms.",
        }


class PeriodForm(forms.Form):
    """One period; a row left empty is no period."""

    name = forms.CharField(max_length=40, required=False)
    start = forms.TimeField(required=False)
    end = forms.TimeField(required=False)
    kind = forms.ChoiceField(choices=BellPeriod.Kind, required=False)
    grades = forms.CharField(max_length=40, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)

    def clean(self) -> dict[str, Any]:
        """A period that is begun needs its name and both times."""
        values = super().clean() or {}
        if not self.is_empty:
            for name in ("name", "start", "end"):
                if name not in self.errors and values.get(name) in {None, ""}:
                    self.add_error(name, f"Give the period's {name}, or empty the row.")
        return values

    @property
    def is_empty(self) -> bool:
        """Nothing typed beside the kind."""
        return not any(self[name].value() for name in ("name", "start", "end", "grades"))

    def typed(self) -> dict[str, Any]:
        """What stands in the row, as it was typed."""
        return {name: self[name].value() for name in self.fields}

    def refuse(self, field: str, text: str) -> None:
        """Put what the service found at the field, or at the row."""
        self.add_error(field if field in self.fields else None, ValidationError(text))


class DayRotationForm(RecordForm):
    """How a building names its days."""

    needed_sometimes = ("length", "practice", "anchor_date")

    class Meta:
        model = DayRotation
        fields = ["first_day", "kind", "length", "labels", "practice", "anchor_date", "anchor_label"]
        labels = {
            "kind": "Days are named by",
            "length": "Days in the cycle",
            "practice": "After a closed day",
            "anchor_date": "A school day whose label is known",
            "anchor_label": "Its label",
        }
        help_texts = {
            "first_day": "The first day that is called so; what was before stays. Empty: since always.",
            "length": "2 to 10.",
            "labels": "Such as A,B,C,D. Empty: Day 1, Day 2, … in a cycle, A and B in A/B weeks.",
            "anchor_date": "Such as the first day of school.",
            "anchor_label": "Empty: the first one.",
        }

    def prepare(self) -> None:
        """The service asks for these where the kind needs them."""
        self.fields["practice"].required = False


class GradeRotationForm(DayRotationForm):
    """How some grades of a building name their days."""

    class Meta(DayRotationForm.Meta):
        fields = ["name", "grades", *DayRotationForm.Meta.fields]
        help_texts = {
            **DayRotationForm.Meta.help_texts,
            "grades": "Such as 6-8.",
            "labels": "Such as MS1,MS2,MS3,MS4. No other rotation of the school may have them.",
        }

    def prepare(self) -> None:
        """Without grades it would be the building's own."""
        super().prepare()
        self.fields["name"].required = self.fields["grades"].required = True


class BellRuleForm(RecordForm):
    """Which bells ring on a day."""

    class Meta:
        model = BellRule
        fields = ["day", "schedule"]
        labels = {"schedule": "Rings"}

    def prepare(self) -> None:
        """Bells of the building."""
        of_building(self, "schedule", self.instance.building)


class ClassMeetingForm(PeriodOrClockForm):
    """A class's own physical education time."""

    class Meta:
        model = ClassMeeting
        fields = ["days", "period", "start", "end", "space"]
        labels = TIMES
        help_texts = {"period": ""}

    def building(self) -> Building:
        """The class's."""
        return self.instance.school_class.building  # type: ignore[no-any-return]  # the form's model is set above

    def prepare(self) -> None:
        """Spaces of the building as well."""
        super().prepare()
        of_building(self, "space", self.building())


class ClassDayForm(RecordForm):
    """When a class is at school, or has its lunch."""

    class Meta:
        model = ClassDayTime
        fields = ["kind", "days", "start", "end", "first_day", "last_day"]
        labels = {"kind": "What", "start": "From", "end": "To"}


class SpaceFreeTimeForm(PeriodOrClockForm):
    """When a space is free."""

    class Meta:
        model = SpaceFreeTime
        fields = ["days", "period", "start", "end"]
        labels = TIMES
        help_texts = {"period": ""}

    def building(self) -> Building:
        """The space's."""
        return self.instance.space.building  # type: ignore[no-any-return]  # the form's model is set above


class SchoolYearForm(RecordForm):
    """First to last day with students."""

    class Meta:
        model = SchoolYear
        fields = ["name", "first_day", "last_day", "extended"]


class MarkingPeriodForm(RecordForm):
    """A stretch of the year after which progress is reported."""

    class Meta:
        model = MarkingPeriod
        fields = ["name", "first_day", "last_day"]


class CalendarEntryForm(RecordForm):
    """A special day."""

    class Meta:
        model = CalendarEntry
        fields = [
            "title", "kind", "first_date", "last_date", "building", "bell_schedule", "opens_at", "closes_at",
        ]  # fmt: skip
        labels = {
            "kind": "What it does to classes",
            "bell_schedule": "Bells",
            "opens_at": "Opens at",
            "closes_at": "Students go home at",
        }
        help_texts = {
            "last_date": "Empty: one day.",
            "opens_at": "Of a delayed opening. Empty: by its bells.",
            "closes_at": "Of an early dismissal. Empty: by its bells.",
        }

    def prepare(self) -> None:
        """One day needs one date; bells carry their building."""
        self.fields["last_date"].required = False
        building = self.fields["building"]
        if isinstance(building, ModelChoiceField):
            building.empty_label = "The whole district"
        bells = self.fields["bell_schedule"]
        if isinstance(bells, ModelChoiceField):
            bells.empty_label = "The building's own of this kind"
            bells.label_from_instance = lambda row: f"{row.building}: {row}"  # type: ignore[method-assign,assignment]  # Django's way


class CalendarSourceForm(RecordForm):
    """The address of a published school calendar."""

    # Not the browser's own check: it would refuse an address that begins with webcal.
    address = forms.CharField(max_length=500, help_text="What “subscribe” on the school's website leads to.")

    class Meta:
        model = CalendarSource
        fields = ["title", "address", "building", "applies_alone"]
        labels = {
            "title": "What you call it",
            "building": "For",
            "applies_alone": "Save recognized days automatically",
        }
        help_texts = {"title": "Such as District website."}

    def prepare(self) -> None:
        """For all schools unless one is chosen."""
        building = self.fields["building"]
        if isinstance(building, ModelChoiceField):
            building.empty_label = "The whole district"


class WordRuleForm(RecordForm):
    """Words of a published calendar."""

    class Meta:
        model = WordRule
        fields = ["words", "kind", "position"]
        labels = {"words": "Words in a title", "kind": "Stand for", "position": "Order"}


class TeacherRulesForm(RecordForm):
    """What the contract and the teacher ask of every week."""

    class Meta:
        model = TeacherRules
        fields = [
            "start_place",
            "end_place",
            "lunch_minutes",
            "lunch_earliest",
            "lunch_latest_end",
            "preparation_minutes",
            "preparation_per",
            "preparation_smallest_block",
            "longest_stretch",
            "setup_minutes",
            "largest_group",
            "grades_apart",
        ]
        labels = {
            "start_place": "The day begins at",
            "end_place": "The day ends at",
            "lunch_minutes": "Minutes of duty-free lunch",
            "lunch_earliest": "Lunch not before",
            "lunch_latest_end": "Lunch over by",
            "preparation_minutes": "Minutes of preparation",
            "preparation_per": "Counted",
            "preparation_smallest_block": "Smallest block of preparation",
            "longest_stretch": "Longest stretch without a break",
            "setup_minutes": "Minutes to set up between sessions",
        }
        help_texts = {"longest_stretch": "Minutes of teaching and driving.", "setup_minutes": ""}

    def prepare(self) -> None:
        """Say what nothing means."""
        for name, text in (("start_place", "The first class"), ("end_place", "The last class")):
            field = self.fields[name]
            if isinstance(field, ModelChoiceField):
                field.empty_label = text


class MeetingForm(RecordForm):
    """Something that blocks the teacher."""

    needed_sometimes = ("weekday", "date")

    class Meta:
        model = Meeting
        fields = ["title", "weekday", "month_place", "date", "start", "end", "building"]
        labels = {
            "weekday": "Every",
            "month_place": "Which of the month",
            "date": "Or once on",
            "start": "From",
            "end": "To",
        }

    def prepare(self) -> None:
        """Say what nothing means."""
        building = self.fields["building"]
        if isinstance(building, ModelChoiceField):
            building.empty_label = "Wherever you are"
        which = self.fields["month_place"]
        if isinstance(which, forms.TypedChoiceField):
            which.choices = [("", "All: every week"), *Meeting.MonthPlace.choices]
            which.help_text = ""


class ContractHoursForm(forms.Form):
    """Start and end on every weekday; both empty: no work that day."""

    def __init__(self, *args: Any, days: dict[int, ContractDay], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, label in ContractDay.Weekday.choices:
            day = days.get(number)
            for end in ("start", "end"):
                self.fields[f"{end}_{number}"] = forms.TimeField(
                    label=f"{label} {'from' if end == 'start' else 'to'}",
                    required=False,
                    initial=getattr(day, end) if day is not None else None,
                )
        pickers_set(self)

    def clean(self) -> dict[str, Any]:
        """Half a day's hours are none."""
        values = super().clean() or {}
        for number, label in ContractDay.Weekday.choices:
            start, end = values.get(f"start_{number}"), values.get(f"end_{number}")
            if (start is None) == (end is None) or self.errors.get(f"start_{number}"):
                continue
            missing = "start" if start is None else "end"
            self.add_error(f"{missing}_{number}", f"Give both times of {label}, or neither.")
        return values

    def hours(self) -> dict[int, tuple[dt.time, dt.time] | None]:
        """Start and end by weekday (0 is Monday); `None` where there is no work."""
        found: dict[int, tuple[dt.time, dt.time] | None] = {}
        for number, _ in ContractDay.Weekday.choices:
            start, end = self.cleaned_data.get(f"start_{number}"), self.cleaned_data.get(f"end_{number}")
            found[int(number)] = (start, end) if start is not None and end is not None else None
        return found

    def rows(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Label and the two fields of every weekday."""
        return [
            (str(label), self[f"start_{number}"], self[f"end_{number}"])
            for number, label in ContractDay.Weekday.choices
        ]

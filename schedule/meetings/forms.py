"""The form of a common meeting."""

from typing import Any

from django import forms
from django.forms.models import ModelChoiceField

from accounts.fields import RowsField
from accounts.forms import RecordForm
from accounts.models import Person
from schedule.calendar.models import ContractDay
from schedule.meetings.models import CommonMeeting

LUNCH_ONLY = ("weekdays", "worth_minutes")


class CommonMeetingForm(RecordForm):
    """Who, when and where. The one who calls it is in it without being chosen, unless a coordinator."""

    people = RowsField(Person.objects.none(), widget=forms.CheckboxSelectMultiple, label="For whom")
    weekdays = forms.TypedMultipleChoiceField(
        label="On",
        choices=ContractDay.Weekday.choices[:5],
        coerce=int,
        empty_value=[],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None: each day.",
    )
    needed_sometimes = ("weekday", "date")
    field_order = ["title", "people", "weekdays"]

    class Meta:
        model = CommonMeeting
        fields = [
            "title",
            "weekdays",
            "weekday",
            "month_place",
            "date",
            "start",
            "end",
            "building",
            "worth_minutes",
            "first_day",
            "last_day",
        ]
        labels = {
            "weekday": "Every",
            "month_place": "Which of the month",
            "date": "Or once on",
            "start": "From",
            "end": "To",
            "first_day": "First day",
            "last_day": "Last day",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("title", "weekday", "month_place", "date") if self.instance.is_lunch else LUNCH_ONLY:
            del self.fields[name]
        self.order_fields(self.field_order)
        if self.instance.is_lunch:
            self._ask_for_lunch()

    def _ask_for_lunch(self) -> None:
        """A lunch is wished for between two times, in a school or in any."""
        self.fields["start"].label, self.fields["end"].label = "Begins no sooner than", "Over by"
        self.fields["last_day"].help_text = "Empty: until further notice."
        building, people = self.fields["building"], self.fields["people"]
        building.help_text = ""
        if isinstance(building, ModelChoiceField):
            building.empty_label = "Any school"
        if not self.viewer.is_coordinator:
            people.help_text = "They are asked. Weeks are led to it for each who says yes."

    def prepare(self) -> None:
        """Say what nothing means, and begin with those who are in it."""
        building, people = self.fields["building"], self.fields["people"]
        if isinstance(building, ModelChoiceField):
            building.empty_label = "Wherever each is"
        which = self.fields["month_place"]
        if isinstance(which, forms.TypedChoiceField):
            which.choices = [("", "All: every week"), *CommonMeeting.MonthPlace.choices]
            which.help_text = ""
        if isinstance(people, RowsField) and people.queryset is not None and not self.viewer.is_coordinator:
            people.queryset = people.queryset.exclude(pk=self.viewer.pk)
            people.label = "With"
            people.help_text = "They are asked. It stands in the week of each who says yes."
        if self.instance.pk:
            people.initial = [one.pk for one in self.instance.people]

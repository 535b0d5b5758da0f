"""Forms of feeds and of calendars that are read. One form a kind, with the fields that it has."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from accounts.forms import RecordForm, pickers_set
from accounts.models import Person
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import WARN_NAMES, substitutions_of

ALARMS = (("", "No alarm"), ("5", "5 minutes before"), ("10", "10 minutes before"), ("15", "15 minutes before"),
          ("30", "30 minutes before"), ("60", "1 hour before"))  # fmt: skip
SCOPES = ("building", "school_class", "substitution")
# What only the feed of whoever drives shows.
OF_ONE_DAY = ("drives", "leave_alarm_minutes", "says_setting")
NOT_IN_KIND: dict[str, tuple[str, ...]] = {
    Feed.Kind.TEACHER: SCOPES,
    Feed.Kind.BUILDING: ("school_class", "substitution", "students", "names_confirmed", *OF_ONE_DAY),
    Feed.Kind.CLASS: ("building", "substitution", *OF_ONE_DAY),
    Feed.Kind.SUBSTITUTE: ("building", "school_class"),
}


class FeedForm(RecordForm):
    """A feed's scope and what it shows."""

    alarm_minutes = forms.TypedChoiceField(
        choices=ALARMS, coerce=int, empty_value=None, required=False, label="Alarm before sessions and meetings"
    )
    leave_alarm_minutes = forms.TypedChoiceField(
        choices=ALARMS, coerce=int, empty_value=None, required=False, label="Alarm before it is time to leave"
    )
    names_confirmed = forms.BooleanField(
        required=False, label="I have read this: full names may leave this program", help_text=WARN_NAMES
    )
    needed_sometimes = ("names_confirmed",)

    class Meta:
        model = Feed
        fields = (
            "building", "school_class", "substitution", "label", "students", "names_confirmed", "says_setting",
            "drives", "alarm_minutes", "leave_alarm_minutes", "days_back", "days_ahead",
        )  # fmt: skip
        labels = {
            "label": "For which device or person",
            "students": "How students appear",
            "drives": "How drives appear",
            "days_back": "Days to look back",
            "days_ahead": "Days to look ahead",
            "substitution": "Which days",
        }

    def __init__(self, *args: Any, viewer: Person, kind: str, **kwargs: Any) -> None:
        self.kind = kind
        super().__init__(*args, viewer=viewer, **kwargs)

    def prepare(self) -> None:
        """Leave out what this kind, or a feed that is there already, doesn't choose."""
        left_out = {*NOT_IN_KIND[self.kind], *(SCOPES if self.instance.pk else ())}
        for name in left_out & set(self.fields):
            del self.fields[name]
        for name in set(SCOPES) & set(self.fields):
            self.fields[name].required = True
        if "substitution" in self.fields:
            field = self.fields["substitution"]
            field.queryset = field.queryset.filter(pk__in=[one.pk for one in substitutions_of(self.viewer)])  # type: ignore[attr-defined]  # a choice of rows
            field.label_from_instance = lambda row: f"{row.teacher}, {row}"  # type: ignore[attr-defined]

    @property
    def options(self) -> dict[str, Any]:
        """What was typed, without the scope and the confirmation."""
        return {
            name: value for name, value in self.cleaned_data.items() if name not in (*SCOPES, "names_confirmed")
        }

    @property
    def scope(self) -> dict[str, Any]:
        """What the feed is of."""
        return {name: self.cleaned_data[name] for name in SCOPES if name in self.fields}


class BusyForm(forms.Form):
    """A calendar of the teacher's own, by address or as a file."""

    title = forms.CharField(max_length=60, label="What you call it", help_text="It shows on your own pages only.")
    address = forms.CharField(
        max_length=500, required=False, label="Address", help_text="Begins with https:// or webcal://; read again "
        "before each plan.",
    )  # fmt: skip
    file = forms.FileField(
        required=False, label="Or a file", help_text="A copy in the format iCalendar (.ics), at most 5 MB.",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )  # fmt: skip
    needed_sometimes = ("address", "file")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)

    def refuse(self, error: ValidationError) -> None:
        """Put what the service found wrong at the fields."""
        for name, texts in error.error_dict.items():
            self.add_error(name if name in self.fields else None, list(texts))

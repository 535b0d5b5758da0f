"""What is typed about who stands in."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms

from accounts.forms import RecordForm
from accounts.models import Substitution
from schedule.covers.selectors import CoverChoice, substitutes_of
from schedule.covers.services import CoverWanted


class CoverForm(RecordForm):
    """Who, from when to when, and for which sessions; none ticked is all of them."""

    called = forms.CharField(
        label="Or the name of somebody without a sign-in",
        max_length=60,
        required=False,
        help_text="They come by a link for these days, which ends by itself. The log says this name.",
    )
    sessions = forms.MultipleChoiceField(
        label="Only these sessions",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: all of them, and the days as a whole.",
    )

    class Meta:
        model = Substitution
        fields = ["substitute", "first_date", "last_date"]
        labels = {"first_date": "First day", "last_date": "Last day"}

    def __init__(self, *args: Any, choices: Sequence[CoverChoice], by_link: bool = False, **kwargs: Any) -> None:
        self.choices, self.by_link = choices, by_link
        super().__init__(*args, **kwargs)

    def prepare(self) -> None:
        """The district's substitutes; who comes by a link stays who it is."""
        who, sessions = self.fields["substitute"], self.fields["sessions"]
        if isinstance(who, forms.ModelChoiceField):
            who.queryset, who.required, who.empty_label = substitutes_of(self.viewer), False, "Nobody from the list"
        if isinstance(sessions, forms.MultipleChoiceField):
            sessions.choices = [(str(one.uid), one.words) for one in self.choices]
        order = ["substitute", "called", "first_date", "last_date", "sessions"]
        if self.instance.pk:
            order.remove("called")
            self.initial["sessions"] = [str(one.session_uid) for one in self.instance.sessions.all()]
        if self.by_link:
            order.remove("substitute")
        self.fields = {name: self.fields[name] for name in order}

    @property
    def wanted(self) -> CoverWanted:
        """As the service takes it."""
        values = self.cleaned_data
        return CoverWanted(
            substitute=values.get("substitute"),
            called=values.get("called", ""),
            first_date=values.get("first_date"),
            last_date=values.get("last_date"),
            sessions=frozenset(map(UUID, values.get("sessions", ()))),
        )

"""The form by which people are invited."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from accounts.fields import RowsField
from accounts.invitations.services import DAYS_OUT, FEWEST_DAYS, MOST_DAYS, NOBODY, USUAL_DAYS
from accounts.models import Person


class InvitationsForm(forms.Form):
    """Whom, how, for how many days."""

    days = forms.IntegerField(
        label="The link works for how many days?",
        initial=USUAL_DAYS,
        min_value=FEWEST_DAYS,
        max_value=MOST_DAYS,
        help_text=f"{FEWEST_DAYS} to {MOST_DAYS}. It works once.",
        error_messages={"min_value": DAYS_OUT, "max_value": DAYS_OUT},
    )
    everyone = forms.BooleanField(label="Everyone in this list, on all its pages", required=False)
    again = forms.BooleanField(required=False, widget=forms.HiddenInput)
    how = forms.ChoiceField(choices=[("mail", "Send by mail"), ("paper", "Print")])
    people = RowsField(Person.objects.none(), required=False)

    def __init__(self, *args: Any, people: QuerySet[Person], **kwargs: Any) -> None:
        """`people`: who may sign in."""
        super().__init__(*args, **kwargs)
        self.fields["people"] = RowsField(people, required=False, label="People")

    def clean(self) -> dict[str, Any]:
        """Somebody has to be chosen."""
        values = dict(super().clean() or {})
        if not values.get("everyone") and not values.get("people") and "people" not in self.errors:
            self.add_error("people", NOBODY)
        return values

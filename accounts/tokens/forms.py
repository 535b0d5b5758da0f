"""The form of a new token."""

from django import forms

from accounts.fields import DateField
from accounts.forms import pickers_set
from accounts.models import ApiToken
from accounts.sign_in.forms import ConfirmForm


class TokenForm(ConfirmForm):
    """Which program, what it may, until when."""

    name = forms.CharField(label="Which program it is for", max_length=60)
    scope = forms.ChoiceField(label="It may", choices=ApiToken.Scope.choices)
    last_day = DateField(label="Last day", help_text="A year from now at most.")
    field_order = ("name", "scope", "last_day", "password")

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # as Django's form takes them
        pickers_set(self)

"""The forms of signing in and of choosing a password."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError

from accounts.forms import RecordForm
from accounts.models import Person, SignInRules
from accounts.people.services import GIVEN_DAYS

# The same for every reason, so that it tells a guesser nothing.
REFUSED = (
    "This name and password don't match. Capital letters matter. A password that was given to "
    f"you works for one sign-in within {GIVEN_DAYS} days. If yours has run out or you forgot it, press “I forgot "
    "my password” or ask your coordinator for a new one; a coordinator asks another coordinator or whoever runs "
    "this site."
)
TWICE = "The two passwords don't match. Type the new password again."


class SignInForm(AuthenticationForm):
    """Name and password."""

    shared = forms.BooleanField(
        label="This is a shared computer",
        required=False,
        help_text="You are signed out when the browser closes, and after 15 minutes without use.",
    )

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": REFUSED,
        "inactive": REFUSED,
    }


def _password_field(label: str, autocomplete: str, help_text: str = "", **attributes: bool) -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        help_text=help_text,
        widget=forms.PasswordInput(attrs={"autocomplete": autocomplete, **attributes}),
        error_messages={"required": "Fill this in."},
    )


class ForgotForm(forms.Form):
    """Where a link is to be sent."""

    email = forms.EmailField(
        label="Mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email", "autofocus": True}),
        error_messages={"required": "Fill this in.", "invalid": "Type a mail address, such as kim@school.example."},
    )


class NewPasswordForm(forms.Form):
    """The new password twice, for somebody who came by a link."""

    new_password1 = _password_field(
        "New password", "new-password", "At least 10 characters, and not a common password.", autofocus=True
    )
    new_password2 = _password_field("New password again", "new-password")

    def __init__(self, user: Person | None, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean(self) -> dict[str, str]:
        """Typed twice the same."""
        if self.cleaned_data.get("new_password2", "") != self.cleaned_data.get("new_password1", ""):
            self.add_error("new_password2", TWICE)
        return self.cleaned_data

    def refuse(self, error: ValidationError) -> None:
        """Put what the service found wrong at the first field."""
        self.add_error("new_password1", error.messages)


class FactorForm(forms.Form):
    """A code, or what a passkey answered; one of them is there."""

    code = forms.CharField(
        label="Code",
        required=False,
        max_length=40,
        help_text="The 6 digits that your app shows now, or one of your recovery codes.",
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "autocapitalize": "none"}),
    )
    passkey = forms.CharField(required=False, max_length=10_000, widget=forms.HiddenInput)

    def clean(self) -> dict[str, str]:
        """One of the two."""
        if not self.cleaned_data.get("code") and not self.cleaned_data.get("passkey"):
            self.add_error("code", "Type a code, or use a passkey.")
        return self.cleaned_data


class ConfirmForm(forms.Form):
    """The password once more."""

    password = _password_field("Your password", "current-password")


class CodesForm(ConfirmForm):
    """An app that makes codes."""

    name = forms.CharField(label="Name of the app or phone", max_length=60, initial="My phone")
    code = forms.CharField(
        label="Code that the app shows now",
        max_length=12,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
        error_messages={"required": "Fill this in."},
    )
    field_order = ("name", "code", "password")


class PasskeyForm(ConfirmForm):
    """A passkey: the browser fills in what it answered."""

    name = forms.CharField(label="Name of the passkey", max_length=60, initial="This device")
    passkey = forms.CharField(
        max_length=20_000,
        widget=forms.HiddenInput,
        error_messages={"required": "The browser made no passkey. Try it again, or set up an app with codes."},
    )
    field_order = ("name", "password", "passkey")


class SignInRulesForm(RecordForm):
    """What a district asks of everybody who signs in."""

    class Meta:
        model = SignInRules
        fields = [
            "idle_minutes", "factor_coordinators", "factor_teachers", "factor_substitutes", "factor_offices",
            "factor_reviewers", "factor_first_day",
        ]  # fmt: skip


class OwnPasswordForm(forms.Form):
    """The old password, and the new one twice; the service holds every other rule about them."""

    old_password = _password_field("Current password", "current-password", autofocus=True)
    new_password1 = _password_field(
        "New password", "new-password", "At least 10 characters, not a common password, and not your current one."
    )
    new_password2 = _password_field("New password again", "new-password")

    def clean(self) -> dict[str, str]:
        """Typed twice the same."""
        if self.cleaned_data.get("new_password2", "") != self.cleaned_data.get("new_password1", ""):
            self.add_error("new_password2", TWICE)
        return self.cleaned_data

    @property
    def passwords(self) -> dict[str, str]:
        """As the service takes them."""
        return {
            "old_password": self.cleaned_data["old_password"],
            "new_password": self.cleaned_data["new_password1"],
        }

    def refuse(self, error: ValidationError) -> None:
        """Put what the service found wrong at the fields."""
        fields = {"new_password": "new_password1"}
        for name, texts in error.error_dict.items():
            self.add_error(fields.get(name, name), texts)

"""The forms of signing in and of choosing a password."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError

from accounts.models import Person
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

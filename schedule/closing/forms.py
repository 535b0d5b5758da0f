"""Forms of months of the log: a signature, closing, reopening."""

from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from accounts.forms import pickers_set
from caseload.months.models import LogMonthRules


class MonthActForm(forms.Form):
    """What one press on a month sends."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pickers_set(self)

    def refuse(self, error: ValidationError) -> None:
        """Show a service's answer at the fields."""
        told = error.error_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.error_list}
        for name, errors in told.items():
            self.add_error(name if name in self.fields else None, errors)


class SignForm(MonthActForm):
    """A signature: the name, and the digest of what was shown."""

    name = forms.CharField(label="Your name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)


class ReopenForm(MonthActForm):
    """Why, and the month as it was shown."""

    reason = forms.CharField(label="Why", max_length=300)
    expected_revision = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class CloseForm(ReopenForm):
    """Why only where nobody signed."""

    reason = forms.CharField(label="Why it is closed without a signature", max_length=300, required=False)


class SignedCloseForm(CloseForm):
    """What was signed is closed without a word."""

    reason = forms.CharField(widget=forms.HiddenInput, required=False)


class MonthRulesForm(forms.ModelForm):  # type: ignore[type-arg]  # Django's ModelForm takes no type at run time
    """What changes in a closed month do."""

    class Meta:
        model = LogMonthRules
        fields = ("afterwards",)
        labels = {"afterwards": "A change in a closed month"}
        widgets = {"afterwards": forms.RadioSelect}

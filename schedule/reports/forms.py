"""What the reports' pages ask."""

import datetime as dt
from typing import Any

from django import forms

from accounts.fields import DateField
from accounts.models import Person, held_ever
from schedule.reports.services import LONGEST_WHY

FORMS = (("pdf", "PDF"), ("xlsx", "XLSX"), ("csv", "CSV"))


def _date(label: str, *, required: bool = True) -> DateField:
    return DateField(
        label=label, required=required, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class KnownForm(forms.Form):
    """As of which evening; now, if nothing is said."""

    known = _date("As known on", required=False)
    field_order = ("first", "last", "month", "known")


class ReportUntilForm(KnownForm):
    """Up to which date."""

    last = _date("Up to")


class SpanForm(forms.Form):
    """From which date to which."""

    first = _date("From")
    last = _date("To")

    def clean_last(self) -> dt.date:
        """The dates in their order."""
        first, last = self.cleaned_data.get("first"), self.cleaned_data["last"]
        if isinstance(first, dt.date) and last < first:
            raise forms.ValidationError("The last date is before the first.", code="dates_swapped")
        return dt.date.fromisoformat(str(last))


class DatesForm(SpanForm, KnownForm):
    """From which date to which, and as it was known when."""


class SessionFileForm(SpanForm):
    """Which sessions, as which file, and for whom."""

    teacher = forms.ModelChoiceField(Person.objects.none(), required=False, empty_label="Every teacher")
    why = forms.CharField(
        label="For whom, and why",
        max_length=LONGEST_WHY,
        help_text="Kept with who made the file and when. Don't name a student here.",
    )

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["teacher"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = Person.objects.filter(held_ever(Person.Role.TEACHER), district=viewer.district)


class MonthForm(KnownForm):
    """Which month, by any day of it."""

    month = _date("Any day of the month")


class ExportForm(forms.Form):
    """Which kind of file, and why it leaves the program."""

    form = forms.ChoiceField(choices=FORMS)
    why = forms.CharField(
        label="Why, or for whom",
        required=False,
        max_length=LONGEST_WHY,
        help_text="Each file is recorded with who and when. Don't name a student here.",
    )

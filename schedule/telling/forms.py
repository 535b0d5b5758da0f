"""What the pages of progress reports ask."""

import datetime as dt
import re
from typing import Any

from django import forms

from accounts.fields import DateField
from schedule.reports.services import LONGEST_WHY
from schedule.telling.models import ProgressReport

SENTENCE = re.compile(r"(text|read)-[0-9]{1,9}")


class BeginForm(forms.Form):
    """Which dates, for what, and in which language the family reads."""

    kind = forms.ChoiceField(label="For", choices=ProgressReport.Kind)
    name = forms.CharField(label="Name", max_length=80, help_text="Such as “Marking period 2” or “Annual meeting”.")
    first_day = DateField(label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    last_day = DateField(label="To", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    family_language = forms.ChoiceField(
        label="Language of the family", choices=ProgressReport.Language, initial=ProgressReport.Language.ENGLISH
    )

    def clean_last_day(self) -> dt.date:
        """The dates in their order."""
        first, last = self.cleaned_data.get("first_day"), self.cleaned_data["last_day"]
        if isinstance(first, dt.date) and last < first:
            raise forms.ValidationError("The last day is before the first.", code="dates_swapped")
        return dt.date.fromisoformat(str(last))


class ReportSignForm(forms.Form):
    """One's own name."""

    name = forms.CharField(label="Your name", max_length=120)


class SendForm(forms.Form):
    """Why, or for whom, it leaves the program."""

    why = forms.CharField(
        label="Why, or for whom",
        required=False,
        max_length=LONGEST_WHY,
        help_text="Each print and file is recorded with who and when. Don't name a student here.",
    )


def sentences_in(data: Any) -> tuple[dict[int, str], set[int]]:
    """Texts by the sentence's id, and the ids of those ticked as read, from fields ``text-12`` and ``read-12``."""
    words = {int(name[5:]): str(data[name]) for name in data if SENTENCE.fullmatch(name) and name[0] == "t"}
    read = {int(name[5:]) for name in data if SENTENCE.fullmatch(name) and name[0] == "r"}
    return words, read

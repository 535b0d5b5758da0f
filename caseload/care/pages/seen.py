"""Who was shown what is written about students' care: for their teacher and the coordinator."""

import datetime as dt
from typing import Any

from django import forms
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from accounts.fields import DateField
from accounts.forms import pickers_set
from accounts.models import Person
from accounts.pages import person_of
from accounts.selectors import today_of
from caseload.care.selectors.seen import MOST, care_views, seen_between, viewers_of

TWO_WEEKS = dt.timedelta(days=13)


class CareViewsForm(forms.Form):
    """By whom, and from when to when."""

    who = forms.ModelChoiceField(Person.objects.none(), label="Who", required=False, empty_label="Everybody")
    first = DateField(label="From")
    last = DateField(label="Until")

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        who = self.fields["who"]
        if isinstance(who, forms.ModelChoiceField):
            who.queryset = viewers_of(viewer)
        pickers_set(self)


@require_safe
@permission_required("care.views", raise_exception=True)
def care_views_page(request: HttpRequest) -> HttpResponse:
    """The last two weeks, or what was asked for."""
    person = person_of(request)
    today = today_of(person)
    usual: dict[str, Any] = {"first": today - TWO_WEEKS, "last": today}
    form = CareViewsForm(request.GET if "first" in request.GET else usual, viewer=person)
    asked = form.cleaned_data if form.is_valid() else {**usual, "who": None}
    found = seen_between(person, asked["first"], asked["last"], asked["who"])
    context = {
        "form": form,
        "seen": found,
        "any": bool(found) or care_views(person).exists(),
        "most": MOST if sum(len(one.students) for one in found) >= MOST else 0,
    }
    return render(request, "caseload/care/seen.html", context)

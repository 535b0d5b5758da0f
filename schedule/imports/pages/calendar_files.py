"""Pages that bring the district's calendar in; the table of words is edited on the page of the calendar."""

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import person_of
from accounts.selectors import today_of
from schedule.calendar.models import SchoolYear, WordRule
from schedule.imports.forms import CalendarUploadForm, HolidaysForm
from schedule.imports.pages.tables import crumbs, may_import, refuse
from schedule.imports.services.calendar_files import calendar_preview, holidays_preview
from schedule.imports.services.calendar_reading import word_rules_ensure

_SUMMER = 7  # July: from here on the year to come is meant (common practice, no source)


def _usual_range(person: Person) -> dict[str, dt.date]:
    """The latest school year, or August to July around today."""
    year = SchoolYear.objects.visible_to(person).order_by("-first_day").first()
    today = today_of(person)
    if year is not None and year.last_day >= today:
        return {"first": year.first_day, "last": year.last_day}
    begin = today.year if today.month >= _SUMMER else today.year - 1
    return {"first": dt.date(begin, 8, 1), "last": dt.date(begin + 1, 7, 31)}


@may_import
@require_http_methods(["GET", "POST"])
def calendar_upload(request: HttpRequest) -> HttpResponse:
    """Send the calendar file of a school website."""
    person = person_of(request)
    # The table of words is shown beside the form, so that it can be edited before the first file.
    word_rules_ensure(actor=person)
    if request.method != "POST":
        return _show(request, CalendarUploadForm(viewer=person, initial=_usual_range(person)))
    form = CalendarUploadForm(request.POST, request.FILES, viewer=person)
    if form.is_valid():
        values = form.cleaned_data
        try:
            batch = calendar_preview(
                actor=person,
                filename=values["file"].name,
                content=values["file"].read(),
                first=values["first"],
                last=values["last"],
                building=values["building"],
            )
            return redirect("import_preview", batch.pk)
        except ApplicationError as error:
            refuse(form, error)
    return _show(request, form)


@may_import
@require_http_methods(["GET", "POST"])
def holidays_upload(request: HttpRequest) -> HttpResponse:
    """Take the public holidays of a state."""
    person = person_of(request)
    if request.method != "POST":
        state = person.district.state if person.district else ""
        return _show(request, HolidaysForm(viewer=person, initial={**_usual_range(person), "state": state}))
    form = HolidaysForm(request.POST, viewer=person)
    if form.is_valid():
        try:
            batch = holidays_preview(actor=person, **form.cleaned_data)
            return redirect("import_preview", batch.pk)
        except ApplicationError as error:
            refuse(form, error)
    return _show(request, form)


def _show(request: HttpRequest, form: CalendarUploadForm | HolidaysForm) -> HttpResponse:
    """The page with its form."""
    context: dict[str, Any] = {"form": form, "crumbs": crumbs(), "from_file": isinstance(form, CalendarUploadForm)}
    context["words"] = WordRule.objects.visible_to(person_of(request))
    status = 422 if form.is_bound else 200
    return render(request, "schedule/imports/calendar_upload.html", context, status=status)

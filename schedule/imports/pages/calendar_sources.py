"""The district's school calendar by address: add one, read it again, look at what it brings, save it."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.errors import ApplicationError
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_changeable, person_of
from schedule.calendar.forms import CalendarSourceForm
from schedule.calendar.models import CalendarSource
from schedule.calendar.pages.calendar import calendar_crumbs, calendar_page
from schedule.imports.pages.tables import end_in, may_import
from schedule.imports.services import calendar_sources as services


class CalendarSourceFormPage(RecordFormPage[CalendarSource]):
    """An address of a published calendar."""

    model = CalendarSource
    form_class = CalendarSourceForm
    permission = services.PERMISSION
    noun = "address of a school calendar"
    intro = (
        "It is read every hour and before each plan. What it adds, changes or drops is shown on the "
        "calendar page; nothing is saved until you say so."
    )

    def save(self, row: CalendarSource, values: Mapping[str, Any]) -> CalendarSource:
        """Save it and have it read."""
        return services.source_save(actor=self.person, row=row, values=values)

    def saved_message(self, row: CalendarSource) -> str:
        return "The address is saved. It is being read: reload this page in a moment."

    def back(self, row: CalendarSource) -> str:
        return calendar_page()

    def crumbs(self, row: CalendarSource) -> Crumbs:
        return calendar_crumbs()

    def delete_address(self, row: CalendarSource) -> str:
        return reverse("calendar_source_delete", args=[row.pk])


class CalendarSourceDeletePage(RecordDeletePage[CalendarSource]):
    """Read it no more; the days that it brought stay."""

    model = CalendarSource
    permission = services.PERMISSION
    noun = "address of a school calendar"

    def delete(self, row: CalendarSource) -> None:
        services.source_delete(actor=self.person, row=row)

    def back(self, row: CalendarSource) -> str:
        return calendar_page()

    def crumbs(self, row: CalendarSource) -> Crumbs:
        return calendar_crumbs()


@may_import
@require_POST
def read_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for an address to be read now."""
    person = person_of(request)
    services.source_again(actor=person, row=find_changeable(CalendarSource, person, pk))
    messages.success(request, "It is being read again: reload this page in a moment.")
    return redirect("calendar")


@may_import
@require_POST
def look(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a preview of what waits, or of the whole calendar, and show it."""
    person = person_of(request)
    row = find_changeable(CalendarSource, person, pk)
    try:
        batch = services.source_preview(actor=person, row=row, everything="everything" in request.POST)
    except ApplicationError as error:
        return _refused(request, error)
    return redirect("import_preview", batch.pk)


@may_import
@require_POST
def save_plain(request: HttpRequest, pk: int) -> HttpResponse:
    """Save what is clear-cut."""
    person = person_of(request)
    try:
        batch = services.source_apply(actor=person, row=find_changeable(CalendarSource, person, pk))
    except ApplicationError as error:
        return _refused(request, error)
    messages.success(request, "The days are saved.")
    return redirect("import_preview", batch.pk)


@may_import
@require_POST
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what the events of a title in doubt are."""
    person = person_of(request)
    row = find_changeable(CalendarSource, person, pk)
    title, kind = request.POST.get("title", ""), request.POST.get("kind", "")
    try:
        until = end_in(request, "until")
        batch = services.source_answer(actor=person, row=row, title=title, kind=kind, until=until)
    except ApplicationError as error:
        return _refused(request, error)
    messages.success(request, "Your answer is saved. It is kept with the words, so you won't be asked again.")
    return redirect("import_preview", batch.pk)


def _refused(request: HttpRequest, error: ApplicationError) -> HttpResponse:
    """Why not, on the page of the calendar; what isn't there or isn't allowed gets its own page."""
    if error.status in {403, 404}:
        raise error
    messages.error(request, error.message)
    return redirect("calendar")

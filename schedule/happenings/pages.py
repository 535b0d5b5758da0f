"""Something happened: what it is, what it does before it is saved, and taking it back."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import do_and_say
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import Happening
from schedule.calendar.models.happenings import KIND_WORDS
from schedule.happenings.effects import HappeningEffects
from schedule.happenings.forms import HappeningForm, kinds_of
from schedule.happenings.selectors import happening_get, happenings_from, told_of
from schedule.happenings.services.foreseeing import happening_foresee
from schedule.happenings.services.saying import SAY, happening_say, happening_take_back
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, viewer_of
from schedule.weeks.selectors.pages import district_today

SAID = "Saved. It is in every calendar and on the day; take it back whole with one press below."


@require_safe
@permission_required(SAY, raise_exception=True)
def happenings(request: HttpRequest) -> HttpResponse:
    """What can have happened, and what stands from today on."""
    viewer = viewer_of(request)
    asked = date_in(request, "date")
    context = {
        "groups": kinds_of(viewer),
        "date": asked,
        "standing": told_of(viewer, happenings_from(viewer, district_today(viewer))),
    }
    return render(request, "schedule/happenings/happenings.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(SAY, raise_exception=True)
def happening_new(request: HttpRequest) -> HttpResponse:
    """What one kind needs; then what it does; then it is saved."""
    viewer, kind = viewer_of(request), _kind(request)
    initial = {"first_date": date_in(request, "date") or district_today(viewer)}
    form = HappeningForm(request.POST or None, kind=kind, viewer=viewer, initial=initial)
    if request.method != "POST":
        return _page(request, form)
    if not form.is_valid():
        return _page(request, form, status=422)
    try:
        if "save" not in request.POST:
            found = happening_foresee(actor=viewer, values=form.values, buildings=form.chosen)
            return _page(request, form, effects=found)
        row = happening_say(actor=viewer, values=form.values, buildings=form.chosen)
    except ValidationError as error:
        form.refuse(error)
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        form.add_error(None, error.message)
    else:
        messages.success(request, SAID)
        return redirect(_after(viewer, row))
    return _page(request, form, status=422)


def _kind(request: HttpRequest) -> HappeningKind:
    try:
        return HappeningKind(request.POST.get("kind") or request.GET.get("kind", ""))
    except ValueError as error:
        raise Http404 from error


def _after(viewer: Person, row: Happening) -> str:
    """The day that it is about, for whoever drives it; else the list."""
    if viewer.is_teacher:
        return reverse("day_of", args=[row.first_date])
    return reverse("happenings")


def _after_sending(viewer: Person) -> str:
    """The same, for the script: it puts the day in."""
    return reverse("day_of", args=["DATE"]) if viewer.is_teacher else reverse("happenings")


def _page(
    request: HttpRequest, form: HappeningForm, *, effects: HappeningEffects | None = None, status: int = 200
) -> HttpResponse:
    back = reverse("happenings") + query(date=date_in(request, "date"))
    sent = [(name, text) for name in request.POST if name in form.fields for text in request.POST.getlist(name)]
    context: dict[str, Any] = {
        "form": form,
        "kind": form.kind,
        "title": KIND_WORDS[form.kind],
        "effects": effects,
        "sent": sent,
        "back": back,
        "done": _after_sending(form.viewer),
        "said": SAID,
        "crumbs": [("Something happened", back)],
    }
    return render(request, "schedule/happenings/happening.html", context, status=status)


@require_POST
@permission_required(SAY, raise_exception=True)
def happening_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take it back, whole."""
    viewer = viewer_of(request)
    row = happening_get(viewer, pk)
    done = f"Taken back: {row}. The days are as they were."
    do_and_say(request, lambda: happening_take_back(actor=viewer, row=row), done)
    pages = {"day": _after(viewer, row), "calendar": reverse("calendar")}
    return redirect(next((page for name, page in pages.items() if name in request.POST), reverse("happenings")))

"""A teacher's own calendars that block planning: add one, read it again, take it out."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import find_changeable, person_of
from schedule.calendar.models import BusyCalendar
from schedule.calendar.services.busy import busy_add, busy_again, busy_delete
from schedule.feeds.forms import BusyForm
from schedule.feeds.pages.feeds import crumbs, feeds_page


def _teacher(request: HttpRequest) -> Person:
    person = person_of(request)
    if not person.is_teacher or not person.has_perm("week.change"):
        raise PermissionDenied
    return person


def _added(person: Person, form: BusyForm) -> bool:
    """Whether the calendar was added; if not, the form says why."""
    file = form.cleaned_data["file"]
    try:
        busy_add(
            actor=person,
            title=form.cleaned_data["title"],
            address=form.cleaned_data["address"],
            content=file.read() if file is not None else None,
        )
    except ValidationError as error:
        form.refuse(error)
    except ApplicationError as error:
        form.add_error("file" if file is not None else None, error.message)
    return form.is_valid()


@require_http_methods(["GET", "HEAD", "POST"])
def busy_new(request: HttpRequest) -> HttpResponse:
    """A calendar by its address or as a file."""
    person = _teacher(request)
    form = BusyForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid() and _added(person, form):
        messages.success(request, "Added. Planning stays clear of its times from the next plan on.")
        return redirect("feeds")
    context = {"form": form, "title": "A calendar of your own", "back": feeds_page(), "crumbs": crumbs()}
    context |= {"lead": "Its times block planning. Only times are kept: no title and no place.", "with_file": True}
    return render(request, "schedule/feeds/form.html", context, status=422 if form.is_bound else 200)


@require_POST
def busy_read_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for an address to be read again."""
    busy_again(actor=person_of(request), row=find_changeable(BusyCalendar, person_of(request), pk))
    messages.success(request, "It is being read again.")
    return redirect("feeds")


@require_POST
def busy_take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget a calendar and its times."""
    busy_delete(actor=person_of(request), row=find_changeable(BusyCalendar, person_of(request), pk))
    messages.success(request, "It is removed. Its times no longer block planning.")
    return redirect("feeds")

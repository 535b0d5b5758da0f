"""Beside a term: what its timetable costs between routine and least driving, and a choice that becomes the plan."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import do_and_say
from schedule.terms.models import TermPlan
from schedule.terms.selectors.curve import curve_get, term_curve
from schedule.terms.selectors.terms import term_get
from schedule.terms.services import curve as services
from schedule.weeks.curve import curve_drawing
from schedule.weeks.pages.request import place_in_list, viewer_of


def curve_context(viewer: Person, term: TermPlan) -> dict[str, Any]:
    """What a term's page needs for its choices."""
    found = term_curve(viewer, term)
    points = [(one.open - one.kept, one.drive_minutes) for one in found.points] if found is not None else []
    return {
        "term_id": term.pk,
        "curve": found,
        "curve_drawing": curve_drawing(points),
        "curve_takeable": services.is_takeable(term),
    }


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required("week.change", raise_exception=True)
def curve(request: HttpRequest, term_id: int) -> HttpResponse:
    """Ask for the choices; or their part of the page, which asks for itself again while they are worked out."""
    viewer = viewer_of(request)
    row = term_get(viewer, term_id)
    if request.method == "POST":
        try:
            services.term_curve_ask(actor=viewer, term=row)
        except ApplicationError as error:
            messages.error(request, error.message)
    elif request.headers.get("HX-Request"):
        return render(request, "schedule/terms/_curve.html", curve_context(viewer, row))
    return redirect(_section(term_id))


def _section(term_id: int) -> str:
    return f"{reverse('term', args=[term_id])}#curve"


@require_POST
@permission_required("week.change", raise_exception=True)
def curve_stop(request: HttpRequest, term_id: int) -> HttpResponse:
    """End the search for choices with those found so far."""
    viewer = viewer_of(request)
    services.term_curve_stop(actor=viewer, curve=curve_get(viewer, term_get(viewer, term_id)))
    messages.info(request, "Stopping. What was found so far is kept.")
    return redirect(_section(term_id))


@require_POST
@permission_required("week.change", raise_exception=True)
def point_take(request: HttpRequest, term_id: int) -> HttpResponse:
    """Make the weeks of one choice the term's drafts."""
    viewer = viewer_of(request)
    row, worth = term_get(viewer, term_id), place_in_list(request, "worth")
    if worth is None:
        raise Http404
    done = "These weeks are the term's drafts now. Another choice can be taken as well."
    do_and_say(request, lambda: services.term_point_take(actor=viewer, term=row, worth=worth), done, raised=(404,))
    return redirect(_section(term_id))

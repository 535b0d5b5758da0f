"""Starting the coming year, and taking it back."""

from collections.abc import Callable

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from accounts.pages import do_and_say, person_of
from schedule.long_steps.models import LongStep
from schedule.next_year.pages.drafts import crumbs_of
from schedule.next_year.selectors.drafts import next_year_get
from schedule.next_year.services.asked import next_year_start_ask, next_year_take_back_ask
from schedule.next_year.services.drafting import PERMISSION
from schedule.next_year.services.starting import next_year_foreseen


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def next_year_starting(request: HttpRequest, pk: int) -> HttpResponse:
    """What starting writes, then start."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    if request.method == "POST":
        return _asked(request, lambda: next_year_start_ask(actor=viewer, row=row), "next_year_start", pk)
    context = {"row": row, "foreseen": next_year_foreseen(actor=viewer, row=row), "crumbs": crumbs_of(row)}
    return render(request, "schedule/next_year/start.html", context)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def next_year_taking_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back all that starting wrote."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    return _asked(request, lambda: next_year_take_back_ask(actor=viewer, row=row), "next_year", pk)


def _asked(request: HttpRequest, ask: Callable[[], LongStep], back: str, pk: int) -> HttpResponse:
    """On to the page that shows how far it is; or back, with why it is refused."""
    step = do_and_say(request, ask)
    return redirect(back, pk) if step is None else redirect("long_step", step.pk)

"""Taking back what one tap logged."""

import uuid

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.delivery.selectors.sendings import sending_get
from caseload.delivery.services.undo import TakenBack, sending_undo
from schedule.log.pages.ways import way_back
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, number_in, viewer_of


@require_POST
@permission_required("log.write", raise_exception=True)
def log_undo(request: HttpRequest) -> HttpResponse:
    """Take back what one tap logged, back to its day; where something was changed since, say what and ask."""
    viewer = viewer_of(request)
    uid = _sending(request)
    back = _back(request)
    try:
        done = sending_undo(actor=viewer, sending=uid, keep_changed="keep" in request.POST)
    except ValidationError as error:
        for text in error.messages:
            messages.error(request, text)
    except ApplicationError as error:
        if error.code == "changed_since":
            return _asked(request, viewer, uid, back)
        raise
    else:
        messages.success(request, _words(done))
    return redirect(back)


def _back(request: HttpRequest) -> str:
    """The page that the button stands on, at its session."""
    date, teacher = date_in(request, "date"), number_in(request, "teacher")
    if date is None:
        return reverse("log") + query(teacher=teacher)
    try:
        uid = uuid.UUID(request.GET.get("uid", ""))
    except ValueError:
        uid = None
    return way_back(request, teacher, date, uid)


def _sending(request: HttpRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("sending", ""))
    except ValueError as error:
        raise Http404 from error


def _asked(request: HttpRequest, viewer: Person, uid: uuid.UUID, back: str) -> HttpResponse:
    """What was changed since, with names for the person who may see them, and the others to take back."""
    context = {
        "found": sending_get(viewer, uid),
        "back": back,
        "here": request.get_full_path(),
        "crumbs": [("Log", back)],
    }
    return render(request, "schedule/log/undo.html", context, status=409)


def _words(done: TakenBack) -> str:
    count = len(done.entries)
    left = f" {done.left} changed since {'was' if done.left == 1 else 'were'} left." if done.left else ""
    return (
        f"Taken back: {done.sessions} session{'s' if done.sessions != 1 else ''}, {count} "
        f"entr{'ies' if count != 1 else 'y'}, waiting to be logged again. The history keeps what was logged.{left}"
    )

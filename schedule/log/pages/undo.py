"""Taking back what one tap logged: the buttons on the log's page, and what they do."""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.delivery.selectors.sendings import Sending, sending_get, sendings_of_date
from caseload.delivery.services.undo import TakenBack, sending_undo
from schedule.calendar.models import Happening
from schedule.log.selectors.sessions import LogSession
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, number_in, viewer_of


@dataclass(frozen=True, slots=True)
class Undos:
    """The taps about a day that can be taken back: those about several sessions, and the latest of each session."""

    whole: tuple[Sending, ...]
    by_session: dict[uuid.UUID, Sending]


def undos_of(viewer: Person, date: dt.date, sessions: Iterable[LogSession]) -> Undos:
    """What the viewer may take back of what the viewer logged about a date."""
    if not viewer.has_perm("log.write"):
        return Undos((), {})
    sendings = _taps(viewer, date)
    single = {
        sent.entry_id: one for one in reversed(sendings) if one.sessions == 1 for sent in one.standing
    }  # the latest last: it stays
    found: dict[uuid.UUID, Sending] = {}
    for session in sessions:
        mine = _sendings_in(session, single)
        if mine:
            found[session.uid] = max(mine, key=_logged_at)
    return Undos(tuple(one for one in sendings if one.sessions > 1), found)


def _taps(viewer: Person, date: dt.date) -> list[Sending]:
    """The viewer's own; what was logged by something that happened is taken back with it, whole, and not here."""
    said = set(Happening.objects.filter(said_by=viewer, last_date__gte=date).values_list("sending", flat=True))
    return [one for one in sendings_of_date(viewer, date) if one.uid not in said]


def _sendings_in(session: LogSession, single: Mapping[int, Sending]) -> list[Sending]:
    """What logged the students of a session, where it logged nothing else."""
    entries = [one.entry for one in session.attendees if one.entry is not None]
    return [single[entry.id] for entry in entries if entry.id in single]


def _logged_at(sending: Sending) -> dt.datetime:
    return sending.logged_at


@require_POST
@permission_required("log.write", raise_exception=True)
def log_undo(request: HttpRequest) -> HttpResponse:
    """Take back what one tap logged, back to its day; where something was changed since, say what and ask."""
    viewer = viewer_of(request)
    uid = _sending(request)
    back = reverse("log") + query(teacher=number_in(request, "teacher"), date=date_in(request, "date"))
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

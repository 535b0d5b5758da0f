"""The screen of the session that runs: its clock, who comes, data on goals, and its log."""

import datetime as dt
import uuid
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.models import Person
from schedule.class_hour.pages.hours import run_context
from schedule.log.pages.ways import RUN
from schedule.log.selectors.sessions import session_if_logged
from schedule.log.selectors.undos import undos_of
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import viewer_of


@require_safe
@permission_required("caseload.view", raise_exception=True)
def class_hour_run(request: HttpRequest, date: str, uid: uuid.UUID) -> HttpResponse:
    """The running view: everything that it needs comes with the page."""
    viewer = viewer_of(request)
    context = run_context(request, date, uid)
    return render(request, "schedule/class_hour/run.html", context | _log_context(viewer, context["date"], uid))


def _log_context(viewer: Person, date: dt.date, uid: uuid.UUID) -> dict[str, Any]:
    """The session as the log sees it, for whoever logs it, and the viewer's tap that logged it."""
    session = session_if_logged(viewer, uid) if viewer.has_perm("log.view") else None
    if session is None:
        return {"log": None, "attending": {}, "undo": None}
    undo = undos_of(viewer, date, {session.uid: session.entry_ids}).by_session.get(session.uid)
    teacher = None if session.teacher_id == viewer.pk else session.teacher_id
    back = {"teacher": teacher, "date": date, "back": RUN, "uid": session.uid}
    return {
        "log": session,
        "undo_url": reverse("log_undo") + query(**back),
        "attending": {one.line_id: one for one in session.attendees},
        "undo": undo,
        "may_log": viewer.has_perm("log.write") and bool(session.waiting),
    }

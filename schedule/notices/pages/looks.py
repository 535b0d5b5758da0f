"""What changed since somebody last looked: seen, taken back, and the part of the week's page that lists it."""

import datetime as dt

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.models import Person
from accounts.pages import do_and_say
from schedule.notices.forms import ChangesSeenForm
from schedule.notices.selectors.looks import changes_since_look
from schedule.notices.services.looks import changes_seen, changes_unseen
from schedule.notices.services.settings import HEAR
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, number_in, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import district_today, teacher_for

CHANGED = "The page was too old to say what you saw. Here is what changed."


@require_safe
def week_since(request: HttpRequest) -> HttpResponse:
    """What changed of a week; the week's page takes it in, and without scripts it is a page."""
    viewer, teacher = _who(request)
    monday = monday_of(date_in(request, "week") or district_today(viewer))
    dates = [monday + dt.timedelta(days=n) for n in range(7)]
    since = changes_since_look(viewer, teacher, dates, timezone.now()) if teacher else None
    context = {"since": since, "teacher": teacher, "monday": monday, "whole_week": True}
    return render(request, "schedule/notices/since.html", context)


@require_POST
def seen(request: HttpRequest) -> HttpResponse:
    """The listed changes were seen."""
    return _said(request, back=False)


@require_POST
def unseen(request: HttpRequest) -> HttpResponse:
    """They weren't after all."""
    return _said(request, back=True)


def _said(request: HttpRequest, *, back: bool) -> HttpResponse:
    viewer, teacher = _who(request)
    form = ChangesSeenForm(request.POST)
    if teacher is None or not form.is_valid():
        messages.error(request, CHANGED)
        return redirect("day")
    dates, until = form.cleaned_data["dates"], form.cleaned_data["until"]
    if back:
        do_and_say(request, lambda: changes_unseen(actor=viewer, teacher=teacher, dates=dates))
    else:
        do_and_say(request, lambda: changes_seen(actor=viewer, teacher=teacher, dates=dates, until=until))
    whose = None if teacher == viewer else teacher.pk
    if form.cleaned_data["week"]:
        return redirect(reverse("week") + query(teacher=whose, week=monday_of(dates[0])))
    return redirect(reverse("day_of", args=[dates[0]]) + (query(teacher=whose) if whose else ""))


def _who(request: HttpRequest) -> tuple[Person, Person | None]:
    """Who asks, and whose days."""
    viewer = viewer_of(request)
    if not viewer.has_perm(HEAR):
        raise PermissionDenied
    return viewer, teacher_for(viewer, number_in(request, "teacher"))

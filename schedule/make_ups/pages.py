"""Minutes to make up: the list, the slots of one service, booking with one tap, all together in the background."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from schedule.calendar.words import clock_words
from schedule.make_ups.forms import BookForm, PlanAllForm, SlotsUntilForm
from schedule.make_ups.minutes import too_few_words
from schedule.make_ups.selectors.slots import line_to_make_up, make_up_needs, make_up_slots
from schedule.make_ups.services.booking import make_up_book, make_up_cancel
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import number_in, uid_in, viewer_of
from schedule.weeks.selectors.pages import district_today, teacher_for, teachers_for
from schedule.weeks.selectors.weeks import week_get

SHOWN = 12
BAD_CHOICE = "Choose one of the slots in the list."


@require_safe
@permission_required("week.change", raise_exception=True)
def make_ups(request: HttpRequest) -> HttpResponse:
    """Every service of a teacher with open minutes or a booked make-up."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    needs = make_up_needs(viewer, teacher, district_today(viewer))
    context = {
        "needs": [one for one in needs if one.open],
        "booked": [(need, one) for need in needs for one in need.booked],
        "plannable": any(one.open and not one.too_few for one in needs),
        "minutes": sum(one.minutes for one in needs),
        "teacher": teacher,
        "teachers": teachers_for(viewer) if viewer.is_coordinator else (),
        "form": PlanAllForm(initial={"weeks": 4}),
        "crumbs": [("Attention", reverse("attention") + query(teacher=teacher.pk))],
    }
    return render(request, "schedule/make_ups/list.html", context)


@require_safe
@permission_required("week.change", raise_exception=True)
def slots(request: HttpRequest, line_id: int) -> HttpResponse:
    """Where the open minutes of one service fit, best first."""
    viewer = viewer_of(request)
    line = line_to_make_up(viewer, line_id)
    form = SlotsUntilForm(request.GET or None)
    until = form.cleaned_data["until"] if form.is_valid() else None
    found = make_up_slots(viewer, line, district_today(viewer), until)
    everything = request.GET.get("all") == "1"
    context = {
        "found": found,
        "form": form if form.is_bound else SlotsUntilForm(initial={"until": found.until}),
        "slots": found.slots if everything else found.slots[:SHOWN],
        "more": 0 if everything else max(len(found.slots) - SHOWN, 0),
        "more_url": query(until=found.until, all=1),
        "too_few": too_few_words(found.need.minutes) if found.need.too_few else "",
        "line": line,
        "student": line.plan.student,
        "crumbs": [("Make-ups", reverse("make_ups") + query(teacher=line.provider_id))],
    }
    return render(request, "schedule/make_ups/slots.html", context)


@require_POST
@permission_required("week.change", raise_exception=True)
def book(request: HttpRequest, line_id: int) -> HttpResponse:
    """Book one slot."""
    viewer = viewer_of(request)
    line = line_to_make_up(viewer, line_id)
    form = BookForm(request.POST)
    if not form.is_valid():
        messages.error(request, BAD_CHOICE)
        return redirect("make_up_slots", line_id)
    try:
        week = make_up_book(actor=viewer, line=line, today=district_today(viewer), **form.cleaned_data)
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        messages.error(request, error.message)
    else:
        messages.success(request, _booked(form.cleaned_data["date"], form.cleaned_data["start"], week.status))
    return redirect("make_up_slots", line_id)


def _booked(date: dt.date, start: dt.time, status: str) -> str:
    when = f"{date:%A, %B %-d}, {clock_words(start.hour * 60 + start.minute)}"
    if status == "published":
        return f"Booked: {when}. It is in the week."
    return f"Booked: {when}. That week isn't in force yet; the make-up is in its draft."


@require_POST
@permission_required("week.change", raise_exception=True)
def cancel(request: HttpRequest, week_id: int) -> HttpResponse:
    """Take a booking back."""
    viewer = viewer_of(request)
    week = week_get(viewer, week_id)
    try:
        make_up_cancel(actor=viewer, week=week, uid=str(uid_in(request)))
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        messages.error(request, error.message)
    else:
        messages.success(request, "The booking is taken back. Its minutes are open again.")
    return redirect(reverse("make_ups") + query(teacher=week.teacher_id))


@require_POST
@permission_required("week.change", raise_exception=True)
def plan_all(request: HttpRequest) -> HttpResponse:
    """Place everything that is open in the background."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        raise Http404
    form = PlanAllForm(request.POST)
    back = reverse("make_ups") + query(teacher=teacher.pk)
    if not form.is_valid():
        messages.error(request, "Choose 1 to 6 weeks.")
        return redirect(back)
    try:
        run = make_ups_plan(
            actor=viewer, teacher=teacher, today=district_today(viewer), weeks=form.cleaned_data["weeks"]
        )
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        messages.error(request, error.message)
        return redirect(back)
    return redirect("plan_run", run.pk)

"""Beside a draft: what to ask for, what staying the same costs, a point of that as a draft, and a draft's name."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.weeks.curve import curve_drawing
from schedule.weeks.data import WeekLine
from schedule.weeks.models import WeekPlan, WeekQuestion
from schedule.weeks.pages.request import place_in_list, viewer_of
from schedule.weeks.selectors.questions import curve_found, favors_found, question_get
from schedule.weeks.selectors.scope import week_require
from schedule.weeks.selectors.weeks import week_get, week_in_force, week_versions
from schedule.weeks.services import questions as services

SECTIONS = {
    WeekQuestion.Kind.FAVORS.value: "schedule/weeks/_favors.html",
    WeekQuestion.Kind.CURVE.value: "schedule/weeks/_curve.html",
}


def questions_context(viewer: Person, found: WeekPlan) -> dict[str, Any]:
    """What a compare page needs for its questions."""
    curve = curve_found(viewer, found)
    favors = favors_found(viewer, found)
    points = [(one.moved, one.driving) for one in curve.points] if curve is not None else []
    return {
        "week_id": found.pk,
        "askable": found.status in {WeekPlan.Status.DRAFT, WeekPlan.Status.PUBLISHED},
        "favors": favors,
        "curve": curve,
        "curve_drawing": curve_drawing(points),
        "in_force": week_in_force(viewer, found.teacher, found.monday),
        "waiting": any(one is not None and not one.question.is_over for one in (curve, favors)),
    }


def version_words(line: WeekLine) -> str:
    """A version as a list of choices names it, with its state where the title doesn't say it."""
    return line.title if line.status == WeekPlan.Status.DRAFT else f"{line.title}, {line.status_label.lower()}"


def other_versions(viewer: Person, found: WeekPlan) -> list[tuple[int, str]]:
    """The versions that a week can be compared with, as choices."""
    lines = week_versions(viewer, found.teacher, found.monday)
    return [(line.week_id, version_words(line)) for line in lines if line.week_id != found.pk]


@require_safe
@permission_required("week.change", raise_exception=True)
def week_question(request: HttpRequest, week_id: int, kind: str) -> HttpResponse:
    """One question's part of the page, which asks for itself again while the answer is being worked out."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    week_require(viewer, found)
    if kind not in SECTIONS:
        raise Http404
    if not request.headers.get("HX-Request"):
        return redirect(_section(week_id, kind))
    return render(request, SECTIONS[kind], questions_context(viewer, found))


def _section(week_id: int, kind: str) -> str:
    return f"{reverse('week_compare', args=[week_id])}#{kind}"


@require_POST
@permission_required("week.change", raise_exception=True)
def week_question_ask(request: HttpRequest, week_id: int, kind: str) -> HttpResponse:
    """Ask; the answer comes in the background."""
    asks: dict[str, Callable[..., WeekQuestion]] = {
        WeekQuestion.Kind.FAVORS.value: services.week_favors_ask,
        WeekQuestion.Kind.CURVE.value: services.week_curve_ask,
    }
    if kind not in asks:
        raise Http404
    viewer = viewer_of(request)
    try:
        asks[kind](actor=viewer, week=week_get(viewer, week_id))
    except ApplicationError as error:
        if error.status == 404:
            raise
        messages.error(request, error.message)
    return redirect(_section(week_id, kind))


@require_POST
@permission_required("week.change", raise_exception=True)
def week_question_stop(request: HttpRequest, week_id: int, kind: str) -> HttpResponse:
    """End a question with what it has found so far."""
    viewer = viewer_of(request)
    question = question_get(viewer, week_get(viewer, week_id), kind)
    services.week_question_stop(actor=viewer, question=question)
    messages.info(request, "Stopping. What was found so far is kept.")
    return redirect(_section(week_id, kind))


@require_POST
@permission_required("week.change", raise_exception=True)
def week_point_save(request: HttpRequest, week_id: int) -> HttpResponse:
    """Save one point of the curve as a draft."""
    viewer = viewer_of(request)
    point = place_in_list(request, "point")
    if point is None:
        messages.error(request, "Choose one of the weeks in the list first.")
        return redirect(_section(week_id, "curve"))
    draft = services.week_point_save(actor=viewer, week=week_get(viewer, week_id), point=point)
    messages.success(request, "This week is saved as a draft.")
    return redirect("week_compare", draft.pk)


@require_POST
@permission_required("week.change", raise_exception=True)
def week_rename(request: HttpRequest, week_id: int) -> HttpResponse:
    """Give a draft a name."""
    viewer = viewer_of(request)
    name = request.POST.get("name", "")
    try:
        services.week_rename(actor=viewer, week=week_get(viewer, week_id), name=name)
    except ApplicationError as error:
        if error.status == 404:
            raise
        messages.error(request, error.message)
    else:
        messages.success(request, "The draft is named." if name.strip() else "The draft no longer has a name.")
    return redirect("week_compare", week_id)

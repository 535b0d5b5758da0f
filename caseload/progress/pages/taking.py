"""Taking data with one thumb: the page with a session's students side by side, each point, and taking it back.

Works by plain forms; `caseload/take.js` makes one tap of a trial, keeps points on the phone while there is no
signal, and sends them to the API under the same ids.
"""

import datetime as dt
import uuid

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.models import Person
from accounts.pages import do_and_say, find_visible, person_of
from accounts.selectors import today_of
from accounts.validation import date_problem
from caseload.progress.forms import DataForm
from caseload.progress.models import DataPoint, StudentGoal
from caseload.progress.pages.goals import goal_page
from caseload.progress.selectors.goals import goal_figure
from caseload.progress.selectors.taking import taking_of
from caseload.progress.services import DataTaken, data_restore, data_take, data_undo
from caseload.progress.services.data import TAKE

MOST_STUDENTS = 40


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(TAKE, raise_exception=True)
def data_page(request: HttpRequest) -> HttpResponse:
    """The goals of the students whom the address names, with what takes data on each; a POST stores one point."""
    if request.method == "POST":
        return _taken(request)
    return _page(request)


def _page(request: HttpRequest, problem: str = "", status: int = 200) -> HttpResponse:
    person = person_of(request)
    day = _day_of(request) or today_of(person)
    students = [one for text in request.GET.getlist("student")[:MOST_STUDENTS] if (one := id_read(text))]
    taking = taking_of(person, students, day=day, session_uid=_uid(request.GET.get("session", "")))
    context = {"taking": taking, "problem": problem, "back": request.get_full_path()}
    return render(request, "caseload/progress/take.html", context, status=status)


def _day_of(request: HttpRequest) -> dt.date | None:
    try:
        day = dt.date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None
    return None if date_problem(day) else day


def _uid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def _taken(request: HttpRequest) -> HttpResponse:
    """One point from a plain form, back to the page that it came from."""
    person = person_of(request)
    goal = find_visible(StudentGoal, person, id_read(request.POST.get("goal", "")) or 0)
    form = DataForm(request.POST)
    if not form.is_valid():
        words = [str(error) for errors in form.errors.values() for error in errors]
        return _page(request, " ".join(words), 422)
    try:
        point = data_take(actor=person, taken=DataTaken(goal=goal, **form.cleaned_data))
    except ValidationError as error:
        return _page(request, " ".join(error.messages), 422)
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        return _page(request, error.message, 409)
    messages.success(request, f"Saved: {goal_figure(goal, point.value, point.tried)}.")
    return redirect(f"{request.get_full_path()}#goal-{goal.pk}")


@require_POST
@permission_required(TAKE, raise_exception=True)
def data_point_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a point back."""
    person = person_of(request)
    point = _point(person, pk)
    data_undo(actor=person, row=point)
    messages.success(request, "Taken back. It is kept below, and can be counted again.")
    return redirect(_onward(request, point))


@require_POST
@permission_required(TAKE, raise_exception=True)
def data_point_restore(request: HttpRequest, pk: int) -> HttpResponse:
    """Count a point again."""
    person = person_of(request)
    point = _point(person, pk)
    do_and_say(request, lambda: data_restore(actor=person, row=point), "It counts again.")
    return redirect(goal_page(point.goal))


def _point(person: Person, pk: int) -> DataPoint:
    point = DataPoint.objects.visible_to(person).select_related("goal__student").filter(pk=pk).first()
    if point is None:
        raise Http404
    return point


def _onward(request: HttpRequest, point: DataPoint) -> str:
    """The goal's page, or the taking of the student's data that the button stands on."""
    if request.POST.get("next") == "take":
        return f"{reverse('data_take')}?student={point.goal.student_id}&day={point.day}#goal-{point.goal_id}"
    return goal_page(point.goal)

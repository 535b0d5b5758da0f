"""Asking for a plan and watching it being made."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.models import Person
from accounts.pages import do_and_say, watched
from schedule.weeks.forms import PlanWeeksForm
from schedule.weeks.models import PlanRun
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, date_of, number_in, started, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import caseload_is_empty, district_today, teacher_for, teachers_for
from schedule.weeks.selectors.runs import latest_run, run_detail, run_get
from schedule.weeks.selectors.school_weeks import next_week_to_plan
from schedule.weeks.services.runs import plan_run_start, plan_run_stop


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required("week.change", raise_exception=True)
def plan(request: HttpRequest) -> HttpResponse:
    """Choose dates and press the button; the next school week without a plan unless the address names one."""
    viewer = viewer_of(request)
    teachers = teachers_for(viewer)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    asked = date_in(request, "week")
    monday = monday_of(asked) if asked else next_week_to_plan(viewer, teacher, district_today(viewer))
    friday = monday + dt.timedelta(days=4)
    first = date_in(request, "first") or monday
    form = PlanWeeksForm(
        request.POST or None,
        teachers=teachers,
        initial={"teacher": teacher, "first_date": min(max(first, monday), friday), "last_date": friday},
    )
    if request.method == "POST" and form.is_valid():
        run = _started(viewer, form, teacher)
        if run is not None:
            return redirect("plan_run", run.pk)
    context = {
        "form": form,
        "teacher": teacher,
        "run": _unfinished(viewer, teacher),
        "caseload_empty": caseload_is_empty(teacher, monday, monday + dt.timedelta(days=6)),
    }
    return render(request, "schedule/weeks/plan.html", context, status=200 if not form.errors else 422)


def _unfinished(viewer: Person, teacher: Person) -> PlanRun | None:
    run = latest_run(viewer, teacher)
    return run if run is not None and not run.job.is_over else None


def _started(viewer: Person, form: PlanWeeksForm, teacher: Person) -> PlanRun | None:
    """The run, or None with the reason standing in the form."""
    values = form.cleaned_data
    return started(
        form,
        lambda: plan_run_start(
            actor=viewer,
            teacher=values.get("teacher", teacher),
            first_date=values["first_date"],
            last_date=values["last_date"],
            time_limit=values["time_limit"],
            keep_pins=values["keep_pins"],
            aim=values["aim"],
        ),
    )


REST_SECONDS = 5
"""Of work: a day or two are planned in one."""


@require_POST
@permission_required("week.change", raise_exception=True)
def plan_rest(request: HttpRequest) -> HttpResponse:
    """Plan the rest of a day (`scope` day), or of its week, again: a draft to accept."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        raise Http404
    first = date_of(request.POST.get("date", ""))
    last = first if request.POST.get("scope") == "day" else monday_of(first) + dt.timedelta(days=6)
    run = do_and_say(
        request,
        lambda: plan_run_start(
            actor=viewer, teacher=teacher, first_date=first, last_date=last, time_limit=REST_SECONDS, rest=True
        ),
    )
    if run is None:
        return redirect(reverse("day_of", args=[first]) + query(teacher=None if teacher == viewer else teacher.pk))
    return redirect("plan_run", run.pk)


@require_safe
@permission_required("week.change", raise_exception=True)
def plan_run(request: HttpRequest, run_id: int) -> HttpResponse:
    """How far a run is; its drafts when it is over. htmx asks for the moving part only."""
    viewer = viewer_of(request)
    run = run_get(viewer, run_id)
    view = run_detail(viewer, run)
    template = "schedule/weeks/run.html"
    context = {
        "run": view,
        "teacher": run.teacher,
        "crumbs": [("Plan", reverse("plan") + query(teacher=run.teacher_id, week=run.first_date))],
        "again_url": reverse("plan") + query(teacher=run.teacher_id, week=run.first_date),
        "day_url": reverse("day_of", args=[run.first_date])
        + query(teacher=None if run.teacher == viewer else run.teacher_id),
    }
    return watched(request, template, context)


@require_POST
@permission_required("week.change", raise_exception=True)
def plan_run_end(request: HttpRequest, run_id: int) -> HttpResponse:
    """Stop a run; the best plan so far is kept."""
    viewer = viewer_of(request)
    plan_run_stop(actor=viewer, run=run_get(viewer, run_id))
    messages.info(request, "Stopping. The best plan found so far is kept.")
    return redirect("plan_run", run_id)

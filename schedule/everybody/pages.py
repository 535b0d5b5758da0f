"""Planning everybody's week: asking for it, watching it, stopping it, taking it back."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.pages import do_and_say, watched
from schedule.everybody.forms import PlanEverybodyForm
from schedule.everybody.models import EverybodyPlan
from schedule.everybody.selectors.sharing import TeacherStanding, teachers_standing
from schedule.everybody.selectors.shown import everybody_get, everybody_view
from schedule.everybody.services import everybody_start, everybody_stop, everybody_take_back
from schedule.weeks.pages.request import date_in, started, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import district_today, teachers_for

MAY = "together.plan"
LATEST = 10


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(MAY, raise_exception=True)
def everybody(request: HttpRequest) -> HttpResponse:
    """Choose a week and its teachers; those without a week in force are proposed."""
    viewer = viewer_of(request)
    next_week = monday_of(district_today(viewer)) + dt.timedelta(days=7)
    monday = monday_of(date_in(request, "week") or next_week)
    standing = teachers_standing(viewer, monday)
    teachers = teachers_for(viewer).filter(is_active=True)
    form = PlanEverybodyForm(request.POST or None, teachers=teachers, initial={"monday": monday})
    if request.method == "POST" and form.is_valid():
        plan = started(form, lambda: everybody_start(actor=viewer, **form.cleaned_data))
        if plan is not None:
            return redirect("everybody_plan", plan.pk)
    plans = EverybodyPlan.objects.visible_to(viewer)
    context = {
        "form": form,
        "standing": standing,
        "chosen": set(request.POST.getlist("teachers")) if form.is_bound else _ticked(request, standing),
        "monday": monday,
        "under_way": plans.filter(ended_at=None).first(),
        "plans": plans[:LATEST],
    }
    return render(request, "schedule/everybody/ask.html", context, status=422 if form.errors else 200)


def _ticked(request: HttpRequest, standing: list[TeacherStanding]) -> set[str]:
    """Whose boxes are ticked: all or none where that is asked for, else those who lack a week in force."""
    asked = request.GET.get("tick", "")
    if asked == "none":
        return set()
    if asked == "all":
        return {str(one.teacher_id) for one in standing if not one.lacks}
    return {str(one.teacher_id) for one in standing if one.status != "published" and not one.lacks}


@require_safe
@permission_required(MAY, raise_exception=True)
def everybody_plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """How far a plan is, teacher by teacher. htmx asks for the moving part only."""
    viewer = viewer_of(request)
    template = "schedule/everybody/plan.html"
    context = {
        "plan": everybody_view(viewer, everybody_get(viewer, plan_id)),
        "crumbs": [("Plan everybody", reverse("everybody"))],
    }
    return watched(request, template, context)


@require_POST
@permission_required(MAY, raise_exception=True)
def everybody_end(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Stop a plan; the best weeks so far are kept."""
    viewer = viewer_of(request)
    everybody_stop(actor=viewer, plan=everybody_get(viewer, plan_id))
    messages.info(request, "Stopping. The weeks found so far are kept.")
    return redirect("everybody_plan", plan_id)


@require_POST
@permission_required(MAY, raise_exception=True)
def everybody_back(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Set all drafts of a plan aside."""
    viewer = viewer_of(request)
    plan = everybody_get(viewer, plan_id)
    do_and_say(
        request,
        lambda: everybody_take_back(actor=viewer, plan=plan),
        lambda count: f"{count} draft{' is' if count == 1 else 's are'} set aside.",
    )
    return redirect("everybody_plan", plan_id)

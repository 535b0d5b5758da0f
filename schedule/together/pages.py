"""Planning several teachers together, watching it, publishing what comes of it."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.pages import do_and_say, watched
from schedule.together.forms import PlanTogetherForm
from schedule.together.models import TogetherPlan
from schedule.together.selectors import sharing_in, together_get, together_view
from schedule.together.services import together_plan_start, together_plan_stop, together_publish
from schedule.weeks.pages.request import date_in, started, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import district_today, teachers_for

MAY = "together.plan"
LATEST = 10


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(MAY, raise_exception=True)
def together(request: HttpRequest) -> HttpResponse:
    """Choose teachers and a week; who shares buildings or students then is proposed."""
    viewer = viewer_of(request)
    next_week = monday_of(district_today(viewer)) + dt.timedelta(days=7)
    monday = monday_of(date_in(request, "week") or next_week)
    sharing = sharing_in(viewer, monday)
    chosen = sharing[0].teachers if sharing else ()
    form = PlanTogetherForm(
        request.POST or None,
        teachers=teachers_for(viewer).filter(is_active=True),
        initial={"monday": monday, "teachers": list(chosen)},
    )
    if request.method == "POST" and form.is_valid():
        row = started(form, lambda: together_plan_start(actor=viewer, **form.cleaned_data))
        if row is not None:
            return redirect("together_plan", row.pk)
    plans = TogetherPlan.objects.visible_to(viewer).select_related("job").prefetch_related("teachers")[:LATEST]
    context = {"form": form, "sharing": sharing, "monday": monday, "plans": plans}
    return render(request, "schedule/together/ask.html", context, status=422 if form.errors else 200)


@require_safe
@permission_required(MAY, raise_exception=True)
def together_plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """How far a plan is; its drafts when it is over. htmx asks for the moving part only."""
    viewer = viewer_of(request)
    template = "schedule/together/plan.html"
    context = {
        "plan": together_view(viewer, together_get(viewer, plan_id)),
        "crumbs": [("Plan together", reverse("together"))],
    }
    return watched(request, template, context)


@require_POST
@permission_required(MAY, raise_exception=True)
def together_stop(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Stop a plan; the best weeks so far are kept."""
    viewer = viewer_of(request)
    together_plan_stop(actor=viewer, row=together_get(viewer, plan_id))
    messages.info(request, "Stopping. The best weeks found so far are kept.")
    return redirect("together_plan", plan_id)


@require_POST
@permission_required(MAY, raise_exception=True)
def together_publishing(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Put all drafts of a plan in force, or none."""
    viewer = viewer_of(request)
    row = together_get(viewer, plan_id)
    do_and_say(
        request,
        lambda: together_publish(actor=viewer, row=row),
        lambda count: f"{count} week{' is' if count == 1 else 's are'} in force.",
    )
    return redirect("together_plan", plan_id)

"""Watching a step that is done in the background, and stopping it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.pages import person_of, watched
from schedule.long_steps.models import LongStep
from schedule.long_steps.selectors import LongStepView, step_get, step_view
from schedule.long_steps.services import step_stop

MAY = "long_steps.watch"
Kind = LongStep.Kind
ABOUT = {
    Kind.START_YEAR: ("next_year", "The coming year"),
    Kind.YEAR_BACK: ("next_year", "The coming year"),
    Kind.TAKE_OVER: ("assigning_proposal", "The proposal"),
    Kind.TAKE_OVER_BACK: ("assigning_proposal", "The proposal"),
}
"""The page of what a step is about, and what it is called there."""
AGAIN = {
    Kind.START_YEAR: "next_year_start",
    Kind.YEAR_BACK: "next_year",
    Kind.TAKE_OVER: "proposal_take_over",
    Kind.TAKE_OVER_BACK: "assigning_proposal",
}
"""Where it is asked for."""


@require_safe
@permission_required(MAY, raise_exception=True)
def long_step(request: HttpRequest, step_id: int) -> HttpResponse:
    """How far a step is. htmx asks for the moving part only."""
    viewer = person_of(request)
    step = step_view(viewer, step_get(viewer, step_id))
    template = "schedule/long_steps/step.html"
    context = {"step": step, **_ways(step)}
    return watched(request, template, context)


def _ways(step: LongStepView) -> dict[str, object]:
    """Back to what it is about, and to where it is asked for."""
    name, label = ABOUT[Kind(step.kind)]
    about = reverse(name, args=[step.number])
    return {
        "about": about,
        "about_label": label,
        "again": reverse(AGAIN[Kind(step.kind)], args=[step.number]),
        "crumbs": [(step.title, about)],
    }


@require_POST
@permission_required(MAY, raise_exception=True)
def long_step_stop(request: HttpRequest, step_id: int) -> HttpResponse:
    """Stop a step: nothing of it is done."""
    viewer = person_of(request)
    step_stop(actor=viewer, row=step_get(viewer, step_id))
    messages.info(request, "Stopping. What isn’t written whole isn’t written at all.")  # noqa: RUF001 -- as pages write it
    return redirect("long_step", step_id)

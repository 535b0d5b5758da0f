"""Asking who serves whom, watching it, looking at proposals, changing one by hand, taking it over and back."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.pages import do_and_say, watched
from accounts.selectors import today_of
from caseload.plans.models import SchoolClass, Student
from caseload.plans.names import student_names
from schedule.assigning.forms import AssigningForm
from schedule.assigning.models import AssigningRun
from schedule.assigning.selectors.posts import teachers_to_share
from schedule.assigning.selectors.shown import assigning_view, proposal_view
from schedule.assigning.selectors.standing import proposal_get, run_get
from schedule.assigning.services.asked import proposal_take_back_ask, proposal_take_over_ask
from schedule.assigning.services.by_hand import proposal_move, proposal_move_undo
from schedule.assigning.services.posts import PERMISSION
from schedule.assigning.services.runs import assigning_start, assigning_stop
from schedule.assigning.services.taking_over import MOST_TRIED, proposal_taking_foreseen
from schedule.long_steps.models import LongStep
from schedule.long_steps.selectors import OF_PROPOSAL, step_under_way
from schedule.weeks.pages.request import number_in, started, viewer_of
from travel.places.models import Building

LATEST = 10
ABOVE = ("Who serves whom", "assigning")


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def assigning(request: HttpRequest) -> HttpResponse:
    """Ask from a day on; the latest questions below."""
    viewer = viewer_of(request)
    today = today_of(viewer)
    teachers = teachers_to_share(viewer, today)
    form = AssigningForm(
        request.POST or None,
        teachers=teachers,
        students=Student.objects.visible_to(viewer).select_related("building").order_by("last_name", "first_name"),
        buildings=Building.objects.visible_to(viewer).order_by("name"),
        classes=SchoolClass.objects.visible_to(viewer)
        .select_related("building")
        .order_by("building__name", "name"),
        initial={"teachers": list(teachers), "question": request.GET.get("question", "who")},
    )
    if request.method == "POST" and form.is_valid():
        row = started(form, lambda: assigning_start(actor=viewer, **form.cleaned_data))
        if row is not None:
            return redirect("assigning_run", row.pk)
    if "students" in request.GET and request.headers.get("HX-Request"):
        return render(request, "schedule/assigning/ask.html#staying", {"form": form})
    runs = AssigningRun.objects.visible_to(viewer).select_related("job", "leaver", "moving_to")[:LATEST]
    # A district's students are most of the page, and few are said to stay: they come when they are looked for.
    shown = "students" in request.GET or bool(request.POST.getlist("staying"))
    context = {"form": form, "runs": runs, "students_shown": shown}
    return render(request, "schedule/assigning/ask.html", context, status=422 if form.errors else 200)


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def assigning_run(request: HttpRequest, run_id: int) -> HttpResponse:
    """How far a run is; its proposals side by side when it is over. htmx asks for the moving part only."""
    viewer = viewer_of(request)
    template = "schedule/assigning/run.html"
    context = {"run": assigning_view(viewer, run_get(viewer, run_id)), "crumbs": [_crumb()]}
    return watched(request, template, context)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def assigning_stopping(request: HttpRequest, run_id: int) -> HttpResponse:
    """Stop a run; proposals that are there are kept."""
    viewer = viewer_of(request)
    assigning_stop(actor=viewer, row=run_get(viewer, run_id))
    messages.info(request, "Stopping. The proposals found so far are kept.")
    return redirect("assigning_run", run_id)


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def assigning_proposal(request: HttpRequest, pk: int) -> HttpResponse:
    """Teacher by teacher."""
    return _proposal(request, pk)


def _proposal(request: HttpRequest, pk: int, status: int = 200) -> HttpResponse:
    viewer = viewer_of(request)
    row = proposal_get(viewer, pk)
    context = {
        "proposal": proposal_view(viewer, row, today_of(viewer)),
        "under_way": step_under_way(OF_PROPOSAL, pk),
        "crumbs": [_crumb(), (row.run.words, reverse("assigning_run", args=[row.run_id]))],
    }
    return render(request, "schedule/assigning/proposal.html", context, status=status)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def proposal_moving(request: HttpRequest, pk: int) -> HttpResponse:
    """Students to another teacher in this proposal, or the last such change back."""
    viewer = viewer_of(request)
    row = proposal_get(viewer, pk)
    revision = number_in(request, "revision")
    if "undo" in request.POST:
        return _done(
            request, pk, lambda: proposal_move_undo(actor=viewer, row=row, revision=revision), "Taken back."
        )
    units, to = request.POST.getlist("unit"), request.POST.get("to", "")
    done = "Moved. The figures below are those of the proposal as it stands now."
    return _done(
        request, pk, lambda: proposal_move(actor=viewer, row=row, units=units, to=to, revision=revision), done
    )


def _done(request: HttpRequest, pk: int, act: Callable[[], object], done: str) -> HttpResponse:
    do_and_say(request, act, done)
    return redirect("assigning_proposal", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def proposal_taking(request: HttpRequest, pk: int) -> HttpResponse:
    """Show who would go from whom to whom, then hand them over."""
    viewer = viewer_of(request)
    row = proposal_get(viewer, pk)
    if request.method == "POST":
        return _asked(request, pk, lambda: proposal_take_over_ask(actor=viewer, row=row))
    context: dict[str, Any] = {
        "row": row,
        "names": student_names(viewer),
        "crumbs": [
            _crumb(),
            (row.run.words, reverse("assigning_run", args=[row.run_id])),
            (row.title, reverse("assigning_proposal", args=[pk])),
        ],
    }
    try:
        given = proposal_taking_foreseen(actor=viewer, row=row)
        context |= {"hand_overs": given, "tried": sum(len(one.students) for one in given) <= MOST_TRIED}
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        context["refused"] = error.message
    return render(request, "schedule/assigning/take_over.html", context)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def proposal_taking_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take all of its hand-overs back."""
    viewer = viewer_of(request)
    row = proposal_get(viewer, pk)
    return _asked(request, pk, lambda: proposal_take_back_ask(actor=viewer, row=row))


def _asked(request: HttpRequest, pk: int, ask: Callable[[], LongStep]) -> HttpResponse:
    """On to the page that shows how far it is; or back, with why it is refused."""
    step = do_and_say(request, ask)
    return redirect("assigning_proposal", pk) if step is None else redirect("long_step", step.pk)


def _crumb() -> tuple[str, str]:
    label, name = ABOVE
    return label, reverse(name)

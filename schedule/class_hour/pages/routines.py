"""Pages of routines: the list, one of them, its parts; copies and variants."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.fields import id_read
from accounts.models import Person
from accounts.pages import Crumbs, RecordFormPage, do_and_say, find_changeable, find_visible, person_of
from caseload.plans.names import student_names
from schedule.class_hour import services
from schedule.class_hour.forms import PartForm, RoutineForm, TryMinutesForm, VariantForm
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.selectors.routines import may_change, routine_fit, routines_for, served_seen

VARIANTS = ("Lower energy", "Older students", "Small space")


def routine_page(routine: Routine) -> str:
    """Address of a routine's own page."""
    return reverse("routine_detail", args=[routine.pk])


def crumbs_of(routine: Routine | None = None) -> Crumbs:
    """The list of routines, and the routine."""
    above = [("Routines", reverse("routine_list"))]
    return above if routine is None or not routine.pk else [*above, (str(routine), routine_page(routine))]


@require_safe
@permission_required("caseload.view", raise_exception=True)
def routine_list(request: HttpRequest) -> HttpResponse:
    """Every routine that the person sees: the own (a coordinator's: all), the shelf, those put away."""
    viewer = person_of(request)
    rows = list(routines_for(viewer))
    context = {
        **_listed(viewer, rows),
        "away": [row for row in _put_away(viewer) if may_change(viewer, row)],
        "names": student_names(viewer),
        "show_teacher": viewer.is_coordinator,
    }
    return render(request, "schedule/class_hour/routines.html", context)


def _is_others(viewer: Person, row: Routine) -> bool:
    """Whether it is there to be copied only."""
    return row.on_shelf and row.teacher != viewer and not viewer.is_coordinator


def _listed(viewer: Person, rows: Sequence[Routine]) -> dict[str, list[Routine]]:
    """One's own with their variants, and those on the shelf."""
    mine = [row for row in rows if not _is_others(viewer, row)]
    shown = {row.pk for row in mine if row.variant_of_id is None}
    return {
        "own": [row for row in mine if row.variant_of_id not in shown],
        "variants": [row for row in mine if row.variant_of_id in shown],
        "shelf": list(filter(lambda row: _is_others(viewer, row), rows)),
    }


def _put_away(viewer: Person) -> QuerySet[Routine]:
    return Routine.objects.visible_to(viewer).filter(removed_at__isnull=False).distinct()


@require_safe
@permission_required("caseload.view", raise_exception=True)
def routine_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One routine with its parts, tried in as many minutes as are asked for."""
    viewer = person_of(request)
    row = find_visible(Routine, viewer, pk)
    routine = routines_for(viewer).filter(pk=row.pk).first() or row
    form = TryMinutesForm(request.GET)
    asked = form.cleaned_data["minutes"] if form.is_valid() else None
    usual = routine.usual_minutes
    fit = routine_fit(routine, asked or usual)
    times = {time.key: time for time in fit.times}
    own = may_change(viewer, routine)
    context = {
        "routine": routine,
        "parts": [(part, times.get(part.pk)) for part in routine.parts.all() if part.removed_at is None],
        "seen_goals": served_seen(viewer, routine),
        "taken_out": routine.parts.model.objects.filter(routine=routine, removed_at__isnull=False) if own else (),
        "usual": usual,
        "asked": asked,
        "fit": fit,
        "form": form,
        "own": own,
        "may_add": routine.removed_at is None and own,
        "variants": routines_for(viewer).filter(variant_of=routine.variant_of_id or routine.pk),
        "names": student_names(viewer),
        "suggested": VARIANTS,
        "crumbs": crumbs_of(),
    }
    return render(request, "schedule/class_hour/routine.html", context)


class RoutineFormPage(RecordFormPage[Routine]):
    """A new routine, or a change to one."""

    model = Routine
    form_class = RoutineForm
    permission = "week.change"
    noun = "routine"
    intro = "Its parts are added on its page."

    def initial(self) -> dict[str, Any]:
        """Of the teacher whom the address names: whose students and classes are offered."""
        return {"teacher": id_read(self.request.GET.get("teacher", ""))}

    def save(self, row: Routine, values: Mapping[str, Any]) -> Routine:
        return services.routine_save(actor=self.person, row=row, values=values)

    def back(self, row: Routine) -> str:
        return routine_page(row) if row.pk else reverse("routine_list")

    def crumbs(self, row: Routine) -> Crumbs:
        return crumbs_of(row)


class PartFormPage(RecordFormPage[RoutinePart]):
    """A new part of a routine, or a change to one."""

    model = RoutinePart
    form_class = PartForm
    permission = "week.change"
    noun = "part"

    def new_row(self) -> RoutinePart:
        """Of the routine that the address names."""
        return RoutinePart(routine=find_changeable(Routine, self.person, self.kwargs["routine"]))

    def save(self, row: RoutinePart, values: Mapping[str, Any]) -> RoutinePart:
        return services.part_save(actor=self.person, row=row, values=values)

    def back(self, row: RoutinePart) -> str:
        return routine_page(row.routine)

    def crumbs(self, row: RoutinePart) -> Crumbs:
        return crumbs_of(row.routine)


@require_POST
@permission_required("week.change", raise_exception=True)
def routine_copy(request: HttpRequest, pk: int) -> HttpResponse:
    """A copy of one's own, or a variant where its name is sent."""
    person = person_of(request)
    row = find_changeable(Routine, person, pk)
    form = VariantForm(request.POST)
    variant = form.cleaned_data["variant"] if form.is_valid() else ""
    if "variant" in request.POST and not variant:
        messages.error(request, "Say in a few words what is different in the variant.")
        return redirect(routine_page(row))
    copy = services.routine_copy(actor=person, row=row, variant=variant)
    messages.success(
        request, "This is the variant: change its parts." if variant else "This is your copy: change it."
    )
    return redirect(routine_page(copy))


@require_POST
@permission_required("week.change", raise_exception=True)
def routine_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a routine away."""
    person, row = person_of(request), find_changeable(Routine, person_of(request), pk)
    said = f"{row} is put away. You can bring it back at the end of this page."
    do_and_say(request, lambda: services.routine_put_away(actor=person, row=row), said)
    return redirect("routine_list")


@require_POST
@permission_required("week.change", raise_exception=True)
def routine_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring it back."""
    person, row = person_of(request), find_changeable(Routine, person_of(request), pk)
    do_and_say(request, lambda: services.routine_bring_back(actor=person, row=row), f"{row} is back.")
    return redirect("routine_list")


@require_POST
@permission_required("week.change", raise_exception=True)
def part_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a part out."""
    person, row = person_of(request), find_changeable(RoutinePart, person_of(request), pk)
    said = f"{row} is taken out. You can bring it back below."
    do_and_say(request, lambda: services.part_take_out(actor=person, row=row), said)
    return redirect(routine_page(row.routine))


@require_POST
@permission_required("week.change", raise_exception=True)
def part_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Put it back where it was."""
    person, row = person_of(request), find_changeable(RoutinePart, person_of(request), pk)
    do_and_say(request, lambda: services.part_bring_back(actor=person, row=row), f"{row} is back.")
    return redirect(routine_page(row.routine))


@require_POST
@permission_required("week.change", raise_exception=True)
def part_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Move it to the place that the press sends."""
    person, row = person_of(request), find_changeable(RoutinePart, person_of(request), pk)
    place = request.POST.get("to", "")
    if place.isdecimal() and len(place) <= 2:
        do_and_say(request, lambda: services.part_move(actor=person, row=row, to=int(place)), f"{row} is moved.")
    else:
        messages.error(request, "Say to which place, counted from 1.")
    return redirect(f"{routine_page(row.routine)}#part-{row.pk}")

"""Beginning the coming year, looking at it building by building, and saying what becomes of whom."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from accounts.models import Person
from accounts.pages import Crumbs, person_of
from accounts.selectors import today_of
from caseload.plans.names import student_names
from schedule.long_steps.selectors import OF_YEAR, step_under_way
from schedule.next_year.forms import BeginYearForm, BuildingYearForm
from schedule.next_year.models import NextYear, NextYearDay
from schedule.next_year.selectors.drafts import next_year_get, next_years, year_proposed, year_to_copy
from schedule.next_year.selectors.lines import BuildingLine
from schedule.next_year.selectors.standing import YearStanding
from schedule.next_year.services.drafting import PERMISSION, building_page_save, next_year_begin
from schedule.weeks.pages.request import started


def crumbs_of(row: NextYear | None = None) -> Crumbs:
    """The calendar, next year, and the year."""
    above = [("Calendar", reverse("calendar")), ("Next year", reverse("next_year_home"))]
    return above if row is None else [*above, (row.name, reverse("next_year", args=[row.pk]))]


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def next_year_home(request: HttpRequest) -> HttpResponse:
    """The next years that there are; one that isn't begun yet begins here."""
    viewer = person_of(request)
    rows = next_years(viewer)
    copied = year_to_copy(viewer, today_of(viewer))
    form = BeginYearForm(request.POST or None, initial=year_proposed(copied) if copied is not None else {})
    if request.method == "POST" and form.is_valid():
        row = started(form, lambda: next_year_begin(actor=viewer, **form.cleaned_data))
        if row is not None:
            messages.success(request, f"{row} is begun. Nothing of this year changes by it.")
            return redirect("next_year", row.pk)
    context = {
        "rows": rows,
        "copied": copied,
        "form": form,
        "may_begin": not any(not one.is_started for one in rows),
        "crumbs": crumbs_of()[:1],
    }
    return render(request, "schedule/next_year/home.html", context, status=422 if form.errors else 200)


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def next_year(request: HttpRequest, pk: int) -> HttpResponse:
    """What the year would be: its calendar, and each building with what is missing."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    standing = YearStanding(viewer, row)
    days = list(row.days.select_related("building"))
    context = {
        "row": row,
        "standing": standing,
        "under_way": step_under_way(OF_YEAR, row.pk),
        "periods": row.periods.all(),
        "asked": [one for one in days if one.answer == NextYearDay.Answer.ASKED],
        "kept": [one for one in days if one.answer == NextYearDay.Answer.KEPT],
        "left_out": [one for one in days if one.answer == NextYearDay.Answer.LEFT_OUT],
        "crumbs": crumbs_of(),
    }
    return render(request, "schedule/next_year/year.html", context)


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def next_year_missing(request: HttpRequest, pk: int) -> HttpResponse:
    """What is missing, building by building, down to the student and the class."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    context = {
        "row": row,
        "standing": YearStanding(viewer, row),
        "names": student_names(viewer),
        "crumbs": crumbs_of(row),
    }
    return render(request, "schedule/next_year/missing.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def next_year_building(request: HttpRequest, pk: int, building: int) -> HttpResponse:
    """A building: up to which grade, its classes, and student by student what becomes of whom."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    standing = YearStanding(viewer, row)
    line = _line_of(standing, building)
    form = BuildingYearForm(request.POST or None, standing=standing, line=line)
    if request.method == "POST" and form.is_valid() and _is_saved(viewer, row, form):
        messages.success(request, f"{line.building} is saved. Nothing of this year changes by it.")
        return redirect("next_year_building", row.pk, building)
    arriving = tuple(one for one in line.coming if one.standing.building_id != building)
    context = {
        "row": row,
        "line": line,
        "form": form,
        "classes": list(form.class_rows),
        "here": form.rows_of(line.students),
        "arriving": form.rows_of(arriving),
        "entered": [one for one in line.students if one.entered],
        "names": student_names(viewer),
        "crumbs": crumbs_of(row),
    }
    return render(request, "schedule/next_year/building.html", context, status=422 if form.errors else 200)


def _line_of(standing: YearStanding, building: int) -> BuildingLine:
    for one in standing.by_building:
        if one.building.pk == building:
            return one
    raise Http404


def _is_saved(viewer: Person, row: NextYear, form: BuildingYearForm) -> bool:
    """Save what the page says; what is refused stands in the form."""
    try:
        building_page_save(
            actor=viewer,
            row=row,
            building=form.building_values,
            classes=form.class_values,
            students=form.student_values,
        )
    except ValidationError as error:
        form.refuse(error)
        return False
    return True

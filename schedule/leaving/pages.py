"""A teacher leaves or is away for weeks: what waits, who takes the students, when they go back, on one page."""

import datetime as dt
from collections.abc import Mapping
from functools import partial
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import ListPage, do_and_say, effects_digest, list_page
from accounts.selectors import today_of
from schedule.assigning.selectors.posts import teachers_to_share
from schedule.calendar.pages.teacher import find_teacher
from schedule.leaving.forms import LastDayForm, LeavingForm
from schedule.leaving.models import TeacherLeave
from schedule.leaving.selectors import LeavingWait, Waits, leave_get, leaves, leaving_of, students_still
from schedule.leaving.services import (
    PERMISSION,
    leave_arrange,
    leave_foreseen,
    leave_last_day_change,
    leave_last_day_foreseen,
    leave_take_back,
)
from schedule.trips.pages.month import month_page
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, viewer_of

ABOVE = ("Leaves and absences of weeks", "leaving")
AT = {
    Waits.LOG: "attention",
    Waits.DECISION: "attention",
    Waits.MAKE_UP: "make_ups",
    Waits.DATA: "attention",
    Waits.REPORT: "attention",
    Waits.WEEK: "week",
    Waits.DRAFT: "plan",
    Waits.BOOKED: "make_ups",
}


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def leaving(request: HttpRequest) -> HttpResponse:
    """Every teacher, and what is arranged."""
    viewer = viewer_of(request)
    page: ListPage[Person] = list_page(request, teachers_to_share(viewer, today_of(viewer)))
    arranged: ListPage[TeacherLeave] = list_page(request, leaves(viewer), name="arranged")
    return render(request, "schedule/leaving/list.html", {"page": page, "arranged": arranged})


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def leaving_teacher(request: HttpRequest, teacher: int) -> HttpResponse:
    """What waits, then who takes the students: shown before it is saved."""
    viewer = viewer_of(request)
    row = find_teacher(viewer, teacher)
    day = date_in(request, "first_day") or today_of(viewer)
    form = _form(request.POST or None, viewer, row, day)
    if request.method == "POST" and form.is_valid():
        values = {"actor": viewer, "teacher": row, **form.cleaned_data}
        try:
            told = leave_foreseen(**values)
            if request.POST.get("effects_seen") != effects_digest(told):
                return _shown(request, viewer, row, day, form, effects=told, effects_seen=effects_digest(told))
            made = leave_arrange(**values)
        except ValidationError as error:
            _refuse(form, error)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
        else:
            messages.success(request, f"{made}: arranged. You can take it back on this page.")
            return redirect(leaving_page(row, made.first_day))
    return _shown(request, viewer, row, day, form)


def leaving_page(teacher: Person, first_day: dt.date) -> str:
    """The address of a teacher's page."""
    return reverse("leaving_teacher", args=[teacher.pk]) + query(first_day=first_day.isoformat())


def _form(sent: QueryDict | None, viewer: Person, teacher: Person, day: dt.date) -> LeavingForm:
    """Whoever is with the teacher on the day of the address can be chosen, and colleagues who are there then."""
    return LeavingForm(
        sent,
        receivers=teachers_to_share(viewer, day).exclude(pk=teacher.pk),
        students=students_still(viewer, teacher, day).order_by("last_name", "first_name", "pk"),
        initial={"first_day": day},
    )


def _refuse(form: LeavingForm, error: ValidationError) -> None:
    """Each message at its field, where the form has it."""
    told = error.message_dict if hasattr(error, "error_dict") else {"": error.messages}
    for name, texts in told.items():
        form.add_error(name if name in form.fields else None, texts)


def _shown(
    request: HttpRequest,
    viewer: Person,
    teacher: Person,
    day: dt.date,
    form: LeavingForm,
    changing: Mapping[int, LastDayForm] = MappingProxyType({}),
    **more: Any,
) -> HttpResponse:
    """The page. `changing`: forms of leaves, by their ids, that somebody has filled in."""
    found = leaving_of(viewer, teacher, day)
    context = {
        "leaving": found,
        "before": [(one, _address(teacher, one)) for one in found.before],
        "after": [(one, _address(teacher, one)) for one in found.after],
        "arranged": [(one, changing.get(one.pk) or _last_day_form(one)) for one in found.arranged],
        "form": form,
        "teacher": teacher,
        "crumbs": [(ABOVE[0], reverse(ABOVE[1]))],
        **more,
    }
    refused = form.errors or any(one.errors for one in changing.values())
    return render(request, "schedule/leaving/teacher.html", context, status=422 if refused else 200)


def _address(teacher: Person, one: LeavingWait) -> str:
    """Where it is done."""
    if one.about is Waits.MONTH and one.month is not None:
        return reverse("log_month", args=[teacher.pk, f"{one.month:%Y-%m}"])
    if one.about is Waits.VOUCHER and one.month is not None:
        return month_page(one.month, teacher.pk)
    return reverse(AT[one.about]) + query(teacher=teacher.pk)


def _last_day_form(row: TeacherLeave, sent: QueryDict | None = None) -> LastDayForm:
    return LastDayForm(sent, initial={"last_day": row.last_day}, auto_id=f"{row.pk}_%s")


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def leave_last_day(request: HttpRequest, pk: int) -> HttpResponse:
    """Back sooner or later than was said: shown before it is saved."""
    viewer = viewer_of(request)
    row = leave_get(viewer, pk)
    teacher, day = row.teacher, row.first_day
    form = _last_day_form(row, request.POST)
    asked = partial(_shown, request, viewer, teacher, day, _form(None, viewer, teacher, day), {row.pk: form})
    if not form.is_valid():
        return asked()
    values = {"actor": viewer, "row": row, "last_day": form.cleaned_data["last_day"]}
    try:
        form.effects = told = leave_last_day_foreseen(**values)
        form.effects_seen = effects_digest(told)
        if request.POST.get("effects_seen") != form.effects_seen:
            return asked()
        leave_last_day_change(**values)
    except ValidationError as error:
        form.add_error("last_day", error.messages)
        return asked()
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        form.add_error("last_day", error.message)
        return asked()
    messages.success(request, "Saved: the students go back on the day after.")
    return redirect(leaving_page(teacher, day))


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def leave_taking_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Not away after all."""
    viewer = viewer_of(request)
    row = leave_get(viewer, pk)
    teacher, day = row.teacher, row.first_day
    do_and_say(request, partial(_taken_back, request, viewer, row))
    return redirect(leaving_page(teacher, day))


def _taken_back(request: HttpRequest, viewer: Person, row: TeacherLeave) -> None:
    told = leave_take_back(actor=viewer, row=row)
    messages.success(request, " ".join(["Taken back: the students are where they were before.", *told]))

"""The day sheet, and the taps on its drives; all plain forms, each leading back to the drive it is about."""

import datetime as dt
import uuid
from collections.abc import Callable, Sequence
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import looks_only
from caseload.delivery.selectors.sendings import Sending
from schedule.day.data import DaySheet
from schedule.day.forms import TapForm, UndoForm
from schedule.day.hooks import silent_calendars_of
from schedule.day.now import DayNow, day_at
from schedule.day.selectors.sheet import day_sheet
from schedule.day.services import leg_arrive, leg_start, leg_undo
from schedule.happenings.selectors import happenings_of_day, told_of
from schedule.log.selectors.undos import Undos, undos_of
from schedule.meetings.selectors import meetings_asked
from schedule.notices.selectors.looks import changes_since_look
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_of, number_in, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import (
    NO_TEACHER,
    district_today,
    is_mates,
    teacher_among,
    teacher_for,
    teachers_seen,
)

CHANGED = "This tap came without its drive. Look at the day again."


@require_safe
@permission_required("week.view", raise_exception=True)
def day(request: HttpRequest) -> HttpResponse:
    """Today, where the district is."""
    viewer = viewer_of(request)
    return _page(request, viewer, district_today(viewer))


@require_safe
@permission_required("week.view", raise_exception=True)
def day_of(request: HttpRequest, date: str) -> HttpResponse:
    """A date."""
    return _page(request, viewer_of(request), date_of(date))


def _page(request: HttpRequest, viewer: Person, date: dt.date) -> HttpResponse:
    teachers = teachers_seen(viewer)
    teacher = teacher_among(teachers, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    context = _context(viewer, teacher, day_sheet(viewer, teacher, date), teachers)
    return render(request, "schedule/day/day.html", context)


def _context(viewer: Person, teacher: Person, sheet: DaySheet, teachers: Sequence[Person]) -> dict[str, Any]:
    """The sheet with the ways from it."""
    asked = teacher.pk if len(teachers) > 1 or teacher not in teachers else None
    whose = query(teacher=asked) if asked else ""

    def address(date: dt.date) -> str:
        return reverse("day_of", args=[date]) + whose

    return {
        "sheet": sheet,
        "at": _at(sheet),
        "undos": _undos(viewer, sheet),
        "here": address(sheet.date),
        "undo_url": reverse("log_undo") + query(teacher=asked, date=sheet.date, back="day") + "&uid=",
        "hour_whose": whose,
        "load_url": reverse("load_list", args=[sheet.date]) + whose,
        "teacher": teacher,
        "teachers": teachers,
        "asked": asked,
        "own": teacher == viewer,
        "whose": "" if teacher == viewer else query(teacher=teacher.pk),
        "before_url": address(sheet.before),
        "after_url": address(sheet.after),
        "today_url": reverse("day") + whose,
        "next_url": address(sheet.next_day) if sheet.next_day else "",
        "week_url": reverse("week") + query(teacher=asked, week=monday_of(sheet.date)),
        "log_url": reverse("log") + query(teacher=asked, date=sheet.date),
        "plan_url": reverse("plan") + query(teacher=asked, week=monday_of(sheet.date)),
        "mark_id": uuid.uuid4(),
        "phones": sheet.phones,
        "may_plan": viewer.has_perm("week.change"),
        "standing": told_of(viewer, happenings_of_day(viewer, teacher, sheet.date)),
        "asked_to_meet": meetings_asked(viewer) if sheet.is_today and viewer.is_teacher else 0,
        "silent": silent_calendars_of(viewer, timezone.now()) if sheet.is_today else [],
        "happened_url": reverse("happenings") + query(date=None if sheet.is_today else sheet.date),
        **_of_mate(viewer, teacher, sheet),
    }


def _of_mate(viewer: Person, teacher: Person, sheet: DaySheet) -> dict[str, Any]:
    """A mate's day is looked at, its sessions are logged and data taken; what changed is the teacher's news."""
    if is_mates(viewer, teacher):
        return {"may_plan": False, **looks_only(viewer, {"log.write", "data.take"})}
    return {"since": changes_since_look(viewer, teacher, [sheet.date], timezone.now())}


def _at(sheet: DaySheet) -> DayNow:
    """Where the day stands, by the server's clock where the district is."""
    return day_at(sheet.lines, timezone.localtime() if sheet.is_today else None)


def _undos(viewer: Person, sheet: DaySheet) -> dict[str, Sending]:
    """What the viewer's taps logged and can be taken back, by session."""
    entries = {
        uuid.UUID(line.session.uid): [one.entry_id for one in line.people if one.entry_id is not None]
        for line in sheet.lines
        if line.session is not None
    }
    found = undos_of(viewer, sheet.date, entries) if any(entries.values()) else Undos((), {})
    return {str(uid): one for uid, one in found.by_session.items()}


@require_POST
@permission_required("day.tap", raise_exception=True)
def day_start(request: HttpRequest, date: str) -> HttpResponse:
    """A drive begins."""
    return _tapped(request, date, TapForm(request.POST), leg_start)


@require_POST
@permission_required("day.tap", raise_exception=True)
def day_arrive(request: HttpRequest, date: str) -> HttpResponse:
    """A drive ends."""
    return _tapped(request, date, TapForm(request.POST), leg_arrive)


@require_POST
@permission_required("day.tap", raise_exception=True)
def day_undo(request: HttpRequest, date: str) -> HttpResponse:
    """A tap was a mistake."""
    return _tapped(request, date, UndoForm(request.POST), leg_undo)


def _tapped(
    request: HttpRequest, text: str, form: TapForm | UndoForm, service: Callable[..., object]
) -> HttpResponse:
    """Back to the drive; what is wrong is shown there."""
    viewer, date = viewer_of(request), date_of(text)
    teacher = _driven_for(request, viewer)
    try:
        if form.is_valid():
            service(actor=viewer, teacher=teacher, date=date, **form.cleaned_data)
            return redirect(f"{_address(viewer, teacher, date)}#leg-{form.cleaned_data['leg']}")
        problems = [str(error) for errors in form.errors.values() for error in errors]
    except ValidationError as error:
        problems = error.messages
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        problems = [error.message]
    context = _context(viewer, teacher, day_sheet(viewer, teacher, date), teachers_seen(viewer))
    at_leg = context["sheet"].leg(request.POST.get("leg", ""))
    context["bad_leg"] = at_leg.key if at_leg is not None else ""
    context["problems"] = problems if "leg" in request.POST else [CHANGED]
    return render(request, "schedule/day/day.html", context, status=422)


def _driven_for(request: HttpRequest, viewer: Person) -> Person:
    """Whose day is driven: a teacher's own, or that of the teacher whom a substitute covers."""
    teacher = viewer if viewer.is_teacher else teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        raise ApplicationError(NO_TEACHER, code="not_found", status=404)
    return teacher


def _address(viewer: Person, teacher: Person, date: dt.date) -> str:
    return reverse("day_of", args=[date]) + ("" if teacher == viewer else query(teacher=teacher.pk))

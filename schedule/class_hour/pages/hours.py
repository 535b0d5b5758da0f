"""Pages of one class hour and of a day's load list."""

import datetime as dt
import uuid
from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import find_changeable, looks_only
from caseload.progress.selectors.taking import Taking, taking_of
from schedule.calendar.selectors.school_days import minutes_of
from schedule.class_hour.data import HourView
from schedule.class_hour.forms import ChoiceForm
from schedule.class_hour.models import Routine
from schedule.class_hour.selectors.clashes import week_clashes
from schedule.class_hour.selectors.hours import Hour, hour_found, hours_shown, options_for
from schedule.class_hour.selectors.load import load_list
from schedule.class_hour.selectors.taps import taps_of
from schedule.class_hour.services import routine_choose
from schedule.stations.selectors.showing import rotations_shown
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_of, number_in, viewer_of
from schedule.weeks.selectors.pages import NO_TEACHER, is_mates, teacher_for
from schedule.weeks.selectors.weeks import week_get

USUAL, NONE = "usual", "none"
NO_HOUR = "This session doesn't take place on that day, or isn't yours to see. Look at the day again."


@require_safe
@permission_required("caseload.view", raise_exception=True)
def class_hour(request: HttpRequest, date: str, uid: uuid.UUID) -> HttpResponse:
    """What happens in one session, with its clock times; which routine it has can be chosen here."""
    viewer, teacher, day = _asked(request, date)
    hour = _found(viewer, teacher, day, uid)
    view = hours_shown([hour])[0]
    options = _options(viewer, teacher)
    now = str(view.routine_id) if view.chosen and view.routine_id else NONE if view.chosen else USUAL
    context = {
        **_around(viewer, teacher, day, view),
        "people": hour.session.attendees,
        "rotation": rotations_shown(viewer, [view.uid]).get(view.uid),
        "form": ChoiceForm(initial={"routine": now}, options=options),
        "has_routines": len(options) > 2,
        **(looks_only(viewer) if is_mates(viewer, teacher) else {}),
    }
    return render(request, "schedule/class_hour/hour.html", context)


def run_context(request: HttpRequest, date: str, uid: uuid.UUID) -> dict[str, Any]:
    """What the running view shows of a session: its parts, who comes, the goals to take data on, the stations."""
    viewer, teacher, day = _asked(request, date)
    hour = _found(viewer, teacher, day, uid)
    view = hours_shown([hour])[0]
    taps = [
        {"id": str(one.client_id), "kind": one.kind, "part": one.part, "at": round(one.at.timestamp() * 1000)}
        for one in taps_of(uid, day)
    ]
    taps_url = reverse("api:class_hour_taps", args=[day, uid]) + _whose(viewer, teacher)
    return {
        **_around(viewer, teacher, day, view),
        "run": {**_run_data(view, _title(hour)), "taps": taps, "taps_url": taps_url},
        "people": hour.session.attendees,
        "taking": _taking(viewer, hour),
        "rotation": rotations_shown(viewer, [view.uid]).get(view.uid),
    }


def _title(hour: Hour) -> str:
    return hour.session.class_name or hour.session.setting_label


def _taking(viewer: Person, hour: Hour) -> Taking | None:
    """The goals of its students on which this person may take data; None without any."""
    if not viewer.has_perm("data.take"):
        return None
    session = hour.session
    students = [one.student_id for one in session.attendees]
    found = taking_of(viewer, students, day=session.date, session_uid=uuid.UUID(session.uid))
    return found if found.goals else None


@require_POST
@permission_required("log.write", raise_exception=True)
def class_hour_choose(request: HttpRequest, date: str, uid: uuid.UUID) -> HttpResponse:
    """Choose the routine of this session, or go back to the usual one."""
    viewer, teacher, day = _asked(request, date)
    view = _hour(viewer, teacher, day, uid)
    form = ChoiceForm(request.POST, options=_options(viewer, teacher))
    if form.is_valid():
        chosen = form.cleaned_data["routine"]
        routine = find_changeable(Routine, viewer, int(chosen)) if chosen.isdecimal() else None
        try:
            routine_choose(actor=viewer, teacher=teacher, date=day, uid=uid, routine=routine, usual=chosen == USUAL)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(request, "The routine of this session is chosen. Other days stay as they are.")
    else:
        messages.error(request, "Choose a routine from the list.")
    return redirect(_address(viewer, teacher, day, view))


@require_safe
@permission_required("caseload.view", raise_exception=True)
def load_page(request: HttpRequest, date: str) -> HttpResponse:
    """What to take along on a date, stop by stop."""
    viewer, teacher, day = _asked(request, date)
    context = {
        "load": load_list(viewer, teacher, day),
        "day_url": reverse("day_of", args=[day]) + _whose(viewer, teacher),
        "own": teacher == viewer,
        **(looks_only(viewer) if is_mates(viewer, teacher) else {}),
        "before_url": reverse("load_list", args=[day - dt.timedelta(days=1)]) + _whose(viewer, teacher),
        "after_url": reverse("load_list", args=[day + dt.timedelta(days=1)]) + _whose(viewer, teacher),
    }
    return render(request, "schedule/class_hour/load.html", context)


@require_safe
@permission_required("caseload.view", raise_exception=True)
def week_equipment(request: HttpRequest, week_id: int) -> HttpResponse:
    """What a version of a week, or a draft, wants while others want it; the week's page takes it in."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    context = {"days": week_clashes(viewer, found), "week": found, "teacher": found.teacher}
    return render(request, "schedule/class_hour/week_equipment.html", context)


def _asked(request: HttpRequest, date: str) -> tuple[Person, Person, dt.date]:
    """Who asks, whose day it is, and which."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        raise ApplicationError(NO_TEACHER, code="not_found", status=404)
    return viewer, teacher, date_of(date)


def _found(viewer: Person, teacher: Person, day: dt.date, uid: uuid.UUID) -> Hour:
    found = hour_found(viewer, teacher, day, uid)
    if found is None:
        raise ApplicationError(NO_HOUR, code="not_found", status=404)
    return found


def _hour(viewer: Person, teacher: Person, day: dt.date, uid: uuid.UUID) -> HourView:
    return hours_shown([_found(viewer, teacher, day, uid)])[0]


def _whose(viewer: Person, teacher: Person) -> str:
    return "" if teacher == viewer else query(teacher=teacher.pk)


def _address(viewer: Person, teacher: Person, day: dt.date, view: HourView) -> str:
    return reverse("class_hour", args=[day, view.uid]) + _whose(viewer, teacher)


def _around(viewer: Person, teacher: Person, day: dt.date, view: HourView) -> dict[str, Any]:
    whose = _whose(viewer, teacher)
    return {
        "hour": view,
        "date": day,
        "hour_url": _address(viewer, teacher, day, view),
        "run_url": reverse("class_hour_run", args=[day, view.uid]) + whose,
        "choose_url": reverse("class_hour_choose", args=[day, view.uid]) + whose,
        "day_url": reverse("day_of", args=[day]) + whose + f"#s-{view.uid}",
        "load_url": reverse("load_list", args=[day]) + whose,
    }


def _options(viewer: Person, teacher: Person) -> list[tuple[str, str]]:
    routines = [(str(one.routine_id), one.title) for one in options_for(viewer, teacher)]
    return [(USUAL, "The usual one of its class or group"), *routines, (NONE, "No routine this time")]


def _run_data(view: HourView, title: str) -> dict[str, Any]:
    """What the script of the running view takes: minutes after midnight, lengths in minutes.

    A session without a routine runs as one part, the whole of it.
    """
    parts = [
        {
            name: value
            for name, value in asdict(part).items()
            if name not in {"start", "end", "kind", "kind_label", "minutes"}
        }
        | {"start": minutes_of(part.start), "end": minutes_of(part.end)}
        for part in view.parts
    ] or [_whole(view, title)]
    return {
        "key": f"{view.date}/{view.uid}/{view.routine_id}",
        "date": view.date.isoformat(),
        "start": minutes_of(view.start),
        "end": minutes_of(view.end),
        "parts": parts,
    }


def _whole(view: HourView, title: str) -> dict[str, Any]:
    texts = dict.fromkeys(("what", "cue", "where", "leads", "aide_notes", "set_up", "set_up_by"), "")
    start, end = minutes_of(view.start), minutes_of(view.end)
    length = {"start": start, "end": end, "usual": end - start, "least": end - start, "when_short": 1}
    return {"part_id": 0, "title": title, **texts, **length, "equipment": (), "ask": (), "goals": ()}

"""The log: a day's sessions with one tap each, what isn't logged yet, a session with exceptions, what falls out."""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.models import Person
from accounts.pages import Crumbs
from caseload.delivery.models import MissedReason
from caseload.delivery.selectors.log import reasons_of, settings_of
from caseload.delivery.told import Outcome
from schedule.log.forms import DayMarkForm, GivenFields, OutcomeSet, StudentOutcomeForm, StudentOutcomes
from schedule.log.pages.ways import way_back
from schedule.log.selectors.sessions import (
    LogSession,
    day_sessions,
    session_to_log,
    unlogged_sessions,
)
from schedule.log.selectors.undos import entries_of, undos_of
from schedule.log.services import DayMarked, day_mark, session_log
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, number_in, uid_in, viewer_of
from schedule.weeks.selectors.pages import district_today, is_mates, teacher_among, teachers_for, teachers_logged
from travel.places.models import Building

ONE_DAY = dt.timedelta(days=1)
ABSENT = "student_absent"
OTHER_STUDENTS = "This form wasn't about the students in this session. Nothing is logged yet: fill it in again."
NO_DAY = "The press didn’t say which day. Nothing is logged: open the day and press again."  # noqa: RUF001 -- as pages write it
READ = require_http_methods(["GET", "HEAD", "POST"])


def log_crumbs() -> Crumbs:
    """The log."""
    return [("Log", reverse("log"))]


def district_reasons(viewer: Person) -> list[MissedReason]:
    """The reasons of the viewer's district."""
    return reasons_of(viewer.district) if viewer.district is not None else []


def refusal_shown(request: HttpRequest, error: ApplicationError) -> None:
    """Say at the top of the next page what can't be done; what nobody may see goes on to the error pages."""
    if error.status in {403, 404}:
        raise error
    messages.error(request, error.message)


def _backdating_days(teacher: Person) -> int:
    return settings_of(teacher.district).backdating_days if teacher.district is not None else 0


def _ways_from(asked: int | None, date: dt.date, today: dt.date) -> dict[str, str]:
    """Addresses of the days beside, the day sheet, and where it is said what happened on a day."""
    return {
        "before_url": query(teacher=asked, date=date - ONE_DAY),
        "after_url": query(teacher=asked, date=date + ONE_DAY) if date < today else "",
        "today_url": query(teacher=asked),
        "sheet_url": reverse("day_of", args=[date]) + (query(teacher=asked) if asked else ""),
        "happened_url": reverse("happenings") + query(date=None if date == today else date),
    }


@require_safe
@permission_required("log.view", raise_exception=True)
def log(request: HttpRequest) -> HttpResponse:
    """A teacher's day to log, today's if none is named, and the days before that wait for their log."""
    viewer = viewer_of(request)
    today = district_today(viewer)
    teachers = teachers_logged(viewer)
    teacher = teacher_among(teachers, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/log/nobody.html")
    date = date_in(request, "date") or today
    asked = teacher.pk if len(teachers) > 1 or teacher not in teachers else None
    reasons = district_reasons(viewer)
    sessions = day_sessions(viewer, teacher, date)
    undos = undos_of(viewer, date, entries_of(sessions))
    context = {
        "teacher": teacher,
        "teachers": teachers,
        "own": teacher == viewer,
        "seen_only": is_mates(viewer, teacher),
        "asked": asked,
        "date": date,
        "today": today,
        **_ways_from(asked, date, today),
        "sessions": [(one, uuid.uuid4(), undos.by_session.get(one.uid)) for one in sessions],
        **_fallen_out(sessions),
        "undo_whole": undos.whole,
        "undo_url": reverse("log_undo") + query(teacher=asked, date=date),
        "ask_first": next((one.ask_first for one in sessions if one.ask_first), ""),
        "absent": next((one for one in reasons if one.code == ABSENT), None),
        "waiting": _by_date(unlogged_sessions(viewer, teacher, today), date, asked),
        "backdating_days": _backdating_days(teacher),
    }
    return render(request, "schedule/log/log.html", context)


def _fallen_out(sessions: Iterable[LogSession]) -> dict[str, Any]:
    """What doesn't take place and waits for its log, with the clauses why."""
    out = [one for one in sessions if one.falls_out and one.waiting and not one.is_future]
    return {"out": out, "out_why": tuple(dict.fromkeys(one.falls_out for one in out)), "mark_id": uuid.uuid4()}


def _by_date(
    sessions: Iterable[LogSession], shown: dt.date, asked: int | None
) -> list[tuple[dt.date, str, list[LogSession]]]:
    """What waits, by date with the address of that day; the day that is shown is left out."""
    days = groupby((one for one in sessions if one.date != shown), key=lambda one: one.date)
    return [(day, query(teacher=asked, date=day), list(rows)) for day, rows in days]


@READ
@permission_required("log.write", raise_exception=True)
def log_session(request: HttpRequest) -> HttpResponse:
    """One session: as planned in one tap, or with exceptions by student.

    The sending of the day's page holds no form of students: those who are ticked were absent.
    """
    viewer = viewer_of(request)
    session = session_to_log(viewer, _uid(request))
    reasons = district_reasons(viewer)
    if request.method != "POST":
        return _session_page(request, session, _outcomes(session, reasons), uuid.uuid4())
    client_id = _client_id(request)
    if "students-TOTAL_FORMS" not in request.POST:
        return _logged(request, viewer, session, client_id, _ticked(request), None)
    forms = _outcomes(session, reasons, request.POST)
    if not all(_line_in(form) in {one.line_id for one in session.attendees} for form in forms):
        messages.error(request, OTHER_STUDENTS)
        return _session_page(request, session, _outcomes(session, reasons), client_id, status=422)
    if not (forms.is_valid() and _given(request).is_valid()):
        return _session_page(request, session, forms, client_id, status=422)
    told = {form.cleaned_data["line"]: form.outcome for form in forms}
    return _logged(request, viewer, session, client_id, told, forms)


def _logged(
    request: HttpRequest,
    viewer: Person,
    session: LogSession,
    client_id: uuid.UUID,
    told: Mapping[int, Outcome],
    forms: OutcomeSet | None,
) -> HttpResponse:
    given = _given(request)
    by, under = (given.data.get(name, "").strip() or None for name in ("given_by", "given_under"))
    try:
        session_log(
            actor=viewer, session=session, client_id=client_id, exceptions=told, given_by=by, given_under=under
        )
    except ValidationError as error:
        shown = forms if forms is not None else _outcomes(session, district_reasons(viewer))
        for line in _refused_at(shown, given, error):
            messages.error(request, line)
        return _session_page(request, session, shown, client_id, given, status=422)
    except ApplicationError as error:
        refusal_shown(request, error)
    else:
        messages.success(request, f"Logged: {session.date:%A, %B %-d}, {session.start:%-I:%M %p}.")
    return redirect(_back_to(request, session))


def _back_to(request: HttpRequest, session: LogSession) -> str:
    """The session on the page that the form stands on."""
    teacher = None if session.teacher_id == viewer_of(request).pk else session.teacher_id
    return way_back(request, teacher, session.date, session.uid)


def _given(request: HttpRequest) -> GivenFields:
    """Who gave the session; a substitute sees the own name, which is kept where nothing else is said."""
    viewer = viewer_of(request)
    own = str(viewer) if viewer.role == Person.Role.SUBSTITUTE else ""
    told = {"given_by": own, **request.POST.dict()} if request.method == "POST" else None
    return GivenFields(told, initial={"given_by": own})


def _refused_at(forms: OutcomeSet, given: GivenFields, error: ValidationError) -> list[str]:
    """Put problems at the student's fields, or at who gave the session; answers with those that have none."""
    rest: list[str] = []
    for key, texts in error.error_dict.items():
        line, _, name = key.rpartition(".")
        told = [text for one in texts for text in one.messages]
        form = _form_at(forms, line, name)
        if form is not None:
            form.add_error(name, told)
        elif name in given.fields:
            given.add_error(name, [text for text in told if text not in given.errors.get(name, [])])
        else:
            rest += told
    return rest


def _form_at(forms: OutcomeSet, line: str, name: str) -> StudentOutcomeForm | None:
    """The form of a service that was sent and has this field."""
    by_line = {str(form["line"].value()): form for form in forms} if forms.is_bound else {}
    form = by_line.get(line) or (next(iter(by_line.values())) if len(by_line) == 1 else None)
    return form if form is not None and name in form.fields else None


def _outcomes(session: LogSession, reasons: Sequence[MissedReason], data: Any = None) -> OutcomeSet:
    """A form for each student who waits for a log."""
    initial = [{"line": one.line_id} for one in session.waiting]
    forms: OutcomeSet = StudentOutcomes(data, prefix="students", initial=initial, form_kwargs={"reasons": reasons})
    return forms


def _line_in(form: Any) -> int:
    """Which service line one student's form is about; 0 for what is none."""
    return id_read(str(form["line"].value())) or 0


def _session_page(
    request: HttpRequest,
    session: LogSession,
    forms: OutcomeSet,
    client_id: uuid.UUID,
    given: GivenFields | None = None,
    *,
    status: int = 200,
) -> HttpResponse:
    people = {one.line_id: one for one in session.attendees}
    rows = [(people.get(_line_in(form)), form) for form in forms]
    context = {
        "session": session,
        "formset": forms,
        "form": given or _given(request),
        "rows": rows,
        "client_id": client_id,
        "back": _back_to(request, session),
        "logged": [one for one in session.attendees if one.is_logged],
        "ask_first": session.ask_first,
        "crumbs": log_crumbs(),
    }
    return render(request, "schedule/log/session.html", context, status=status)


def _uid(request: HttpRequest) -> uuid.UUID:
    if request.method == "POST":
        return uid_in(request)
    try:
        return uuid.UUID(request.GET.get("uid", ""))
    except ValueError as error:
        raise Http404 from error


def _client_id(request: HttpRequest) -> uuid.UUID:
    """The sending's own id; one is made for a form that brings none."""
    try:
        return uuid.UUID(request.POST.get("client_id", ""))
    except ValueError:
        return uuid.uuid4()


def _ticked(request: HttpRequest) -> dict[int, Outcome]:
    """The students who were ticked as absent, by service line."""
    asked = map(id_read, request.POST.getlist("absent"))
    return {line: Outcome(reason=ABSENT) for line in asked if line is not None}


@require_POST
@permission_required("log.write", raise_exception=True)
def mark_day(request: HttpRequest) -> HttpResponse:
    """Log what falls out on a day, in one press; then the day's log."""
    viewer = viewer_of(request)
    form = DayMarkForm(request.POST, teachers=teachers_for(viewer), buildings=Building.objects.visible_to(viewer))
    if not form.is_valid():
        messages.error(request, NO_DAY)
        return redirect(reverse("log"))
    values = form.cleaned_data
    teacher = values["teacher"].pk if values["teacher"] and values["teacher"] != viewer else None
    try:
        marked = day_mark(actor=viewer, **values)
    except ApplicationError as error:
        refusal_shown(request, error)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, _marked_words(marked))
    return redirect(reverse("log") + query(teacher=teacher, date=values["date"]))


def _marked_words(marked: DayMarked) -> str:
    count = len(marked.entries)
    return (
        f"{marked.sessions} session{'s' if marked.sessions != 1 else ''} logged as missed, {count} "
        f"entr{'ies' if count != 1 else 'y'}. Undo takes all of them back; each can be corrected separately."
    )

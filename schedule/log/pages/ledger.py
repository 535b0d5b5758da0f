"""A student's ledger, minutes that nobody planned, and the district's rules."""

import datetime as dt
import uuid
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import find_visible
from accounts.services import permission_require
from caseload.delivery.models import MissedReason
from caseload.delivery.rows import StudentLedger
from caseload.delivery.selectors.log import settings_of
from caseload.delivery.services.log import delivery_log, local_date
from caseload.delivery.services.rules import ledger_settings_save, reason_save, reasons_save
from caseload.delivery.told import LogItem, Outcome
from caseload.delivery.words import numbers_of
from caseload.ledger.defaults import COMMON_PRACTICE, NO_JUDGMENT
from caseload.ledger.terms import ShortWeek
from caseload.plans.models import ServiceLine, Student
from caseload.plans.pages.students import student_crumbs
from caseload.plans.selectors import care_of
from schedule.log.forms import LedgerSettingsForm, MinutesForm, NewReasonForm, Reasons
from schedule.log.pages.sessions import READ, district_reasons, log_crumbs
from schedule.log.selectors.ledger import student_ledger
from schedule.weeks.pages.request import date_in, number_in, viewer_of


def ledger_page(student: Student) -> str:
    """Address of a student's ledger."""
    return reverse("student_ledger", args=[student.pk])


@require_safe
@permission_required("log.view", raise_exception=True)
def ledger(request: HttpRequest, pk: int) -> HttpResponse:
    """What a student was owed, had, missed and is still owed, each number with its reasoning."""
    viewer = viewer_of(request)
    student = find_visible(Student, viewer, pk)
    today = local_date(student.building)
    as_of = date_in(request, "as_of") or today
    found = student_ledger(viewer, student, as_of)
    return render(request, "schedule/log/ledger.html", _ledger_context(found, today))


def _ledger_context(found: StudentLedger, today: dt.date) -> dict[str, Any]:
    return {
        "student": found.student,
        "ledger": found,
        "today": today,
        "services": [(one, numbers_of(one, found.rules)) for one in found.lines],
        "has_consultation": any(one.is_consultation for one in found.lines),
        "no_judgment": NO_JUDGMENT,
        "crumbs": student_crumbs(found.student),
    }


@READ
@permission_required("log.write", raise_exception=True)
def minutes_log(request: HttpRequest, pk: int) -> HttpResponse:
    """Log minutes that no session was planned for, a make-up above all."""
    viewer = viewer_of(request)
    student = find_visible(Student, viewer, pk)
    lines = ServiceLine.objects.visible_to(viewer).filter(plan__student=student).order_by("-end", "pk")
    initial = {
        "date": local_date(student.building),
        "client_id": uuid.uuid4(),
        "service_line": number_in(request, "line"),
        "delivered_minutes": number_in(request, "minutes"),
    }
    form = MinutesForm(
        request.POST or None, lines=lines.select_related("plan__student__building__district"), initial=initial
    )
    if request.method == "POST" and form.is_valid():
        try:
            delivery_log(actor=viewer, item=_minutes_item(form))
        except ValidationError as error:
            form.refuse(error)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
        else:
            messages.success(request, "The minutes are logged.")
            return redirect(ledger_page(student))
    context = {
        "student": student,
        "form": form,
        "care": care_of(viewer, [student.pk]).get(student.pk),
        "crumbs": [*student_crumbs(student), ("Minutes", ledger_page(student))],
    }
    return render(request, "schedule/log/minutes.html", context, status=422 if request.method == "POST" else 200)


def _minutes_item(form: MinutesForm) -> LogItem:
    """A make-up plans what it delivers; anything else was planned with no minute, and shows as extra."""
    values = form.cleaned_data
    minutes = values["delivered_minutes"]
    return LogItem(
        client_id=values["client_id"],
        service_line=values["service_line"],
        date=values["date"],
        planned_minutes=minutes if values["makes_up"] else 0,
        outcome=Outcome(minutes, note=values["note"]),
        start=values["start"],
        makes_up=values["makes_up"],
    )


# ---- the district's rules --------------------------------------------------------------------------------


@READ
@permission_required("log.view", raise_exception=True)
def ledger_rules(request: HttpRequest) -> HttpResponse:
    """The district's rules and reasons: everyone who logs reads them, the coordinator changes them."""
    viewer = viewer_of(request)
    if request.method != "POST":
        return _rules_page(request, viewer, _settings_form(viewer), _reasons(viewer), _new_reason(viewer))
    permission_require(viewer, "ledger.change")
    if "save_rules" in request.POST:
        return _rules_saved(request, viewer)
    if "save_reasons" in request.POST:
        return _reasons_saved(request, viewer)
    return _reason_added(request, viewer)


def _settings_form(viewer: Person, data: Any = None) -> LedgerSettingsForm:
    row = settings_of(viewer.district) if viewer.district is not None else None
    form = LedgerSettingsForm(data, instance=row, viewer=viewer)
    form.fields[
        "short_week"
    ].help_text = "A month, a cycle of the rotation, a marking period or a year owes the whole."
    return form


def _reasons(viewer: Person, data: Any = None) -> Any:
    initial = [{"code": one.code, "words": one.words, "effect": one.effect} for one in district_reasons(viewer)]
    return Reasons(data, prefix="reasons", initial=initial)


def _new_reason(viewer: Person, data: Any = None) -> NewReasonForm:
    return NewReasonForm(data, viewer=viewer, prefix="new")


def _rules_page(
    request: HttpRequest,
    viewer: Person,
    form: LedgerSettingsForm,
    reasons: Any,
    new: NewReasonForm,
    status: int = 200,
) -> HttpResponse:
    row = settings_of(viewer.district) if viewer.district is not None else None
    context = {
        "form": form,
        "reasons": reasons,
        "new": new,
        "shown": district_reasons(viewer),
        "row": row,
        "short_week": ShortWeek(row.short_week) if row is not None else "",
        "may_change": viewer.has_perm("ledger.change"),
        "common_practice": COMMON_PRACTICE,
        "crumbs": log_crumbs(),
    }
    return render(request, "schedule/log/rules.html", context, status=status)


def _rules_saved(request: HttpRequest, viewer: Person) -> HttpResponse:
    form = _settings_form(viewer, request.POST)
    if form.is_valid():
        try:
            ledger_settings_save(actor=viewer, values=form.cleaned_data)
        except ValidationError as error:
            form.refuse(error)
        else:
            messages.success(request, "The rules are saved. Every ledger follows them from the beginning.")
            return redirect("ledger_rules")
    return _rules_page(request, viewer, form, _reasons(viewer), _new_reason(viewer), status=422)


def _reasons_saved(request: HttpRequest, viewer: Person) -> HttpResponse:
    forms = _reasons(viewer, request.POST)
    if forms.is_valid():
        values = {
            form.cleaned_data["code"]: {name: form.cleaned_data[name] for name in ("words", "effect")}
            for form in forms
            if form.cleaned_data.get("code")
        }
        reasons_save(actor=viewer, values=values)
        messages.success(request, "The table is saved. Every ledger follows it from the beginning.")
        return redirect("ledger_rules")
    return _rules_page(request, viewer, _settings_form(viewer), forms, _new_reason(viewer), status=422)


def _reason_added(request: HttpRequest, viewer: Person) -> HttpResponse:
    form = _new_reason(viewer, request.POST)
    if form.is_valid():
        try:
            reason_save(actor=viewer, row=MissedReason(district=viewer.district), values=form.cleaned_data)
        except ValidationError as error:
            form.refuse(error)
        else:
            messages.success(request, "The reason is in the table.")
            return redirect("ledger_rules")
    return _rules_page(request, viewer, _settings_form(viewer), _reasons(viewer), form, status=422)

"""A student's ledger, minutes that nobody planned, and the district's rules."""

import datetime as dt
import uuid
from collections.abc import Callable
from copy import copy
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import Crumbs, RecordDeletePage, effects_digest, find_changeable, find_visible, seen_only
from accounts.selectors import today_of
from accounts.services import permission_require
from caseload.care.selectors import care_of
from caseload.delivery.models import CompensatoryTime, LedgerSettings, MissedReason, ReasonEffect
from caseload.delivery.rows import StudentLedger
from caseload.delivery.selectors.log import settings_of
from caseload.delivery.services.log import ALIKE, delivery_log, local_date
from caseload.delivery.services.rules import (
    ledger_settings_delete,
    ledger_settings_save,
    reason_save,
    reasons_save,
)
from caseload.delivery.told import LogItem, Outcome
from caseload.delivery.words import EFFECT_WORDS, numbers_of
from caseload.ledger.defaults import COMMON_PRACTICE, NO_JUDGMENT
from caseload.ledger.examples import DEFAULT_WORDS, EXAMPLE, short_week_examples
from caseload.ledger.terms import ShortWeek
from caseload.plans.models import ServiceLine, Student
from caseload.plans.pages.students import student_crumbs
from schedule.log.forms import LedgerSettingsForm, MinutesForm, NewReasonForm, Reasons, ReasonsFromForm
from schedule.log.pages.sessions import READ, district_reasons, log_crumbs, refusal_shown
from schedule.log.selectors.ledger import student_ledger
from schedule.log.services import rules_effects
from schedule.weeks.pages.request import date_in, number_in, viewer_of
from travel.mileage.models import SINCE_EVER


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
    return render(request, "schedule/log/ledger.html", _ledger_context(found, today) | seen_only(viewer, student))


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
    student = find_changeable(Student, viewer, pk)
    lines = ServiceLine.objects.visible_to(viewer).filter(plan__student=student).order_by("-end", "pk")
    initial = {
        "date": local_date(student.building),
        "client_id": uuid.uuid4(),
        "service_line": number_in(request, "line"),
        "delivered_minutes": number_in(request, "minutes"),
    }
    form = MinutesForm(
        request.POST or None,
        lines=lines.select_related("plan__student__building__district"),
        times=CompensatoryTime.objects.visible_to(viewer).filter(student=student),
        initial=initial,
    )
    if request.method == "POST" and form.is_valid():
        try:
            delivery_log(actor=viewer, item=_minutes_item(form))
        except ValidationError as error:
            form.refuse(error)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            if error.code == ALIKE:
                form.ask(error.message)
            else:
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
        outcome=Outcome(minutes, "", values["note"], values["given_by"] or None, values["given_under"] or None),
        start=values["start"],
        makes_up=values["makes_up"],
        makes_up_for=values["makes_up_for"],
        confirmed=values["confirmed"],
        compensatory=values.get("compensatory"),
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
    """Rules like those of today: from today on, where there are any already."""
    row = settings_of(viewer.district) if viewer.district is not None else None
    initial = {"first_day": today_of(viewer) if row is not None and row.pk else None}
    form = LedgerSettingsForm(data, instance=row, viewer=viewer, initial=initial)
    field = form.fields["short_week"]
    field.help_text = f"{EXAMPLE} {DEFAULT_WORDS} A month, a rotation, a marking period or a year owes the whole."
    if isinstance(field, forms.ChoiceField):
        examples = short_week_examples()
        field.choices = [
            (code, f"{words}: {examples[code].words}") for code, words in LedgerSettings.ShortWeek.choices
        ]
    return form


def _reasons(viewer: Person, data: Any = None) -> Any:
    today = today_of(viewer)
    initial = [
        {"code": one.code, "words": one.words, "effect": one.effect_on(today)} for one in district_reasons(viewer)
    ]
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
    **more: Any,
) -> HttpResponse:
    row = settings_of(viewer.district) if viewer.district is not None else None
    context = {
        "form": form,
        "reasons": reasons,
        "new": new,
        "shown": [(one.words, EFFECT_WORDS[one.effect_on(today_of(viewer))]) for one in district_reasons(viewer)],
        "reasons_from": ReasonsFromForm(request.POST if "save_reasons" in request.POST else None),
        "row": row,
        "dated": LedgerSettings.objects.visible_to(viewer),
        "dated_effects": ReasonEffect.objects.visible_to(viewer).select_related("reason").order_by("-first_day"),
        "since_ever": SINCE_EVER,
        "short_week": ShortWeek(row.short_week) if row is not None else "",
        "may_change": viewer.has_perm("ledger.change"),
        "common_practice": COMMON_PRACTICE,
        "crumbs": log_crumbs(),
    }
    return render(request, "schedule/log/rules.html", context | more, status=status)


def _unseen(request: HttpRequest, viewer: Person, act: Callable[[], object]) -> dict[str, Any]:
    """What saving would change of figures, unless the person has just seen this very change."""
    told = rules_effects(actor=viewer, act=act)
    seen = effects_digest(told)
    return {"effects": told, "effects_seen": seen} if told and request.POST.get("effects_seen") != seen else {}


def _rules_saved(request: HttpRequest, viewer: Person) -> HttpResponse:
    form = _settings_form(viewer, request.POST)
    if form.is_valid():
        values = form.cleaned_data
        try:
            told = _unseen(request, viewer, lambda: ledger_settings_save(actor=viewer, values=values))
            if told:
                return _rules_page(request, viewer, form, _reasons(viewer), _new_reason(viewer), rules=True, **told)
            ledger_settings_save(actor=viewer, values=values)
        except ValidationError as error:
            form.refuse(error)
        except ApplicationError as error:
            form.add_error(None, error.message)
        else:
            messages.success(request, "The rules are saved.")
            return redirect("ledger_rules")
    return _rules_page(request, viewer, form, _reasons(viewer), _new_reason(viewer), status=422)


def _reasons_saved(request: HttpRequest, viewer: Person) -> HttpResponse:
    forms, since = _reasons(viewer, request.POST), ReasonsFromForm(request.POST)
    if forms.is_valid() and since.is_valid():
        values = _reason_values(viewer, forms, since.cleaned_data["first_day"])
        try:
            told = _unseen(request, viewer, lambda: reasons_save(actor=viewer, values=values))
            if told:
                return _rules_page(request, viewer, _settings_form(viewer), forms, _new_reason(viewer), **told)
            reasons_save(actor=viewer, values=values)
        except ApplicationError as error:
            refusal_shown(request, error)
        else:
            messages.success(request, "The table is saved.")
        return redirect("ledger_rules")
    return _rules_page(request, viewer, _settings_form(viewer), forms, _new_reason(viewer), status=422)


def _reason_values(viewer: Person, forms: Any, first_day: dt.date | None) -> dict[str, dict[str, Any]]:
    """What the table says, by code; an effect that is as it was has no new first day."""
    day = first_day or today_of(viewer)
    now = {one.code: one.effect_on(day) for one in district_reasons(viewer)}
    found: dict[str, dict[str, Any]] = {}
    for values in (form.cleaned_data for form in forms):
        if code := values.get("code"):
            found[code] = {"words": values["words"]}
            if values["effect"] != now.get(code):
                found[code] |= {"effect": values["effect"], "first_day": first_day}
    return found


class LedgerSettingsDeletePage(RecordDeletePage[LedgerSettings]):
    """Take rules back: those before them hold on."""

    model = LedgerSettings
    permission = "ledger.change"
    noun = "set of rules"

    def label(self, row: LedgerSettings) -> str:
        """Since when they hold."""
        return str(row)

    def effects(self, row: LedgerSettings) -> list[str]:
        """What it changes of figures."""
        return rules_effects(
            actor=self.person, act=lambda: ledger_settings_delete(actor=self.person, row=copy(row))
        )

    def delete(self, row: LedgerSettings) -> None:
        """From their first day on, the rules before them hold again."""
        ledger_settings_delete(actor=self.person, row=row)

    def back(self, row: LedgerSettings) -> str:
        """The district's rules."""
        return reverse("ledger_rules")

    def crumbs(self, row: LedgerSettings) -> Crumbs:
        """The district's rules."""
        return [*log_crumbs(), ("Rules of minutes", reverse("ledger_rules"))]


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

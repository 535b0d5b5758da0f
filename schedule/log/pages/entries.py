"""An entry's history, its correction, and what the plan's team decides about missed minutes."""

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
from accounts.models.mate import alone
from accounts.pages import Crumbs, seen_only
from accounts.selectors import today_of
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.delivery.selectors.log import decided_entries, entry_get, undecided_entries
from caseload.delivery.services.log import (
    WRITE,
    correction_require,
    decision_record,
    delivery_correct,
    may_correct,
)
from caseload.delivery.words import EFFECT_WORDS
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.ledger.terms import Effect
from caseload.months.selectors import closed_since
from caseload.months.services import amends
from schedule.log.forms import CorrectionForm, DecisionForm
from schedule.log.pages.sessions import READ, district_reasons, log_crumbs
from schedule.weeks.pages.request import viewer_of


def entry_crumbs(entry: DeliveryEntry, *, inside: bool = False) -> Crumbs:
    """The student's ledger, and the entry."""
    above = [
        *log_crumbs(),
        (entry.student.full_name, reverse("student_ledger", args=[entry.student_id])),
    ]
    return [*above, ("Entry", reverse("log_entry", args=[entry.pk]))] if inside else above


def _current(entry: DeliveryEntry) -> DeliveryVersion:
    """The version that counts; the versions are loaded oldest first."""
    return list(entry.versions.all())[-1]


def _waits_for_team(entry: DeliveryEntry, current: DeliveryVersion) -> bool:
    reason = current.reason
    return reason is not None and reason.effect_on(entry.date) is Effect.TEAM and not entry.makes_up


def _entry_context(entry: DeliveryEntry) -> dict[str, Any]:
    current = _current(entry)
    return {
        "entry": entry,
        "current": current,
        "versions": list(entry.versions.all())[::-1],
        "decisions": list(entry.decisions.all())[::-1],
        "closed": closed_since(entry.service_line.provider_id, entry.date),
        "amends": amends(entry.student.district_id),
        "for_team": _waits_for_team(entry, current),
        "effect": EFFECT_WORDS[current.reason.effect_on(entry.date)] if current.reason is not None else "",
    }


@require_safe
@permission_required("records.view", raise_exception=True)
def entry(request: HttpRequest, entry_id: int) -> HttpResponse:
    """What was planned, what happened, who said so and when, and what the team decided."""
    viewer = viewer_of(request)
    found = entry_get(viewer, entry_id)
    kept = {WRITE} if may_correct(viewer, found) else ()
    context = _entry_context(found) | {"crumbs": entry_crumbs(found)} | seen_only(viewer, found, kept)
    return render(request, "schedule/log/entry.html", context)


def _as_it_is(found: DeliveryEntry) -> dict[str, Any]:
    """What the form begins with."""
    current = _current(found)
    missed = current.delivered_minutes != found.planned_minutes
    return {
        "reason": current.reason.code if current.reason is not None else "",
        "delivered_minutes": current.delivered_minutes if missed else None,
        "note": current.note,
        "given_by": current.given_by,
        "given_under": current.given_under,
        "expected_revision": found.revision,
        "client_id": uuid.uuid4(),
    }


def _corrected(viewer: Person, found: DeliveryEntry, form: CorrectionForm) -> bool:
    """Whether the correction is stored; if not, the form says why."""
    values = form.cleaned_data
    try:
        delivery_correct(
            actor=viewer,
            entry=found,
            outcome=None if values["withdraw"] else form.outcome,
            expected_revision=values["expected_revision"],
            client_id=values["client_id"],
        )
    except ValidationError as error:
        form.refuse(error)
    except ApplicationError as error:
        _refused(form, error)
    return not form.errors


@READ
@permission_required("log.write", raise_exception=True)
def correct(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Say what happened after all: a new version; the one before stays in the history."""
    viewer = viewer_of(request)
    found = entry_get(viewer, entry_id)
    correction_require(viewer, found)
    form = CorrectionForm(request.POST or None, reasons=district_reasons(viewer), initial=_as_it_is(found))
    if request.method == "POST" and form.is_valid() and _corrected(viewer, found, form):
        messages.success(request, "The correction is saved; what the entry said before is in the history.")
        return redirect("log_entry", entry_id=found.pk)
    context = _entry_context(found) | {"form": form, "crumbs": entry_crumbs(found, inside=True)}
    if context["closed"] and context["amends"]:
        # An amendment wants its reason; only taking the log back goes without.
        form.needed_sometimes = (*form.needed_sometimes, "note")
    return render(request, "schedule/log/correct.html", context, status=422 if request.method == "POST" else 200)


@READ
@permission_required("log.decide", raise_exception=True)
def decide(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Record what the plan's team decided about an entry's missed minutes."""
    viewer = alone(viewer_of(request))
    found = entry_get(viewer, entry_id)
    initial = {"expected_revision": found.revision, "decided_on": today_of(viewer)}
    form = DecisionForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            decision_record(actor=viewer, entry=found, **form.cleaned_data)
        except ValidationError as error:
            form.refuse(error)
        except ApplicationError as error:
            _refused(form, error)
        else:
            messages.success(request, "The team's decision is recorded.")
            return redirect("log_entry", entry_id=found.pk)
    context = _entry_context(found) | {"form": form, "crumbs": entry_crumbs(found, inside=True)}
    return render(request, "schedule/log/decide.html", context, status=422 if request.method == "POST" else 200)


def _refused(form: CorrectionForm | DecisionForm, error: ApplicationError) -> None:
    if error.status in {403, 404}:
        raise error
    form.add_error(None, error.message)


@require_safe
@permission_required("log.decide", raise_exception=True)
def decisions(request: HttpRequest) -> HttpResponse:
    """What waits for the plans' teams, and what they decided."""
    viewer = viewer_of(request)
    context = {
        "undecided": undecided_entries(viewer),
        "decided": decided_entries(viewer),
        "no_judgment": NO_JUDGMENT,
        "crumbs": log_crumbs(),
    }
    return render(request, "schedule/log/decisions.html", context)

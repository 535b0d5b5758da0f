"""Pages of keeping records: the district's rules, what holds records back, lists, and erasing what one names."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_changeable, find_visible, person_of
from accounts.selectors import today_of
from caseload.plans.names import student_names
from caseload.retention import services
from caseload.retention.models import (
    ErasureHold,
    ErasureRun,
    ParentsWord,
    PermanentRecord,
    RetentionRule,
    hold_is_on,
)
from caseload.retention.schedule import KINDS
from schedule.erasing.forms import (
    ErasureConfirmForm,
    ErasureHoldForm,
    ErasureListForm,
    ParentsWordForm,
    RetentionRuleForm,
)
from schedule.erasing.selectors.lists import rules_on
from schedule.erasing.selectors.told import list_told
from schedule.erasing.services.runs import erasure_confirm, erasure_list

PERMISSION = services.KEEP
LATEST = 20
"""Lists on the page."""


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def retention(request: HttpRequest) -> HttpResponse:
    """Rules by kind, holds, words with parents, and the latest lists."""
    return render(request, "schedule/erasing/retention.html", _context(request, _list_form(request)))


def _list_form(request: HttpRequest) -> ErasureListForm:
    viewer = person_of(request)
    return ErasureListForm(viewer=viewer, initial={"as_of": today_of(viewer)})


def _context(request: HttpRequest, form: ErasureListForm) -> dict[str, Any]:
    viewer = person_of(request)
    today = today_of(viewer)
    rules = RetentionRule.objects.visible_to(viewer)
    now = {rule.key for rule in rules_on(viewer.district, today).values()} if viewer.district is not None else set()
    holds = ErasureHold.objects.visible_to(viewer).select_related("student")
    words = ParentsWord.objects.visible_to(viewer).select_related("student")
    shown = {one.student_id for one in holds} | {one.student_id for one in words}
    names = student_names(viewer, among=shown).full
    return {
        "kinds": [
            (label, [(one, one.pk in now) for one in rules if one.kind == kind]) for kind, label in KINDS.items()
        ],
        "holds": [(names.get(one.student_id, one.student.code), one, hold_is_on(one, today)) for one in holds],
        "words": [(names.get(one.student_id, one.student.code), one) for one in words],
        "runs": ErasureRun.objects.visible_to(viewer).select_related("made_by", "confirmed_by")[:LATEST],
        "permanent": PermanentRecord.objects.visible_to(viewer).count(),
        "form": form,
        "today": today,
    }


class _OfRetention[M: Model]:
    """Where the pages of one row belong."""

    permission = PERMISSION

    def back(self, row: M) -> str:
        """The page of all of it."""
        return reverse("retention")

    def crumbs(self, row: M) -> Crumbs:
        """Under it."""
        return [("Keeping records", reverse("retention"))]


class RetentionRuleFormPage(_OfRetention[RetentionRule], RecordFormPage[RetentionRule]):
    """A new rule, or a change to one."""

    model, form_class, noun = RetentionRule, RetentionRuleForm, "rule for keeping records"
    intro = "Saving a rule erases nothing. It says what a list will name."

    def initial(self) -> dict[str, Any]:
        """From today."""
        return {"first_day": today_of(self.person)}

    def save(self, row: RetentionRule, values: Mapping[str, Any]) -> RetentionRule:
        return services.retention_rule_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: RetentionRule) -> str:
        return reverse("retention_rule_delete", args=[row.pk])


class RetentionRuleDeletePage(_OfRetention[RetentionRule], RecordDeletePage[RetentionRule]):
    """Take a rule away."""

    model, noun = RetentionRule, "rule for keeping records"

    def delete(self, row: RetentionRule) -> None:
        services.retention_rule_delete(actor=self.person, row=row)


class ErasureHoldFormPage(_OfRetention[ErasureHold], RecordFormPage[ErasureHold]):
    """A new hold, or its last day."""

    model, form_class, noun = ErasureHold, ErasureHoldForm, "hold"
    intro = "While a hold lasts, nothing of the student is erased, whatever the rules say."

    def initial(self) -> dict[str, Any]:
        """From today."""
        return {"first_day": today_of(self.person)}

    def save(self, row: ErasureHold, values: Mapping[str, Any]) -> ErasureHold:
        return services.erasure_hold_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: ErasureHold) -> str:
        return reverse("erasure_hold_delete", args=[row.pk])


class ErasureHoldDeletePage(_OfRetention[ErasureHold], RecordDeletePage[ErasureHold]):
    """Take a hold away that was entered by mistake."""

    model, noun = ErasureHold, "hold"

    def delete(self, row: ErasureHold) -> None:
        services.erasure_hold_delete(actor=self.person, row=row)


class ParentsWordFormPage(_OfRetention[ParentsWord], RecordFormPage[ParentsWord]):
    """What parents were told, or asked for."""

    model, form_class, noun = ParentsWord, ParentsWordForm, "word with parents"

    def initial(self) -> dict[str, Any]:
        """Today."""
        return {"said_on": today_of(self.person)}

    def save(self, row: ParentsWord, values: Mapping[str, Any]) -> ParentsWord:
        return services.parents_word_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: ParentsWord) -> str:
        return reverse("parents_word_delete", args=[row.pk])


class ParentsWordDeletePage(_OfRetention[ParentsWord], RecordDeletePage[ParentsWord]):
    """Take away what was entered by mistake."""

    model, noun = ParentsWord, "word with parents"

    def delete(self, row: ParentsWord) -> None:
        services.parents_word_delete(actor=self.person, row=row)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def erasure_list_new(request: HttpRequest) -> HttpResponse:
    """Make a list; nothing is erased by it."""
    form = ErasureListForm(request.POST, viewer=person_of(request))
    if form.is_valid():
        try:
            return redirect("erasure_list", erasure_list(actor=person_of(request), **form.cleaned_data).pk)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
    return render(request, "schedule/erasing/retention.html", _context(request, form), status=422)


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def erasure_list_page(request: HttpRequest, pk: int) -> HttpResponse:
    """What would go and what stays, by name, with the button that erases it; or what became of it."""
    run = find_visible(ErasureRun, person_of(request), pk)
    return _list_shown(request, run, ErasureConfirmForm(initial={"digest": run.digest}))


def _list_shown(request: HttpRequest, run: ErasureRun, form: ErasureConfirmForm, status: int = 200) -> HttpResponse:
    context = {
        "told": list_told(run, person_of(request)),
        "run": run,
        "erased": run.erased.all(),
        "form": form,
        "crumbs": [("Keeping records", reverse("retention"))],
    }
    return render(request, "schedule/erasing/list.html", context, status=status)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def erasure_list_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """Have it erased in the background."""
    run = find_changeable(ErasureRun, person_of(request), pk)
    form = ErasureConfirmForm(request.POST)
    if form.is_valid():
        try:
            erasure_confirm(actor=person_of(request), run=run, digest=form.cleaned_data["digest"])
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
        else:
            messages.success(request, "The records on this list are being erased.")
            return redirect("erasure_list", run.pk)
    return _list_shown(request, run, form, status=422)


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def permanent_records(request: HttpRequest) -> HttpResponse:
    """What is kept of students whose records are erased."""
    rows = PermanentRecord.objects.visible_to(person_of(request))
    context = {"rows": rows, "crumbs": [("Keeping records", reverse("retention"))]}
    return render(request, "schedule/erasing/permanent.html", context)

"""Pages of services: a new one, one that changes from a date or was always wrong, renewals, and the way back."""

from collections.abc import Callable, Mapping
from copy import copy
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.forms import RecordForm
from accounts.models import Person
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, find_changeable, person_of
from accounts.selectors import today_of
from caseload.plans import rules, services
from caseload.plans.forms import RenewalForm, SeenForm, ServiceChangeForm, ServiceCorrectForm, ServiceLineForm
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import Plan, ServiceLine, Student
from caseload.plans.pages.named import AboutStudent
from caseload.plans.pages.statements import readings_asked, statement_effects
from caseload.plans.pages.students import CHANGE, student_crumbs, student_page
from caseload.plans.selectors import place_told


class ServiceLineFormPage(AboutStudent, RecordFormPage[ServiceLine]):
    """A new service of a plan."""

    model = ServiceLine
    form_class: type[RecordForm] = ServiceLineForm
    permission = CHANGE
    noun = "service"

    def new_row(self) -> ServiceLine:
        """In the plan that the address names."""
        return ServiceLine(plan=find_changeable(Plan, self.person, self.kwargs["plan"]))

    def save(self, row: ServiceLine, values: Mapping[str, Any]) -> ServiceLine:
        return services.service_line_save(actor=self.person, row=row, values=values)

    template_name = "caseload/statement_form.html"

    def effects(self, row: ServiceLine, values: Mapping[str, Any]) -> list[str]:
        """What a statement is read as; minutes of a service that is there: a new one changes nothing of others."""
        day = values.get("from_day") or values.get("start") or row.plan.start
        told = [*statement_effects(self.person, values, day, row), *place_told(row, values)]
        if not row.pk:
            return told
        return [*told, *effects_foreseen(self.person, row.plan.student, lambda: self.save(copy(row), values))]

    def show(self, row: ServiceLine, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With the readings where the statement has two."""
        return super().show(row, form, status, **readings_asked(form), **more)

    def back(self, row: ServiceLine) -> str:
        return student_page(row.plan.student)

    def crumbs(self, row: ServiceLine) -> Crumbs:
        return student_crumbs(row.plan.student)


class _SeenPage(ServiceLineFormPage):
    """A change to a service that two people may change at once: who is second sees what the first did."""

    def show(self, row: ServiceLine, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """Whoever has been told what another person did may save again."""
        if isinstance(form, SeenForm) and form.is_bound and form.non_field_errors():
            form.seen_now(row.service.revision)
        return super().show(row, form, status, **more)


class ServiceChangePage(_SeenPage):
    """New terms from a day on: the usual way."""

    form_class: type[RecordForm] = ServiceChangeForm
    template_name = "caseload/service_change.html"
    intro = (
        "The terms before end the day before, and everything owed and delivered until then stays as it is. It "
        "stays the same service: the week in which it changes is counted as one."
    )

    def title(self, row: ServiceLine) -> str:
        return "Change a service from a date"

    def begins_with(self, row: ServiceLine) -> dict[str, Any]:
        """From today, or from the first day of a service that begins later."""
        return {"from_day": max(row.start, min(today_of(self.person), row.end))}

    def save(self, row: ServiceLine, values: Mapping[str, Any]) -> ServiceLine:
        terms = {name: value for name, value in values.items() if name not in {"from_day", "seen"}}
        return services.service_change(
            actor=self.person, row=row, from_day=values["from_day"], values=terms, seen=values["seen"]
        )

    def saved_message(self, row: ServiceLine) -> str:
        return f"From {date_words(row.start)}: {row.statement}. You can take this back on this page."


class ServiceCorrectPage(_SeenPage):
    """Terms that were always wrong: the past changes with them."""

    form_class: type[RecordForm] = ServiceCorrectForm
    template_name = "caseload/service_correct.html"

    def title(self, row: ServiceLine) -> str:
        return "Correct a service"

    def save(self, row: ServiceLine, values: Mapping[str, Any]) -> ServiceLine:
        terms = {name: value for name, value in values.items() if name != "seen"}
        return services.service_correct(actor=self.person, row=row, values=terms, seen=values["seen"])

    def saved_message(self, row: ServiceLine) -> str:
        return "The service is corrected. You can take this back on this page."

    def delete_address(self, row: ServiceLine) -> str:
        return reverse("service_line_delete", args=[row.pk])


class ServiceLineDeletePage(AboutStudent, RecordDeletePage[ServiceLine]):
    """Delete a service."""

    model = ServiceLine
    permission = CHANGE
    noun = "service"

    def delete(self, row: ServiceLine) -> None:
        services.service_line_delete(actor=self.person, row=row)

    def effects(self, row: ServiceLine) -> list[str]:
        """None where it can't be deleted, which the page says by itself."""
        try:
            return effects_foreseen(self.person, row.plan.student, lambda: self.delete(copy(row)))
        except ApplicationError:
            return []

    def label(self, row: ServiceLine) -> str:
        return f"{self.called(row.plan.student)}: {row.statement}"

    def back(self, row: ServiceLine) -> str:
        return student_page(row.plan.student)

    def crumbs(self, row: ServiceLine) -> Crumbs:
        return student_crumbs(row.plan.student)


class PlanRenewPage(AboutStudent, RecordFormPage[Plan]):
    """The same terms in a new plan with new dates."""

    model = Plan
    form_class = RenewalForm
    permission = CHANGE
    noun = "plan"
    intro = (
        "The services that run to the plan's end go on with the same terms in a new plan; change them from a date "
        "afterward where the new plan says otherwise. A plan is reviewed at least annually (34 CFR 300.324)."
    )

    def title(self, row: Plan) -> str:
        return "Renew a plan"

    def begins_with(self, row: Plan) -> dict[str, Any]:
        """The day after the plan's last, for a year."""
        start = row.end + rules.ONE_DAY
        return {"start": start, "end": rules.year_after(start) - rules.ONE_DAY, "annual_review": None, "note": ""}

    def save(self, row: Plan, values: Mapping[str, Any]) -> Plan:
        return services.plan_renew(actor=self.person, row=row, values=values)

    def effects(self, row: Plan, values: Mapping[str, Any]) -> list[str]:
        return effects_foreseen(self.person, row.student, lambda: self.save(copy(row), values))

    def saved_message(self, row: Plan) -> str:
        return f"The plan is renewed from {date_words(row.start)}. You can take this back on this page."

    def back(self, row: Plan) -> str:
        return student_page(row.student)

    def crumbs(self, row: Plan) -> Crumbs:
        return student_crumbs(row.student)


@require_POST
def service_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the last change of a service back."""
    person = _who_changes(request)
    line = find_changeable(ServiceLine, person, pk)
    return _undone(request, line.plan.student, lambda: services.change_undo(actor=person, row=line.service))


@require_POST
def plan_renewal_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the renewal that made a plan back."""
    person = _who_changes(request)
    plan = find_changeable(Plan, person, pk)
    return _undone(request, plan.student, lambda: services.change_undo(actor=person, row=plan))


def _who_changes(request: HttpRequest) -> Person:
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    return person


def _undone(request: HttpRequest, student: Student, act: Callable[[], None]) -> HttpResponse:
    do_and_say(request, act, "Taken back: the services are as they were before.")
    return redirect(student_page(student))

"""Pages of months of the log: the list, a month with what differs since it was signed, and the three acts on it."""

import datetime as dt
from typing import Any, ClassVar

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views import View
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import Crumbs, person_of
from accounts.selectors import today_of
from accounts.services import permission_require
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.months.models import LogMonth
from caseload.months.services import amends
from schedule.closing import services
from schedule.closing.content import Difference, digest_of
from schedule.closing.data import MonthSums, TermsTold, month_sums
from schedule.closing.forms import CloseForm, MonthActForm, MonthRulesForm, ReopenForm, SignedCloseForm, SignForm
from schedule.closing.selectors import (
    LogMonthView,
    month_in_address,
    month_rules,
    month_teacher,
    month_teachers,
    month_view,
    months_of,
    told_of,
)
from schedule.weeks.pages.request import number_in

VIEW = "month.view"


def month_page(teacher: int, month: dt.date) -> str:
    """Address of a month."""
    return reverse("log_month", args=[teacher, f"{month:%Y-%m}"])


def months_page(teacher: int) -> str:
    """Address of a teacher's months."""
    return f"{reverse('log_months')}?teacher={teacher}"


@require_safe
@permission_required(VIEW, raise_exception=True)
def months(request: HttpRequest) -> HttpResponse:
    """A teacher's months, the latest first."""
    viewer = person_of(request)
    teachers = list(month_teachers(viewer))
    asked = number_in(request, "teacher")
    teacher = month_teacher(viewer, asked) if asked is not None else next(iter(teachers), None)
    context = {
        "teacher": teacher,
        "teachers": teachers,
        "months": months_of(teacher, today_of(viewer)) if teacher is not None else [],
        "rules": MonthRulesForm(instance=month_rules(viewer.district)) if viewer.district is not None else None,
        "crumbs": [("Log", reverse("log"))],
    }
    return render(request, "schedule/closing/months.html", context)


@require_POST
@permission_required("ledger.change", raise_exception=True)
def month_rules_change(request: HttpRequest) -> HttpResponse:
    """What a change in a closed month does in this district."""
    form = MonthRulesForm(request.POST)
    if form.is_valid():
        services.month_rules_save(actor=person_of(request), afterwards=form.cleaned_data["afterwards"])
        messages.success(request, "Saved. It holds for every change from now on.")
    else:
        messages.error(request, "Choose one of the two.")
    return redirect("log_months")


@require_safe
@permission_required(VIEW, raise_exception=True)
def month(request: HttpRequest, teacher: int, month: str) -> HttpResponse:
    """A month: its sessions in sums, who signed and closed it, and what differs since."""
    viewer = person_of(request)
    view = month_view(month_teacher(viewer, teacher), month_in_address(month), today_of(viewer))
    return render(request, "schedule/closing/month.html", _context(viewer, view))


def _context(viewer: Person, view: LogMonthView) -> dict[str, Any]:
    sums: tuple[MonthSums, ...] = month_sums(view.now)
    told: TermsTold = told_of(viewer, view)
    first = {"expected_revision": view.row.revision}
    signed = view.row.status == LogMonth.Status.SIGNED
    return {
        "view": view,
        "sums": sorted(((told.student(one.student), one) for one in sums), key=lambda pair: pair[0]),
        "since": [(told.student(one.student), told.service(one.service), _day(one), one) for one in view.since],
        "not_logged": len(view.now["not_logged"]),
        "digest": digest_of(view.now),
        "amends": amends(view.teacher.district_id or 0),
        "may_sign": viewer.pk == view.teacher.pk and view.is_over and not view.row.is_closed,
        "may_close": viewer.has_perm("month.close") and view.is_over and not view.row.is_closed,
        "may_reopen": viewer.has_perm("month.close") and view.row.status != LogMonth.Status.OPEN,
        "sign": SignForm(initial={"digest": digest_of(view.now)}, prefix="sign"),
        "close": (SignedCloseForm if signed else CloseForm)(initial=first, prefix="close"),
        "reopen": ReopenForm(initial=first, prefix="reopen"),
        "no_judgment": NO_JUDGMENT,
        "crumbs": month_crumbs(view.teacher),
    }


def _day(one: Difference) -> dt.date | None:
    """The session's; None for figures."""
    return dt.date.fromisoformat(one.date) if one.date else None


def month_crumbs(teacher: Person) -> Crumbs:
    """The log, and the teacher's months."""
    return [("Log", reverse("log")), ("Months of the log", months_page(teacher.pk))]


class ActPage(View):
    """One press on a month: back to it, or the month with what is wrong."""

    http_method_names = ["post", "options"]
    permission: ClassVar[str]
    name: ClassVar[str]
    done: ClassVar[str]

    def form(self, data: Any) -> MonthActForm:
        """What was sent."""
        raise NotImplementedError

    def act(self, teacher: Person, month: dt.date, values: dict[str, Any]) -> object:
        """Call the one service."""
        raise NotImplementedError

    def post(self, request: HttpRequest, teacher: int, month: str) -> HttpResponse:
        """Act, or say why not."""
        viewer = person_of(request)
        permission_require(viewer, VIEW)
        whose, first = month_teacher(viewer, teacher), month_in_address(month)
        permission_require(viewer, self.permission)
        form = self.form(request.POST)
        if form.is_valid() and self._acted(form, whose, first):
            messages.success(request, self.done)
            return redirect(month_page(teacher, first))
        view = month_view(whose, first, today_of(viewer))
        context = {**_context(viewer, view), self.name: form, "bad": form}
        return render(request, "schedule/closing/month.html", context, status=422)

    def _acted(self, form: MonthActForm, teacher: Person, month: dt.date) -> bool:
        try:
            self.act(teacher, month, form.cleaned_data)
        except ValidationError as error:
            form.refuse(error)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
        return not form.errors


class SignPage(ActPage):
    """The teacher signs."""

    permission, name = "month.sign", "sign"
    done = "The month is signed. The coordinator can close it now."

    def form(self, data: Any) -> MonthActForm:
        """The name, and what was shown."""
        return SignForm(data, prefix="sign")

    def act(self, teacher: Person, month: dt.date, values: dict[str, Any]) -> object:
        """Sign."""
        return services.month_sign(actor=person_of(self.request), teacher=teacher, month=month, **values)


class ClosePage(ActPage):
    """The coordinator closes."""

    permission, name = "month.close", "close"
    done = "The month is closed. Its figures stay as they are until it is reopened."

    def form(self, data: Any) -> MonthActForm:
        """Why only where nobody signed."""
        return CloseForm(data, prefix="close")

    def act(self, teacher: Person, month: dt.date, values: dict[str, Any]) -> object:
        """Close."""
        return services.month_close(actor=person_of(self.request), teacher=teacher, month=month, **values)


class ReopenPage(ActPage):
    """The coordinator opens it again."""

    permission, name = "month.close", "reopen"
    done = "The month is open again. What was signed and closed is kept below."

    def form(self, data: Any) -> MonthActForm:
        """Why."""
        return ReopenForm(data, prefix="reopen")

    def act(self, teacher: Person, month: dt.date, values: dict[str, Any]) -> object:
        """Reopen."""
        return services.month_reopen(actor=person_of(self.request), teacher=teacher, month=month, **values)

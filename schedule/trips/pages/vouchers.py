"""Pages of vouchers: answer and submit, what became of one, the list for whoever approves, and the files."""

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views import View
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.files import FILE_TYPES
from accounts.models import Person
from accounts.selectors import today_of
from schedule.trips import services
from schedule.trips.files import voucher_file, voucher_file_name
from schedule.trips.pages.month import driver_of, month_crumbs, month_page, month_viewer
from schedule.trips.selectors.month import entries_to_submit, month_of, month_questions, month_trips
from schedule.trips.selectors.vouchers import (
    answers_before,
    month_end,
    month_vouchers,
    sums_by_rate,
    sums_of,
    voucher_row,
    voucher_view,
    vouchers_to_decide,
)
from travel.mileage.models import Voucher, VoucherStep
from travel.mileage.rates import MileageError
from travel.mileage.selectors import voucher_get

LONGEST_LIST = 200


class VoucherSubmitPage(View):
    """Check the lines and sums, answer what is asked, then sign."""

    http_method_names = ["get", "head", "post", "options"]

    def get(self, request: HttpRequest, month: str) -> HttpResponse:
        """What would be submitted."""
        return self._show(month_of(month))

    def post(self, request: HttpRequest, month: str) -> HttpResponse:
        """Submit it; answers that were typed stay where one is missing."""
        person, date = driver_of(request), month_of(month)
        answers = dict(zip(request.POST.getlist("question"), request.POST.getlist("answer"), strict=False))
        try:
            voucher = services.voucher_submit(
                actor=person,
                teacher=person,
                month=date,
                today=today_of(person),
                now=timezone.now(),
                answers=answers,
            )
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            if error.code == "questions_open":
                return self._show(date, answers, asked_again=True)
            messages.error(request, error.message)
            return redirect(month_page(date))
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
            return self._show(date, answers, asked_again=True)
        messages.success(request, services.SUBMITTED)
        return redirect("voucher", voucher.pk)

    def _show(
        self, month: dt.date, typed: dict[str, str] | None = None, *, asked_again: bool = False
    ) -> HttpResponse:
        person = driver_of(self.request)
        found, vouchers = month_trips(person, month), month_vouchers(person, month)
        try:
            entries, problem = entries_to_submit(person, month, found), ""
        except MileageError as error:
            entries, problem = (), str(error)
        known = {**answers_before(vouchers), **(typed or {})}
        questions = month_questions(person, month, found, vouchers)
        context = {
            "month": month,
            "teacher": person,
            "entries": entries,
            "sums": sums_of(entries),
            "by_rate": sums_by_rate(entries),
            "rules": found.claims.book.in_words(month, month_end(month)),
            "undecided": len(found.undecided),
            "questions": [(one, known.get(one.key, "")) for one in questions],
            "asked_again": asked_again,
            "problem": problem,
            "crumbs": month_crumbs(month),
            "back": month_page(month),
        }
        status = 422 if asked_again else 200
        return render(self.request, "schedule/mileage/submit.html", context, status=status)


@require_safe
def voucher_list(request: HttpRequest) -> HttpResponse:
    """Submitted vouchers that the person may see, those that wait longest first."""
    person = month_viewer(request)
    status = request.GET.get("status", Voucher.Status.SUBMITTED)
    choices = [(one.value, one.label) for one in Voucher.Status if one != Voucher.Status.OPEN]
    if status and status not in dict(choices):
        raise Http404
    rows = vouchers_to_decide(person, status)
    context = {
        "vouchers": [voucher_row(row) for row in rows[:LONGEST_LIST]],
        "count": rows.count(),
        "status": status,
        "choices": choices,
        "crumbs": [("Mileage", reverse("mileage"))],
    }
    return render(request, "schedule/mileage/vouchers.html", context)


@require_safe
def voucher(request: HttpRequest, pk: int) -> HttpResponse:
    """A submitted voucher."""
    person = month_viewer(request)
    row = voucher_get(person, pk)
    return _voucher_page(request, person, row)


def _voucher_page(
    request: HttpRequest, person: Person, row: Voucher, problem: str = "", words: str = ""
) -> HttpResponse:
    context = {
        "voucher": voucher_view(row, person),
        "problem": problem,
        "words": words,
        "crumbs": month_crumbs(row.month, row.teacher_id),
        "forms": list(FILE_TYPES),
    }
    return render(request, "schedule/mileage/voucher.html", context, status=422 if problem else 200)


type Step = Callable[[Person, Voucher, str], VoucherStep]

STEPS: dict[str, tuple[str, Step]] = {
    "approve": (
        "The voucher is approved.",
        lambda person, row, words: services.voucher_approve(actor=person, voucher=row, now=timezone.now()),
    ),
    "return": (
        "The voucher is returned. Its trips can be corrected, and it is submitted again.",
        lambda person, row, words: services.voucher_return(
            actor=person, voucher=row, words=words, now=timezone.now()
        ),
    ),
    "take-back": (
        "The voucher is taken back. Correct the trips, and submit it again.",
        lambda person, row, words: services.voucher_take_back(
            actor=person, voucher=row, words=words, now=timezone.now()
        ),
    ),
    "pay": (
        "The voucher is paid.",
        lambda person, row, words: services.voucher_pay(actor=person, voucher=row, words=words, now=timezone.now()),
    ),
    "undo": (
        "The last step is undone.",
        lambda person, row, words: services.voucher_step_undo(actor=person, voucher=row, now=timezone.now()),
    ),
}
"""By its name in the address: what is said when it is done, and the service."""


@require_POST
def voucher_step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Approve, return, take back, pay, or undo the last step."""
    person = month_viewer(request)
    if step not in STEPS:
        raise Http404
    said, act = STEPS[step]
    row, words = voucher_get(person, pk), request.POST.get("words", "")
    try:
        act(person, row, words)
    except ValidationError as error:
        return _voucher_page(request, person, row, " ".join(error.messages), words)
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        messages.error(request, error.message)
    else:
        messages.success(request, said)
    return redirect("voucher", row.pk)


@require_safe
def voucher_download(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """A submitted voucher as a file."""
    person = month_viewer(request)
    if form not in FILE_TYPES:
        raise Http404
    return file_response(voucher_get(person, pk), form)


def file_response(row: Any, form: str) -> HttpResponse:
    """A voucher's file as an answer, for page and API."""
    view = voucher_view(row)
    headers = {
        "Content-Disposition": f'attachment; filename="{voucher_file_name(view, form)}"',
        "Cache-Control": "no-store",
    }
    return HttpResponse(voucher_file(view, form), content_type=FILE_TYPES[form], headers=headers)

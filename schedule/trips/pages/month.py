"""Pages of a teacher's month of trips: confirm or correct, submit, vouchers and their files."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.files import FILE_TYPES
from accounts.models import Person
from accounts.pages import Crumbs, RecordFormPage, RecordPage, person_of
from accounts.selectors import today_of
from schedule.trips import services
from schedule.trips.files import voucher_file, voucher_file_name
from schedule.trips.selectors.month import (
    entries_to_submit,
    month_end,
    month_in,
    month_of,
    month_start,
    month_trips,
    month_view,
    sums_by_rate,
    sums_of,
    trip_find,
    voucher_view,
)
from schedule.weeks.pages.request import number_in
from travel.mileage.forms import TripAddForm, TripForm
from travel.mileage.models import Trip
from travel.mileage.rates import MileageError
from travel.mileage.selectors import mileage_teacher, mileage_teachers, voucher_get

CHANGE = "week.change"
ONE_DAY = dt.timedelta(days=1)


def month_page(month: dt.date, teacher_id: int | None = None) -> str:
    """Address of a month."""
    teacher = f"&teacher={teacher_id}" if teacher_id is not None else ""
    return f"{reverse('mileage')}?month={month:%Y-%m}{teacher}"


def month_crumbs(month: dt.date, teacher_id: int | None = None) -> Crumbs:
    """The month."""
    return [(f"Mileage, {month:%B %Y}", month_page(month, teacher_id))]


def _person(request: HttpRequest) -> Person:
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    return person


def _driver(request: HttpRequest) -> Person:
    """The teacher who acts; everyone else reads."""
    person = _person(request)
    if not person.is_teacher:
        raise PermissionDenied
    return person


def _month_in(request: HttpRequest, person: Person) -> dt.date:
    text = request.GET.get("month", "")
    return month_of(text) if text else month_start(today_of(person))


@require_safe
def mileage(request: HttpRequest) -> HttpResponse:
    """A teacher's month."""
    person = _person(request)
    month = _month_in(request, person)
    teacher = mileage_teacher(person, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/mileage/nobody.html")
    other = teacher.pk if teacher != person else None
    context = {
        "view": month_view(person, teacher, month),
        "today": today_of(person),
        "teachers": mileage_teachers(person) if person.is_coordinator else (),
        "before": month_page(month_start(month - ONE_DAY), other),
        "after": month_page(month_end(month) + ONE_DAY, other),
    }
    return render(request, "schedule/mileage/month.html", context)


@require_POST
def trips_confirm(request: HttpRequest) -> HttpResponse:
    """Confirm one trip or several as planned."""
    person = _driver(request)
    keys = request.POST.getlist("key")
    month = month_of(request.POST.get("month", ""))
    return _done(
        request,
        month,
        lambda: services.trip_confirm(actor=person, teacher=person, keys=keys, today=today_of(person)),
        "Confirmed." if len(keys) == 1 else f"{len(keys)} trips are confirmed.",
    )


@require_POST
def trip_drop(request: HttpRequest, key: str) -> HttpResponse:
    """A trip wasn't driven."""
    person = _driver(request)
    return _done(
        request,
        month_in(key),
        lambda: services.trip_drop(actor=person, teacher=person, key=key, today=today_of(person)),
        "The trip isn't claimed.",
    )


@require_POST
def trip_reopen(request: HttpRequest, key: str) -> HttpResponse:
    """Take back what was said of a trip."""
    person = _driver(request)
    return _done(
        request,
        month_in(key),
        lambda: services.trip_reopen(actor=person, teacher=person, key=key),
        "The trip is to be confirmed again.",
    )


@require_POST
def supplement_start(request: HttpRequest, month: str) -> HttpResponse:
    """Make a submitted month correctable."""
    person = _driver(request)
    date = month_of(month)
    return _done(
        request,
        date,
        lambda: services.supplement_start(
            actor=person, teacher=person, month=date, reprice="reprice" in request.POST
        ),
        "A supplement is open. Correct the trips, then submit it.",
    )


@require_POST
def supplement_drop(request: HttpRequest, month: str) -> HttpResponse:
    """Close a supplement that isn't needed."""
    person = _driver(request)
    date = month_of(month)
    return _done(
        request,
        date,
        lambda: services.supplement_drop(actor=person, teacher=person, month=date),
        "The supplement is closed. The month is as it was submitted.",
    )


def _done(request: HttpRequest, month: dt.date, act: Callable[[], object], said: str) -> HttpResponse:
    """Do it and go back to the month; what is in the way is said there."""
    try:
        act()
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        messages.error(request, error.message)
    else:
        messages.success(request, said)
    return redirect(month_page(month))


class _TripPage(RecordFormPage[Trip]):
    """What trip forms have in common: they are the teacher's own."""

    model = Trip
    permission = CHANGE
    noun = "trip"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Only the teacher says what was driven."""
        if str(request.method).lower() in self.http_method_names:
            _driver(request)
        return super().dispatch(request, *args, **kwargs)

    def back(self, row: Trip) -> str:
        return month_page(row.date or today_of(self.person))

    def crumbs(self, row: Trip) -> Crumbs:
        return month_crumbs(row.date or today_of(self.person))


class TripCorrectPage(_TripPage):
    """A trip that was driven differently than planned."""

    form_class = TripForm

    def new_row(self) -> Trip:
        """The trip of the address: decided already, or planned."""
        return trip_find(self.person, self.kwargs["key"])

    def title(self, row: Trip) -> str:
        return "Correct a trip"

    def show(self, row: Trip, form: Any, status: int = 200, **more: Any) -> HttpResponse:
        """With the way and the day above the form."""
        self.intro = f"{row.date:%A, %B} {row.date.day}: {row.origin or 'Home'} to {row.destination or 'home'}."
        return super().show(row, form, status, **more)

    def save(self, row: Trip, values: Mapping[str, Any]) -> Trip:
        person = self.person
        return services.trip_correct(
            actor=person, teacher=person, key=row.key, values=values, today=today_of(person)
        )


class TripAddPage(_TripPage):
    """A trip that no week called for."""

    form_class = TripAddForm
    intro = "For a drive between places of work that isn't in a published week."

    def new_row(self) -> Trip:
        """Of the person who asks."""
        return Trip(teacher=self.person, district=self.person.district)

    def save(self, row: Trip, values: Mapping[str, Any]) -> Trip:
        person = self.person
        return services.trip_add(actor=person, teacher=person, values=values, today=today_of(person))


class VoucherSubmitPage(RecordPage[Trip]):
    """Check the lines and sums, then sign."""

    model = Trip
    permission = CHANGE

    def get(self, request: HttpRequest, month: str) -> HttpResponse:
        """What would be submitted."""
        return self._show(month_of(month))

    def post(self, request: HttpRequest, month: str) -> HttpResponse:
        """Submit it."""
        person, date = _driver(request), month_of(month)
        try:
            voucher = services.voucher_submit(
                actor=person, teacher=person, month=date, today=today_of(person), now=timezone.now()
            )
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            messages.error(request, error.message)
            return redirect(month_page(date))
        messages.success(request, f"The voucher is submitted. {services.LOCKED}")
        return redirect("voucher", voucher.pk)

    def _show(self, month: dt.date) -> HttpResponse:
        person = _driver(self.request)
        found = month_trips(person, month)
        try:
            entries, problem = entries_to_submit(person, month, found), ""
        except MileageError as error:
            entries, problem = (), str(error)
        context = {
            "month": month,
            "teacher": person,
            "entries": entries,
            "sums": sums_of(entries),
            "by_rate": sums_by_rate(entries),
            "rules": found.claims.book.in_words(month, month_end(month)),
            "undecided": len(found.undecided),
            "problem": problem,
            "crumbs": month_crumbs(month),
            "back": month_page(month),
        }
        return render(self.request, "schedule/mileage/submit.html", context)


@require_safe
def voucher(request: HttpRequest, pk: int) -> HttpResponse:
    """A submitted voucher."""
    person = _person(request)
    row = voucher_get(person, pk)
    context = {
        "voucher": voucher_view(row),
        "crumbs": month_crumbs(row.month, row.teacher_id),
        "forms": list(FILE_TYPES),
    }
    return render(request, "schedule/mileage/voucher.html", context)


@require_safe
def voucher_download(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """A submitted voucher as a file."""
    person = _person(request)
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

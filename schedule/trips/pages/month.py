"""Pages of a teacher's month of trips: confirm or correct, submit, vouchers and their files."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.models import Person
from accounts.pages import Crumbs, RecordFormPage, do_and_say, person_of
from accounts.selectors import today_of
from schedule.trips import services
from schedule.trips.data import MonthView
from schedule.trips.selectors.month import month_in, month_of, month_view, trip_find
from schedule.trips.selectors.vouchers import month_end, month_start
from schedule.weeks.pages.request import number_in
from travel.mileage.forms import TripAddForm, TripForm
from travel.mileage.models import Trip
from travel.mileage.selectors import mileage_teacher, mileage_teachers

CHANGE = "mileage.view"
ONE_DAY = dt.timedelta(days=1)


def month_page(month: dt.date, teacher_id: int | None = None) -> str:
    """Address of a month."""
    teacher = f"&teacher={teacher_id}" if teacher_id is not None else ""
    return f"{reverse('mileage')}?month={month:%Y-%m}{teacher}"


def month_crumbs(month: dt.date, teacher_id: int | None = None) -> Crumbs:
    """The month."""
    return [(f"Mileage, {month:%B %Y}", month_page(month, teacher_id))]


def month_viewer(request: HttpRequest) -> Person:
    """Who may see trips at all."""
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    return person


def driver_of(request: HttpRequest) -> Person:
    """The driver who acts; everyone else reads."""
    person = month_viewer(request)
    if not person.has_perm(services.OWN):
        raise PermissionDenied
    return person


def _month_in(request: HttpRequest, person: Person) -> dt.date:
    text = request.GET.get("month", "")
    return month_of(text) if text else month_start(today_of(person))


def _opens_at(view: MonthView, today: dt.date) -> dt.date | None:
    """The day at which this month opens on a phone: today, the next with a trip, or the last; None of another."""
    if view.month != today.replace(day=1):
        return None
    days = [one.date for one in view.days]
    return next((day for day in days if day >= today), days[-1] if days else None)


@require_safe
def mileage(request: HttpRequest) -> HttpResponse:
    """A teacher's month."""
    person = month_viewer(request)
    month = _month_in(request, person)
    teacher = mileage_teacher(person, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/mileage/nobody.html")
    other = teacher.pk if teacher != person else None
    view, today = month_view(person, teacher, month), today_of(person)
    context = {
        "view": view,
        "today": today,
        "opens_at": _opens_at(view, today),
        "teachers": mileage_teachers(person) if person.is_coordinator else (),
        "before": month_page(month_start(month - ONE_DAY), other),
        "after": month_page(month_end(month) + ONE_DAY, other),
    }
    return render(request, "schedule/mileage/month.html", context)


@require_POST
def trips_confirm(request: HttpRequest) -> HttpResponse:
    """Confirm one trip or several as planned."""
    person = driver_of(request)
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
    person = driver_of(request)
    return _done(
        request,
        month_in(key),
        lambda: services.trip_drop(actor=person, teacher=person, key=key, today=today_of(person)),
        "The trip isn't claimed.",
    )


@require_POST
def trip_reopen(request: HttpRequest, key: str) -> HttpResponse:
    """Take back what was said of a trip."""
    person = driver_of(request)
    return _done(
        request,
        month_in(key),
        lambda: services.trip_reopen(actor=person, teacher=person, key=key),
        "The trip is to be confirmed again.",
    )


@require_POST
def supplement_start(request: HttpRequest, month: str) -> HttpResponse:
    """Make a submitted month correctable."""
    person = driver_of(request)
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
    person = driver_of(request)
    date = month_of(month)
    return _done(
        request,
        date,
        lambda: services.supplement_drop(actor=person, teacher=person, month=date),
        "The supplement is closed. The month is as it was submitted.",
    )


def _done(request: HttpRequest, month: dt.date, act: Callable[[], object], said: str) -> HttpResponse:
    """Do it and go back to the month; what is in the way is said there."""
    do_and_say(request, act, said)
    return redirect(month_page(month))


class _TripPage(RecordFormPage[Trip]):
    """What trip forms have in common: they are the teacher's own."""

    model = Trip
    permission = CHANGE
    noun = "trip"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Only the teacher says what was driven."""
        if str(request.method).lower() in self.http_method_names:
            driver_of(request)
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

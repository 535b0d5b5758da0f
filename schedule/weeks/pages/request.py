"""Reading what a request to the week's pages says: who asks, whose week, which dates."""

import datetime as dt
import uuid
from collections.abc import Callable

from django.core.exceptions import PermissionDenied, ValidationError
from django.forms import Form
from django.http import Http404, HttpRequest

from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.models import Person
from accounts.validation import date_problem

BAD_DATE = "That isn't a date. Use a date such as 2026-09-14."
BAD_PLACE = "Choose one of the places in the list."


def viewer_of(request: HttpRequest) -> Person:
    """The person who is signed in."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user


def started[T](form: Form, start: Callable[[], T]) -> T | None:
    """The run that a form asks for, or None with the reason standing in the form."""
    try:
        return start()
    except ApplicationError as error:
        form.add_error(None, error.message)
    except ValidationError as error:
        form.add_error(None, error.messages)
    return None


def date_in(request: HttpRequest, name: str) -> dt.date | None:
    """A date in the query, or None if it isn't there; raises `ApplicationError` for what isn't a date."""
    text = request.GET.get(name, "")
    return date_of(text) if text else None


def date_of(text: str) -> dt.date:
    """A date in an address or a query; raises `ApplicationError` for what isn't a date."""
    try:
        date = dt.date.fromisoformat(text)
    except ValueError as error:
        raise ApplicationError(BAD_DATE, code="bad_date", status=400) from error
    if problem := date_problem(date):
        raise ApplicationError(problem, code="bad_date", status=400)
    return date


def number_in(request: HttpRequest, name: str) -> int | None:
    """A row's number in the query or the form, or None if it isn't there; what isn't a number finds nothing
    (404)."""
    text = request.POST.get(name) or request.GET.get(name, "")
    if not text:
        return None
    number = id_read(text)
    if number is None:
        raise Http404
    return number


MOST_DIGITS = 4
"""Of a place in a list that a page shows."""


def place_in_list(request: HttpRequest, name: str) -> int | None:
    """A place in a list that the page shows, from 0, or None if it isn't there; what is none is a 404."""
    text = request.POST.get(name) or request.GET.get(name, "")
    if not text:
        return None
    if not text.isdecimal() or len(text) > MOST_DIGITS:
        raise Http404
    return int(text)


def uid_in(request: HttpRequest) -> uuid.UUID:
    """The id of a session in a form; what isn't an id finds nothing (404)."""
    try:
        return uuid.UUID(request.POST.get("uid", ""))
    except ValueError as error:
        raise Http404 from error


def place_in(request: HttpRequest) -> tuple[dt.date, dt.time, int | None]:
    """Date, start and space that a form chose (see `schedule.weeks.strip.from_week.option_value`)."""
    parts = request.POST.get("place", "").split("|")
    try:
        date, start, space = parts
        place = date_of(date), dt.time.fromisoformat(start), id_read(space)
    except (ValueError, ApplicationError) as error:
        raise ApplicationError(BAD_PLACE, code="no_place_chosen", status=422) from error
    if space and place[2] is None:
        raise ApplicationError(BAD_PLACE, code="no_place_chosen", status=422)
    return place

"""Where the limits on wrong tries are asked and told: at the sign-in page, and wherever a password is asked again.

django-axes stands in Django's own way of signing in and asks the class here (AXES_HANDLER).
"""

import time
from typing import Any

from axes.handlers.base import AxesHandler
from axes.handlers.proxy import AxesProxyHandler
from django.contrib.auth.signals import user_login_failed
from django.core.exceptions import ValidationError
from django.dispatch import Signal
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.people.mailing import mail_is_set_up
from accounts.people.services import OLD_WRONG
from accounts.sign_in.known import is_known
from accounts.sign_in.limits import counted_as, wait_words
from accounts.sign_in.services.tries import failure_note, failures_forget, refused_until, success_note
from accounts.sign_in.staying import BY_PROVIDER

try_counted = Signal()
"""A try was wrong, and counted: with the request and the `name` that was typed."""
AGAIN_WITHIN = 600
"""Seconds for which a sign-in at the provider stands for the password that is asked once more."""
AGAIN = (
    "You signed in at your district's page too long ago for this. Do that once more by the link, then try again."
)
PROVIDER_NAME = "(provider)"
"""Wrong tries at the provider's way in are kept under this, which is no username: they count by address alone."""
WAIT = "There were too many wrong tries. Nothing is taken for another {wait}. Nothing is lost."


class LimitHandler(AxesHandler):  # type: ignore[misc]  # axes has no types
    """Counts wrong tries by name and address, by name, and by address, each with a limit of its own."""

    def is_locked(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> bool:
        """Whether a try isn't even looked at."""
        return _until(request, credentials) is not None

    def user_login_failed(
        self, sender: object, credentials: dict[str, Any], request: HttpRequest | None = None, **more: object
    ) -> None:
        """Count a wrong try; one that was refused doesn't count, so that waiting helps."""
        if request is None or request.axes_locked_out:  # type: ignore[attr-defined]  # axes adds it to each request
            return
        name, address = _name(credentials), _address(request)
        failure_note(name=name, address=address, known=is_known(request, name), now=timezone.now())
        try_counted.send(sender=type(self), request=request, name=name)
        if self.is_locked(request, credentials):
            request.axes_locked_out = True  # type: ignore[attr-defined]
            request.axes_credentials = credentials  # type: ignore[attr-defined]

    def user_logged_in(self, sender: object, request: HttpRequest, user: Person, **more: object) -> None:
        """Somebody got in."""
        success_note(name=user.get_username(), address=_address(request), now=timezone.now())

    def reset_attempts(
        self, *, ip_address: str | None = None, username: str | None = None, ip_or_username: bool = False
    ) -> int:
        """Take tries for never made."""
        return failures_forget(name=username, address=ip_address)


def _name(credentials: dict[str, Any] | None) -> str:
    return str((credentials or {}).get("username") or "")[:150].replace("\0", "")


def _address(request: HttpRequest) -> str | None:
    return counted_as(str(request.META.get("REMOTE_ADDR", "")))


def _until(request: HttpRequest, credentials: dict[str, Any] | None) -> Any:
    name = _name(credentials)
    until = refused_until(name, _address(request), known=is_known(request, name), now=timezone.now())
    if until is not None:
        request.refused_until = until  # type: ignore[attr-defined]  # for the page that says so
    return until


def locked_page(request: HttpRequest, response: HttpResponse, credentials: dict[str, Any] | None) -> HttpResponse:
    """What somebody who is locked out is told: for how long, and how to get in (AXES_LOCKOUT_CALLABLE)."""
    until = getattr(request, "refused_until", None) or timezone.now()
    seconds = str(max(1, int((until - timezone.now()).total_seconds())))
    wait = wait_words(until, timezone.now())
    if request.path.startswith("/api/"):
        body = {"code": "too_many_tries", "message": WAIT.format(wait=wait), "fields": {}}
        return JsonResponse(body, status=429, headers={"Retry-After": seconds})
    told = {"wait": wait, "by_mail": mail_is_set_up()}
    answer = render(request, "locked_out.html", told, status=429)
    answer["Retry-After"] = seconds
    return answer


def try_require(request: HttpRequest, person: Person) -> None:
    """Raise `ApplicationError` (429) if no further try of this person's password or code is taken from here."""
    credentials = {"username": person.get_username()}
    if not AxesProxyHandler.is_allowed(request, credentials):
        wait = wait_words(request.refused_until, timezone.now())  # type: ignore[attr-defined]  # set by the line above
        raise ApplicationError(WAIT.format(wait=wait), code="too_many_tries", status=429)


def provider_try_require(request: HttpRequest) -> HttpResponse | None:
    """What is answered instead where too many tries at the provider's way in came from this address."""
    credentials = {"username": ""}
    if AxesProxyHandler.is_allowed(request, credentials):
        return None
    return locked_page(request, HttpResponse(), credentials)


def provider_try_failed(request: HttpRequest) -> None:
    """Count a way back from the provider that let nobody in."""
    failure_note(name=PROVIDER_NAME, address=_address(request), known=False, now=timezone.now())


def password_require(request: HttpRequest, person: Person, password: str) -> None:
    """Raise `ValidationError` under `password` unless it is this person's; a wrong one counts as a try.

    In a session that began at the district's provider there may be none: a fresh sign-in there stands for it.
    """
    proved = request.session.get(BY_PROVIDER)
    if proved is not None:
        if time.time() - proved > AGAIN_WITHIN:
            raise ValidationError({"password": AGAIN})
        return
    try_require(request, person)
    if not person.check_password(password):
        try_failed(request, person)
        raise ValidationError({"password": OLD_WRONG})


def try_failed(request: HttpRequest, person: Person) -> None:
    """Count a wrong password or code of somebody who is signed in, as at the sign-in page."""
    user_login_failed.send(sender=__name__, credentials={"username": person.get_username()}, request=request)

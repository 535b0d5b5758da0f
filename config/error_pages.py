"""Pages for what goes wrong: plain words, a way on, and never a student's name."""

import sys
from collections.abc import Callable

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from accounts.errors import ApplicationError
from config.running.away import RETRY_AFTER, WORDS, Cause, cause_of
from config.running.steady import CAUSE, SAFE


def _page(request: HttpRequest, status: int, title: str, message: str, code: str) -> HttpResponse:
    if request.path.startswith("/feeds/") and status >= 500:
        # A calendar program reads no page; it keeps what it has and asks again.
        return HttpResponse(f"{title}\n", status=status, content_type="text/plain")
    if request.path.startswith("/api/"):
        return JsonResponse({"code": code, "message": message, "fields": {}}, status=status)
    return render(request, "error.html", {"title": title, "message": message, "status": status}, status=status)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form sent too late, or from another site."""
    message = (
        "This form was open too long, or it came from another site. Go back, reload the page and send it again."
    )
    return _page(request, 403, "That form is out of date", message, "form_out_of_date")


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Nothing here, or nothing that this person may see: the two look the same."""
    return _page(request, 404, "Not found", "There is nothing here that you can see.", "not_found")


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Signed in, but the role doesn't do this."""
    message = "Your role doesn't allow this. Ask the coordinator if you need it."
    return _page(request, 403, "Not for your role", message, "not_for_your_role")


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """A request that Django itself refuses, such as an upload that is too large."""
    message = "The request couldn't be read. If you were uploading, keep the file under 5 MB."
    return _page(request, 400, "That could not be read", message, "bad_request")


def server_error(request: HttpRequest) -> HttpResponse:
    """Our fault; whatever was saved before stays saved. Called while the error is at hand."""
    if (cause := cause_of(sys.exception())) is not None:
        return unavailable(request, cause)
    message = "Something broke on our side. What you saved is still there. Try again, or go back to the week."
    return _page(request, 500, "Something broke", message, "server_error")


def unavailable(request: HttpRequest, cause: Cause) -> HttpResponse:
    """Nobody's fault in the program: the database is away or busy, or the disk is full. Says what is saved."""
    request.META[CAUSE] = cause
    words = WORDS[cause]
    message = f"{words.reason} {words.read if request.method in SAFE else words.sent}"
    response = _page(request, 503, words.title, message, str(cause))
    response.headers["Retry-After"] = str(RETRY_AFTER[cause])
    response.headers["Cache-Control"] = "no-store"
    return response


class ApplicationErrorMiddleware:
    """Turns an `ApplicationError` (or a `ValidationError` outside a form) that reaches the top into a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Map the one application error."""
        if isinstance(exception, ApplicationError):
            return _page(request, exception.status, "That can't be done", exception.message, exception.code)
        if isinstance(exception, ValidationError):
            return _page(request, 422, "That can't be saved", " ".join(exception.messages), "invalid")
        return None

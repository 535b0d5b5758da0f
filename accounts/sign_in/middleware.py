"""Between signing in and everything else: a password that somebody else knows is changed first."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from accounts.models import Person

MUST_CHANGE = "Your password was given to you by somebody else. Choose your own first: POST /api/1/own-password/."
# The last two are a calendar's and a packet's own addresses, which must not depend on a session.
ALLOWED = frozenset({"password_change", "api:own_password", "sign_out", "health", "feed_ics", "packet_open"})


class OwnPasswordMiddleware:
    """Leads a person with a given password to the page that changes it, whatever was asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *view: object) -> HttpResponse | None:
        """Only once the address is known: a few stay open, and there the session isn't even looked at."""
        match = request.resolver_match
        if match is not None and match.view_name in ALLOWED:
            return None
        person = request.user
        if not isinstance(person, Person) or not person.password_given:
            return None
        if request.path.startswith("/api/"):
            return JsonResponse({"code": "password_to_change", "message": MUST_CHANGE, "fields": {}}, status=403)
        return redirect("password_change")

"""Between signing in and everything else: a password that somebody else knows is changed first, and a second factor
is set up where the district asks for one."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from accounts.models import Person
from accounts.sign_in.selectors import factors_of
from accounts.sign_in.staying import BY_PROVIDER, MISSING

MUST_CHANGE = "Your password was given to you by somebody else. Choose your own first: POST /api/1/own-password/."
# The last two are a calendar's and a packet's own addresses, which must not depend on a session.
MUST_SET_UP = "Your district asks for a second factor. Set one up first, under How you sign in."
FACTOR_PAGES = frozenset({"own_sign_in", "factor_codes", "factor_passkey", "recovery_codes"})
ALLOWED = frozenset({
    "password_change", "api:own_password", "sign_out", "signed_out", "provider", "provider_back", "health",
    "ready", "metrics", "feed_ics", "packet_open",
    "manual", "manual_whole", "manual_chapter",
})  # fmt: skip


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
        if not isinstance(person, Person):
            return None
        if person.password_given and BY_PROVIDER not in request.session:
            return _led(request, "password_change", "password_to_change", MUST_CHANGE)
        if request.session.get(MISSING) and (match is None or match.view_name not in FACTOR_PAGES):
            if factors_of(person).missing:
                return _led(request, "own_sign_in", "second_factor_needed", MUST_SET_UP)
            del request.session[MISSING]
        return None


def _led(request: HttpRequest, page: str, code: str, message: str) -> HttpResponse:
    if request.path.startswith("/api/"):
        return JsonResponse({"code": code, "message": message, "fields": {}}, status=403)
    return redirect(page)

"""Who asks the API with a token: found before anything asks who it is, so that all that follows is the same."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from accounts.models import ApiToken, Person
from accounts.selectors import today_of
from accounts.sign_in.selectors import factors_of
from accounts.tokens.rates import POLICY, Left
from accounts.tokens.services import PREFIX, token_digest, token_take, token_used

SCHEME = f"Bearer {PREFIX}"
SAFE = {"GET", "HEAD", "OPTIONS"}
NOT_KNOWN = "This token isn't known, or it has ended. Make another under How you sign in."
READS_ONLY = "This token may read only. Make one that may change things under How you sign in."
SIGNED_IN_ONLY = "This asks for somebody who signed in: it isn't open to tokens."
TOO_OFTEN = "Too many requests with this token. Wait for as long as Retry-After says."
OWN = (
    "/api/1/own-password/",
    "/api/1/second-factors/",
    "/api/1/open-sessions/",
    "/api/1/api-tokens/",
    "/api/1/own-role/",
)
"""How a person signs in, which a program must not change."""


class TokenMiddleware:
    """Takes `Authorization: Bearer …` at the API's addresses alone; there a session beside it doesn't count."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on in the person's name, or refuse it."""
        told = request.headers.get("Authorization", "")
        if not told.startswith(SCHEME) or not request.path.startswith("/api/"):
            return self.get_response(request)
        row = _token(told.removeprefix("Bearer "))
        left = token_take(row=row) if row is not None else None
        if row is None or left is None:
            return _refused(401, "token_not_known", NOT_KNOWN, {"WWW-Authenticate": 'Bearer error="invalid_token"'})
        answer = self._answer(request, row, left)
        answer["RateLimit-Policy"], answer["RateLimit"] = POLICY, left.header
        return answer

    def _answer(self, request: HttpRequest, row: ApiToken, left: Left) -> HttpResponse:
        if left.requests < 0:
            return _refused(429, "too_often", TOO_OFTEN, {"Retry-After": str(left.seconds)})
        if row.scope == ApiToken.Scope.READ and request.method not in SAFE:
            return _refused(403, "token_reads_only", READS_ONLY)
        if request.path.startswith(OWN):
            return _refused(403, "not_by_token", SIGNED_IN_ONLY)
        token_used(row=row)
        request.user = row.person
        # No browser sends this header by itself, so nobody's page can forge it.
        request._dont_enforce_csrf_checks = True  # type: ignore[attr-defined]  # noqa: SLF001 -- as Django's own tests say it
        return self.get_response(request)


def _token(token: str) -> ApiToken | None:
    """The row of a token that works, of somebody who could sign in now."""
    row = ApiToken.objects.select_related("person__district").filter(digest=token_digest(token)).first()
    if row is None or row.last_day < today_of(row.person, timezone.now()):
        return None
    person: Person = row.person
    role = row.role or person.role
    if role not in person.roles_on(today_of(person)):
        return None
    person.act_as(role)
    fit = person.is_active and not person.password_given and not factors_of(person).missing
    return row if fit else None


def _refused(status: int, code: str, message: str, headers: dict[str, str] | None = None) -> HttpResponse:
    return JsonResponse({"code": code, "message": message, "fields": {}}, status=status, headers=headers)

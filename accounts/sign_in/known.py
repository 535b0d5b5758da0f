"""Browsers in which somebody has signed in before: the limits on wrong tries count them by themselves."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

COOKIE = settings.SESSION_COOKIE_NAME.removesuffix("sessionid") + "known"
MOST = 5
"""So many people of one browser are known in it; the one who signed in longest ago is forgotten first."""
KEPT_SECONDS = 365 * 24 * 3600


def _mark(name: str) -> str:
    """A mark of a sign-in name that says nothing, and that only this server can make."""
    return salted_hmac("accounts.sign_in.known", name, algorithm="sha256").hexdigest()[:32]


def is_known(request: HttpRequest, name: str) -> bool:
    """Whether this person has signed in in this browser before."""
    mark = _mark(name)
    return any(constant_time_compare(one, mark) for one in request.COOKIES.get(COOKIE, "").split(".")[:MOST])


def known_keep(request: HttpRequest, response: HttpResponse, name: str) -> None:
    """Let the browser remember that this person signed in."""
    mark = _mark(name)
    marks = [mark, *(one for one in request.COOKIES.get(COOKIE, "").split(".") if one and one != mark)][:MOST]
    response.set_cookie(
        COOKIE,
        ".".join(marks),
        max_age=KEPT_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )

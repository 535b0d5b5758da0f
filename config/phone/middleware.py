"""What a page that a phone keeps may say: decided here, once, by the header with which the worker asks for it."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers

from accounts.models import Person

HEADER = "Kept-Page"
NAMES = "names"
"""The page is encrypted as soon as it is there. Any other value of the header: it lies readable on the phone."""


class KeptPageMiddleware:
    """Marks a request whose answer will be kept: students by initials and nothing about them, unless encrypted.

    The header can only make an answer say less. `request.kept` tells templates that a page will be read later.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Mark it, and pass it on."""
        asked = request.headers.get(HEADER)
        request.kept = asked or ""  # type: ignore[attr-defined]  # read by templates alone
        if asked and asked != NAMES and isinstance(request.user, Person):
            request.user.reads_initials = True
        answer = self.get_response(request)
        if asked:
            patch_vary_headers(answer, [HEADER])
        if request.session.accessed and isinstance(request.user, Person):
            # What the phone keeps is decided here and in the store; the browser itself keeps no page of a person's.
            answer.setdefault("Cache-Control", "no-store")
        return answer

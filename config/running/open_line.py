"""What programs ask over a line that anybody can read, where the site is to be asked by HTTPS alone.

A page leads on to HTTPS. A program that is led on never learns that it sends its token in the open each time, so it
is told (OWASP ASVS 5.0, 4.1.2).
"""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse

OPEN = (
    "Ask by https://. What you sent went over a line that others can read, and nothing was done. If there was a "
    "token in it, take that one away and make another."
)


PROGRAMS = ("/api/", "/metrics/", "/sign-in/provider/ended/")
"""What programs ask with a secret or a token. Calendars aren't among them: phones ask `webcal:` by HTTP first."""


class OpenLineMiddleware:
    """Refuses what programs ask without HTTPS; nothing of it is looked at."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Refuse, or pass the request on."""
        if settings.SECURE_SSL_REDIRECT and not request.is_secure() and request.path.startswith(PROGRAMS):
            return JsonResponse({"code": "https_only", "message": OPEN, "fields": {}}, status=403)
        return self.get_response(request)

"""One line of the log for each request."""

import logging
import re
import time
import uuid
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse

from config.running.figures import request_count
from config.running.logs import request_id

HEADER = "X-Request-ID"
GIVEN = re.compile(r"[A-Za-z0-9-]{8,64}")
"""An id that a proxy in front gave: nothing else gets into the log."""
WATCHERS = frozenset({"health", "ready", "metrics"})
NO_ROUTE = "none"

logger = logging.getLogger("config.requests")


class RequestLogMiddleware:
    """Says of each request how it was answered and how long that took, by its route: no ids, no names."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        given = request.headers.get(HEADER, "")
        told = given if GIVEN.fullmatch(given) else uuid.uuid4().hex
        # Until the next one: Django says what it refuses when this has returned.
        request_id.set(told)
        begun = time.perf_counter()
        response = self.get_response(request)
        response.headers[HEADER] = told
        _note(request, response, time.perf_counter() - begun)
        return response


def _note(request: HttpRequest, response: HttpResponse, seconds: float) -> None:
    match = request.resolver_match
    if match is not None and match.view_name in WATCHERS:
        return
    told: dict[str, Any] = {
        "method": request.method,
        "route": match.route if match is not None else NO_ROUTE,
        "status": response.status_code,
        "milliseconds": round(1000 * seconds, 1),
    }
    request_count(told["method"], told["route"], told["status"], seconds)
    if match is None and response.status_code < 400:
        return  # a style sheet or a script
    logger.info("%(method)s %(route)s %(status)d in %(milliseconds).1f ms", told, extra=told)

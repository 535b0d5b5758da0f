"""A database that is away for some seconds, as in a restart: requests wait for it where that is safe."""

import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db import close_old_connections, connection
from django.http import HttpRequest, HttpResponse

from accounts.idempotency.middleware import UNDER_KEY
from config.running.away import Cause

CAUSE = "config.running.cause"
"""Where the error page leaves its cause (`config.error_pages.server_error`), among what is known of a request."""
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
BETWEEN = 0.25
"""Seconds between two tries at first; each time twice as many, up to two."""
READS = ("SELECT", "SAVEPOINT", "RELEASE", "ROLLBACK", "BEGIN", "SET", "SHOW", "PRAGMA", "EXPLAIN")
WORD = 40
"""Characters in which the first word of a statement stands, with what may come before it."""


class Writes:
    """Notes whether a request sent the database anything but questions."""

    def __init__(self) -> None:
        self.sent = False

    def __call__(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
    ) -> Any:
        """Between Django and the database (Django's database instrumentation)."""
        # Of a long question only its beginning is looked at: a page asks a hundred of some thousand characters.
        self.sent = self.sent or not str(sql)[:WORD].lstrip(" \n(").upper().startswith(READS)
        return execute(sql, params, many, context)


class SteadyMiddleware:
    """Asks again, for some seconds, where nothing can happen twice.

    That is a question; a sending with a key, which is taken once (accounts.idempotency); and one that has written
    nothing yet. Of any other nobody knows whether it was saved when the connection broke, so its sender decides.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on, again and again if need be."""
        end, pause = time.monotonic() + settings.DATABASE_WAIT_SECONDS, BETWEEN
        if request.content_type == "application/json":
            # Read now, so that it can be read again.
            _content = request.body
        while True:
            writes = Writes()
            with connection.execute_wrapper(writes):
                response = self.get_response(request)
            away = request.META.pop(CAUSE, None) is Cause.AWAY
            if not away or not _is_safe(request, writes) or time.monotonic() + pause > end:
                return response
            time.sleep(pause)
            pause = min(2.0, 2 * pause)
            _as_new(request)


def _is_safe(request: HttpRequest, writes: Writes) -> bool:
    return request.method in SAFE or not writes.sent or UNDER_KEY in request.META


def _as_new(request: HttpRequest) -> None:
    """Forget the broken connection and who was signed in by it; what was uploaded is read from its beginning."""
    close_old_connections()
    vars(request).pop("_cached_user", None)
    for name in request.FILES:
        for file in request.FILES.getlist(name):
            file.seek(0)

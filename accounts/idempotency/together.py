"""Many sendings in one request: each goes through the site's whole chain on its own, as if it had come alone.

Nothing is decided here that a single sending doesn't decide: who is signed in, whose page it was, the token against
forgery, the key, the role, the month that is closed. Each has a transaction of its own.
"""

import json
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from typing import Any, Protocol
from urllib.parse import unquote, unquote_to_bytes, urlsplit

from django.core.handlers.base import BaseHandler
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse, HttpResponseBase
from django.urls import Resolver404, resolve

from accounts.errors import PROBLEM
from accounts.idempotency.shared import shared, sharing

MOST = 100
"""Sendings in one request."""
SECONDS = 8.0
"""No further sending is begun after so long: whoever waits for the answers gives up after twenty."""
ALONE = frozenset({"sendings", "own_password"})
"""Operations that can't be one of many: this one, and the one that begins another session."""

NOT_AN_OPERATION = (
    "This isn't the address of an operation that can be sent with others, such as /api/1/session-logs/."
)
WAITS = "What this hangs on wasn't taken, so this wasn't tried. Send it again after that."
NOT_REACHED = "The time was up before this one. Nothing is saved of it: send it again."
# The answers are parts of one, which is packed as a whole.
NOT_PASSED_ON = frozenset({"HTTP_ACCEPT_ENCODING", "HTTP_CONTENT_ENCODING", "HTTP_IDEMPOTENCY_KEY"})
PASSED_ON = ("HTTP_", "REMOTE_", "SERVER_", "SCRIPT_NAME")


@dataclass(frozen=True, slots=True)
class OneSending:
    """A body for an operation of the API, under its sender's key.

    `after` are keys without which it makes no sense.
    """

    key: str
    url: str
    body: Any
    after: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class SendingAnswer:
    """The HTTP status, and the JSON that came with it; None where it was none."""

    key: str
    status: int
    body: Any = field(default=None)

    @property
    def taken(self) -> bool:
        """Whether it was done, now or before."""
        return self.status < 300


class Asked(Protocol):
    """The request that brought them, Django's or the API's."""

    @property
    def META(self) -> Mapping[str, Any]:  # noqa: N802 -- Django's name
        """Its headers, and who sent it."""

    @property
    def scheme(self) -> str | None:
        """Whether it came by https."""


def sendings_carry(
    request: Asked, sendings: Iterable[OneSending], *, clock: Callable[[], float] = time.monotonic
) -> list[SendingAnswer]:
    """Carry out one after the other, each whether or not others were taken, unless it hangs on one that wasn't.

    What they have in common is read once (`accounts.idempotency.shared`).

    What hangs on one that wasn't taken is answered with 424 (RFC 4918), with 503 what wasn't begun within `SECONDS`
    by a clock that counts seconds; the first always is.
    """
    missing: set[str] = set()
    answers: list[SendingAnswer] = []
    ends, begun = clock() + SECONDS, False
    with sharing() as common:
        for one in sendings:
            if one.after & missing:
                answer = _refused(one, 424, "waits", WAITS)
            elif clock() > ends and begun:
                answer = _refused(one, 503, "not_reached", NOT_REACHED)
            elif not _is_operation(one.url):
                answer = _refused(one, 400, "not_an_operation", NOT_AN_OPERATION)
            else:
                begun = True
                common.look()
                answer = _answered(one, _chain().get_response(_request_of(request, one)))
            if not answer.taken:
                missing.add(one.key)
                common.forget()
            answers.append(answer)
    return answers


def _refused(one: OneSending, status: int, code: str, message: str) -> SendingAnswer:
    return SendingAnswer(one.key, status, {"code": code, "message": message, "fields": {}})


@cache
def _chain() -> BaseHandler:
    """All of the site's middleware and its addresses, once in the life of a process."""
    chain = BaseHandler()
    chain.load_middleware()
    return chain


def _is_operation(url: str) -> bool:
    """Whether it is an address within the API that isn't among those that come alone."""
    told = urlsplit(url)
    if told.scheme or told.netloc or told.fragment:
        return False
    return shared(("operation", told.path), lambda: _is_found(told.path))


def _is_found(path: str) -> bool:
    try:
        found = resolve(unquote(path))
    except Resolver404:
        return False
    return found.namespace == "api" and found.url_name not in ALONE


def _request_of(request: Asked, one: OneSending) -> WSGIRequest:
    """The request that this sending would have been, by the same person from the same page."""
    content = json.dumps(one.body).encode()
    told = urlsplit(one.url)
    headers = {
        name: value
        for name, value in request.META.items()
        if name.startswith(PASSED_ON) and name not in NOT_PASSED_ON
    }
    return WSGIRequest(
        {
            **headers,
            "REQUEST_METHOD": "POST",
            # As WSGI has it: decoded, each byte a character (PEP 3333).
            "PATH_INFO": unquote_to_bytes(told.path).decode("latin-1"),
            "QUERY_STRING": told.query,
            "CONTENT_TYPE": "application/json",
            "CONTENT_LENGTH": str(len(content)),
            "HTTP_IDEMPOTENCY_KEY": f'"{one.key}"',
            "wsgi.input": BytesIO(content),
            "wsgi.url_scheme": request.scheme,
        }
    )


def _answered(one: OneSending, response: HttpResponseBase) -> SendingAnswer:
    return SendingAnswer(one.key, response.status_code, _json_of(response))


def _json_of(response: HttpResponseBase) -> Mapping[str, Any] | list[Any] | None:
    """What an operation answers; None for a file or a redirect."""
    kind = response.headers.get("Content-Type", "").partition(";")[0]
    if not isinstance(response, HttpResponse) or kind not in {"application/json", PROBLEM}:
        return None
    told: Mapping[str, Any] | list[Any] = json.loads(response.content)
    return told

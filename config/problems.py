"""Errors of the API as problem details (RFC 9457).

The members of the API's own shape stay beside those of the standard, which allows members of one's own.
"""

import json
from collections.abc import Callable
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse

from accounts.errors import PROBLEM


class ProblemMiddleware:
    """Rewrites an error of the API on its way out, wherever it came from."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        answer = self.get_response(request)
        is_error = request.path.startswith("/api/") and answer.status_code >= 400 and not answer.streaming
        if is_error and answer.get("Content-Type", "").startswith("application/json"):
            _rewrite(answer)
        return answer


def _rewrite(answer: HttpResponse) -> None:
    told = json.loads(answer.content)
    title = HTTPStatus(answer.status_code).phrase
    problem = {
        "type": "about:blank",
        "title": title,
        "status": answer.status_code,
        "detail": told.get("message", ""),
    }
    answer.content = json.dumps(problem | told).encode()
    answer["Content-Type"] = PROBLEM
    if "Content-Length" in answer:
        answer["Content-Length"] = str(len(answer.content))

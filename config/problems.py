"""Errors of the API as problem details (RFC 9457), for whoever asks for them by `Accept: application/problem+json`.

The members of the API's own shape stay beside those of the standard, which allows members of one's own.
"""

import json
from collections.abc import Callable
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers

KIND = "application/problem+json"


class ProblemMiddleware:
    """Rewrites an error of the API on its way out, wherever it came from."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        answer = self.get_response(request)
        if request.path.startswith("/api/") and answer.status_code >= 400 and not answer.streaming:
            patch_vary_headers(answer, ["Accept"])
            is_json = answer.get("Content-Type", "").startswith("application/json")
            if is_json and KIND in request.headers.get("Accept", ""):
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
    answer["Content-Type"] = KIND
    if "Content-Length" in answer:
        answer["Content-Length"] = str(len(answer.content))

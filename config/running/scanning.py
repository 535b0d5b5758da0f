"""What people upload is scanned for viruses before anything reads it, where the site has a scanner.

Without the scanner's word nothing is taken: a scanner that is away refuses uploads, and nothing else.
"""

import logging
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from accounts.errors import ApplicationError
from config.running.clamd import ADDRESS_EXAMPLES, ScannerAwayError, clamd_address, clamd_answers, found_in

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
WITH_FILES = "multipart/form-data"
MOST_BYTES = 20_000_000
"""More than any form takes, and less than the least that a clamd as it comes takes at once (25 MB)."""
SECONDS = 30.0
SECONDS_TO_ANSWER = 2.0
RETRY_AFTER = 60
TOO_LARGE = "This file is too large to be scanned for viruses, and to be read. Send one of at most 5 MB."
INFECTED = (
    "The virus scanner found something in this file, so it wasn't read and nothing is saved. Don't open it again, "
    "and tell whoever looks after your computer."
)
AWAY = (
    "Files are scanned for viruses here before they are read, and the scanner doesn't answer. Nothing is saved. "
    "Try again in a few minutes; if it stays so, tell whoever runs this server."
)

logger = logging.getLogger(__name__)


class ScanMiddleware:
    """Has each uploaded file scanned; whoever isn't signed in is turned away later, with nothing read."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on if all its files are clean."""
        try:
            for file in _files(request):
                _refuse_unless_clean(file)
        except ApplicationError as error:
            return _refused(request, error)
        return self.get_response(request)


def _files(request: HttpRequest) -> "Iterator[UploadedFile[Any]]":
    if not settings.CLAMD_ADDRESS or request.method in SAFE or request.content_type != WITH_FILES:
        return
    if request.user.is_authenticated:
        for name in request.FILES:
            yield from request.FILES.getlist(name)


def _refuse_unless_clean(file: "UploadedFile[Any]") -> None:
    """Raise `ApplicationError`: 422 for what isn't clean, 413 for what is too large, 503 where nobody can say."""
    if (file.size or 0) > MOST_BYTES:
        raise ApplicationError(TOO_LARGE, code="file_too_large", status=413)
    try:
        found = found_in(clamd_address(settings.CLAMD_ADDRESS), file.chunks(), SECONDS)
    except ScannerAwayError as error:
        logger.warning("An upload was refused: %s", error)
        raise ApplicationError(AWAY, code="scanner_away", status=503) from error
    file.seek(0)
    if found:
        # The scanner's name for it; never the file's own, which may hold a student's.
        logger.warning("An upload was refused: the scanner found %s", found)
        raise ApplicationError(INFECTED, code="file_infected", status=422)


def _refused(request: HttpRequest, error: ApplicationError) -> HttpResponse:
    response: HttpResponse
    if request.path.startswith("/api/"):
        told = {"code": error.code, "message": error.message, "fields": {}}
        response = JsonResponse(told, status=error.status)
    else:
        shown = {"title": "That file can't be taken", "message": error.message, "status": error.status}
        response = render(request, "error.html", shown, status=error.status)
    if error.status == 503:
        response.headers["Retry-After"] = str(RETRY_AFTER)
    return response


def scanner_word() -> str:
    """For readiness: empty without a scanner, else whether it answers."""
    if not settings.CLAMD_ADDRESS:
        return ""
    return "ok" if clamd_answers(clamd_address(settings.CLAMD_ADDRESS), SECONDS_TO_ANSWER) else "away"


def scanner_address_reads(*, app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """CLAMD_ADDRESS, if there is one, is an address. Whether a scanner answers there is asked at each upload."""
    if settings.CLAMD_ADDRESS:
        try:
            clamd_address(settings.CLAMD_ADDRESS)
        except ValueError as error:
            hint = f"Give an address such as {ADDRESS_EXAMPLES}, or unset CLAMD_ADDRESS."
            return [Error(f"{error}.", hint=hint, id="config.E001")]
    return []

"""Packing what is sent (gzip): static files once, when a process starts; pages and answers of the API as they go.

Packing a page that holds a secret beside something from outside can give the secret away by the answer's length
(BREACH, breachattack.com). docs/security.md says what holds against that here.
"""

import gzip
import hashlib
import os
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.gzip import GZipMiddleware
from whitenoise.middleware import WhiteNoiseMiddleware
from whitenoise.responders import StaticFile

PAGES = ("text/html", "application/json")
"""Calendars have tags of their own, and documents and tables are packed already."""
FILES = frozenset({".css", ".js", ".json", ".svg", ".txt", ".webmanifest"})
WORTH = 0.9
"""A file is sent packed if that leaves at most this part of it."""


NOT_UNPACKED = "This isn't packed with gzip. Send it as it is, or packed with gzip."
TOO_LONG = "This is too long unpacked. Send it in parts."
GZIP = 16 + zlib.MAX_WBITS


class PackedBodiesMiddleware:
    """Unpacks what a program sends to the API packed with gzip (RFC 9110, section 8.4; refusals by RFC 7694).

    Unpacked it may be as long as what comes as it is, and no more of it is ever unpacked.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on as if it had come unpacked."""
        coding = request.META.pop("HTTP_CONTENT_ENCODING", "").strip().lower()
        if not coding or not request.path.startswith("/api/"):
            return self.get_response(request)
        try:
            content = None if coding != "gzip" else unpacked(request.read(), settings.DATA_UPLOAD_MAX_MEMORY_SIZE)
        except zlib.error:
            content = None
        if content is None:
            return _refused(415, "not_unpacked", NOT_UNPACKED, {"Accept-Encoding": "gzip"})
        if len(content) > settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            return _refused(413, "too_long", TOO_LONG, {})
        request.META["CONTENT_LENGTH"] = str(len(content))
        # Nothing of it is read yet, for whoever reads it next.
        request._stream, request._read_started = BytesIO(content), False  # type: ignore[attr-defined]  # noqa: SLF001 -- nobody has read it
        return self.get_response(request)


def unpacked(packed: bytes, most: int) -> bytes:
    """What was packed with gzip, up to one byte more than `most`; `zlib.error` for anything else or half of it."""
    reader = zlib.decompressobj(wbits=GZIP)
    content = reader.decompress(packed, most + 1)
    if len(content) <= most and not reader.eof:
        message = "It ends too early"
        raise zlib.error(message)
    return content


def _refused(status: int, code: str, message: str, headers: dict[str, str]) -> HttpResponse:
    told = {"code": code, "message": message, "fields": {}}
    return JsonResponse(told, status=status, headers=headers)


class PackedPagesMiddleware(GZipMiddleware):
    """Packs pages and the API's answers, with up to a hundred random bytes in each (Django's own measure)."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """Pack it if it is one of those and the browser unpacks."""
        if not response.headers.get("Content-Type", "").startswith(PAGES):
            return response
        packed: HttpResponseBase = super().process_response(request, response)
        return packed


class PackedFilesMiddleware(WhiteNoiseMiddleware):  # type: ignore[misc]  # the library ships no types
    """WhiteNoise, with packed static files in a folder of their own: no step before the server starts."""

    def get_static_file(self, path: str, url: str, stat_cache: Any = None) -> StaticFile:
        """The file, with its packed form beside it unless somebody works on the files just now."""
        plain: StaticFile = super().get_static_file(path, url, stat_cache)
        packed = None if self.autorefresh else packed_file(Path(path), settings.VAR_DIR / "packed")
        if packed is None:
            return plain
        _, _, headers = plain.alternatives[-1]
        told = [(name, value) for name, value in headers if name != "Content-Length"]
        return StaticFile(path, told, encodings={"gzip": str(packed)})


def packed_file(path: Path, folder: Path) -> Path | None:
    """The packed form of a static file, made if it isn't there; None if the file isn't worth it."""
    if path.suffix not in FILES:
        return None
    content = path.read_bytes()
    packed = gzip.compress(content, mtime=0)
    if len(packed) > len(content) * WORTH:
        return None
    folder.mkdir(parents=True, exist_ok=True)
    found = folder / f"{hashlib.sha256(content).hexdigest()[:20]}.gz"
    if not found.exists():
        # Several processes may start at once: each has a whole file, whoever is last.
        beside = found.with_suffix(f".{os.getpid()}")
        beside.write_bytes(packed)
        beside.replace(found)
    return found

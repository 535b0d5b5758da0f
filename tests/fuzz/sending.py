"""Sends requests and takes back what they changed; keeps what broke, once for each place that broke."""

import traceback
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import quote_from_bytes, urlencode

from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client

from tests.fuzz.pages import Target

FORM = "application/x-www-form-urlencoded"


@dataclass(frozen=True, slots=True)
class Sent:
    """One request: values in their order (a name may come twice), uploads, and raw bytes behind the values."""

    method: str
    path: str
    values: tuple[tuple[str, str], ...]
    files: tuple[tuple[str, bytes], ...] = ()
    tail: str = ""
    content_type: str = ""

    @property
    def encoded(self) -> str:
        """The values as a query or a body."""
        return urlencode(self.values, errors="surrogatepass") + self.tail

    def turned(self, name: str, value: str) -> "Sent":
        """The same with one value in place of another."""
        return replace(self, values=tuple((one, value if one == name else kept) for one, kept in self.values))


def as_filled(target: Target) -> Sent:
    """What the page itself would send."""
    values = tuple((one.name, one.value) for one in target.fields if one.name != "csrfmiddlewaretoken")
    return Sent(target.method, target.path, values, tuple((name, b"a,b\n1,2\n") for name in target.files))


def quoted(text: str) -> str:
    """Text as a part of an address."""
    return quote_from_bytes(text.encode(errors="surrogatepass"), safe="")


def send(client: Client, sent: Sent) -> int:
    """The answer's status; what the request changed is taken back."""
    with transaction.atomic():
        answer = _answer(client, sent)
        if answer.streaming:
            b"".join(answer.streaming_content)
        transaction.set_rollback(True)
    return int(answer.status_code)


def _answer(client: Client, sent: Sent) -> Any:
    if sent.method == "get":
        return client.get(f"{sent.path}?{sent.encoded}")
    if sent.files and not sent.content_type:
        values: dict[str, Any] = {}
        for name, value in sent.values:
            values.setdefault(name, []).append(value.encode(errors="surrogatepass"))
        files = {name: SimpleUploadedFile("rows.csv", content) for name, content in sent.files}
        return client.post(sent.path, {**values, **files})
    return client.generic("POST", sent.path, sent.encoded.encode(), content_type=sent.content_type or FORM)


@dataclass(slots=True)
class Findings:
    """What broke, by the last line of ours on the way to it, each with the first request that broke there."""

    by_place: dict[str, str] = field(default_factory=dict)

    def look(self, client: Client, sent: Sent) -> None:
        """Send and note an error of ours."""
        try:
            status = send(client, sent)
        except Exception as error:  # every error is a finding, whatever its kind
            self.note(sent, error, sent.path)
            return
        if status >= 500:
            self.by_place.setdefault(f"{status} {sent.path}", str(sent)[:1000])

    def note(self, sent: object, error: BaseException, elsewhere: str) -> None:
        """Keep an error, unless one of the same place is kept."""
        frames = traceback.extract_tb(error.__traceback__)
        ours = [one for one in frames if _is_ours(one.filename)]
        at = f"{Path(ours[-1].filename).relative_to(settings.BASE_DIR)}:{ours[-1].lineno}" if ours else elsewhere
        lines = "".join(traceback.format_list([*ours[-4:], frames[-1]]))
        self.by_place.setdefault(
            f"{type(error).__name__} at {at}", f"{str(sent)[:1000]}\n{lines}{str(error)[:500]}"
        )

    def report(self) -> str:
        """All of it, for the test's message; empty if nothing broke."""
        return "\n\n".join(f"{place}\n{text}" for place, text in self.by_place.items())


def _is_ours(filename: str) -> bool:
    path = Path(filename)
    return path.is_relative_to(settings.BASE_DIR) and not {"tests", ".venv"} & set(
        path.relative_to(settings.BASE_DIR).parts
    )

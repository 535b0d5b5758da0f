"""What is sent packed: pages and the API's answers, and static files from a copy that is made once."""

import gzip
import json
from pathlib import Path
from typing import Any

import pytest
from django.http import FileResponse, HttpRequest, HttpResponse
from django.test import Client, RequestFactory, override_settings

from accounts.models import Person
from config.packing import PackedFilesMiddleware, PackedPagesMiddleware, packed_file, unpacked
from schedule.calendar.models import Happening
from tests.conftest import Cast

UNPACKS = {"Accept-Encoding": "gzip, br"}
SHEET = Path(__file__).resolve().parents[2] / "config/static/site.css"


def asked(path: str) -> HttpRequest:
    return RequestFactory().get(path, headers=UNPACKS)


def read(answer: FileResponse) -> bytes:
    content = b"".join(answer)
    answer.close()
    return content


def packed(text: str, kind: str) -> HttpResponse:
    """An answer of this kind, on its way to a browser that unpacks."""
    found = PackedPagesMiddleware(lambda _: HttpResponse(text, content_type=kind))(asked("/"))
    assert isinstance(found, HttpResponse)
    return found


@pytest.mark.parametrize("kind", ["text/html; charset=utf-8", "application/json"])
def test_pages_and_answers_are_packed(kind: str) -> None:
    text = "The same words again. " * 100
    answer = packed(text, kind)
    assert answer["Content-Encoding"] == "gzip"
    assert gzip.decompress(answer.content).decode() == text
    assert len(answer.content) < len(text) / 5


def test_the_length_of_a_page_is_not_always_the_same() -> None:
    """Up to a hundred random bytes: Django's `max_random_bytes` (Heal the BREACH, ICISSP 2022)."""
    lengths = {len(packed("The same words again. " * 100, "text/html").content) for _ in range(50)}
    assert len(lengths) > 5


@pytest.mark.parametrize("kind", ["text/calendar; charset=utf-8", "application/pdf", "image/png", "text/csv"])
def test_what_has_tags_of_its_own_or_is_packed_already_goes_as_it_is(kind: str) -> None:
    assert "Content-Encoding" not in packed("The same words again. " * 100, kind)


def test_a_signed_in_page_is_packed_for_who_unpacks(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.teacher)
    assert "Content-Encoding" not in client.get("/students/")
    assert client.get("/students/", headers=UNPACKS)["Content-Encoding"] == "gzip"


def test_a_file_is_packed_once_and_is_the_same_unpacked(tmp_path: Path) -> None:
    found = packed_file(SHEET, tmp_path)
    assert found is not None
    assert gzip.decompress(found.read_bytes()) == SHEET.read_bytes()
    assert packed_file(SHEET, tmp_path) == found
    assert [one.suffix for one in tmp_path.iterdir()] == [".gz"]
    dense = tmp_path / "dense.json"
    dense.write_bytes(gzip.compress(SHEET.read_bytes()))
    assert packed_file(dense, tmp_path) is None
    assert packed_file(SHEET.with_name("icons") / "180.png", tmp_path) is None


@pytest.mark.django_db  # a file that is closed ends its request, whose end looks at the connection
def test_static_files_come_packed_with_their_headers(tmp_path: Path) -> None:
    """And plain for who doesn't unpack; a tag that is known is answered without content."""
    with override_settings(WHITENOISE_AUTOREFRESH=False, VAR_DIR=tmp_path):
        serve = PackedFilesMiddleware(lambda _: HttpResponse(status=404))
    answer = serve(asked("/static/site.css"))
    content = read(answer)
    assert gzip.decompress(content) == SHEET.read_bytes()
    assert (answer["Content-Encoding"], answer["Vary"]) == ("gzip", "Accept-Encoding")
    assert (answer["Content-Type"], int(answer["Content-Length"])) == ('text/css; charset="utf-8"', len(content))
    plain = serve(RequestFactory().get("/static/site.css"))
    assert read(plain) == SHEET.read_bytes()
    known = serve(RequestFactory().get("/static/site.css", headers={"If-None-Match": answer["ETag"]}))
    assert (known.status_code, read(known)) == (304, b"")


SAID = {"kind": "away", "first_date": "2026-09-14"}
ADDRESS = "/api/1/happenings/"


def phone_of(person: Person) -> Client:
    found = Client()
    found.force_login(person)
    return found


def post(client: Client, content: bytes, coding: str) -> Any:
    told = {"Content-Encoding": coding} if coding else {}
    return client.generic("POST", ADDRESS, content, content_type="application/json", headers=told)


def test_what_a_program_sends_packed_is_what_it_sends(cast: Cast) -> None:
    """RFC 9110, section 8.4: the coding's name has no case."""
    client = phone_of(cast.teacher)
    content = json.dumps(SAID).encode()
    assert post(client, gzip.compress(content), "gzip").status_code == 201
    assert post(client, gzip.compress(content), "GZIP").json()["first_date"] == SAID["first_date"]
    assert post(client, content, "").status_code == 201
    assert Happening.objects.count() == 3


@pytest.mark.parametrize(
    ("content", "coding"),
    [
        (b"not packed", "gzip"),
        (gzip.compress(json.dumps(SAID).encode())[:-6], "gzip"),
        (json.dumps(SAID).encode(), "br"),
        (b"", "gzip"),
    ],
    ids=["no gzip", "cut off", "another way", "nothing"],
)
def test_what_cannot_be_unpacked_is_refused(cast: Cast, content: bytes, coding: str) -> None:
    """415, with what is understood (RFC 7694, section 3)."""
    answer = post(phone_of(cast.teacher), content, coding)
    assert (answer.status_code, answer["Accept-Encoding"]) == (415, "gzip")
    assert answer.json()["code"] == "not_unpacked"
    assert Happening.objects.count() == 0


def test_no_more_is_unpacked_than_may_come_as_it_is(cast: Cast) -> None:
    """A thousand times as long unpacked: 413 (RFC 9110, section 15.5.14)."""
    with override_settings(DATA_UPLOAD_MAX_MEMORY_SIZE=1000):
        answer = post(phone_of(cast.teacher), gzip.compress(b" " * 1_000_000), "gzip")
    assert (answer.status_code, answer.json()["code"]) == (413, "too_long")
    assert len(unpacked(gzip.compress(b" " * 1_000_000), 1000)) == 1001

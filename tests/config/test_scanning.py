"""Uploads go through a virus scanner before they are read: a real clamd, and none at all.

The protocol and its answers: manual page clamd(8). The test file: eicar.org.
"""

import socket
import threading
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from accounts.models import IdempotencyKey
from config.running.clamd import ClamdAddress, ScannerAwayError, clamd_address, clamd_answers, found_in
from config.running.scanning import MOST_BYTES, scanner_address_reads
from schedule.calendar.models import BusyCalendar
from schedule.imports.models import ImportBatch
from tests.api import Api
from tests.conftest import Cast
from tests.servers import EICAR, ClamdServer, free_port
from tests.services import clamd_server

__all__ = ["clamd_server"]
SECONDS = 5.0
TABLE = b"Student code,First name,Last name,Grade,Building code\nK01,Ola,Tarn,2,NORTH\n"
CALENDAR = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nEND:VCALENDAR\r\n"
FOUND = "Test.Eicar.UNOFFICIAL"
"""As clamd calls a signature that doesn't come from its makers."""


def _file(content: bytes, name: str = "Ola-Tarn.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def _packed(content: bytes) -> bytes:
    made = BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", content)
    return made.getvalue()


@pytest.fixture
def teacher(cast: Cast) -> Client:
    """A teacher's browser."""
    client = Client()
    client.force_login(cast.teacher)
    return client


def test_a_real_scanner_is_understood(clamd_server: ClamdServer) -> None:
    """By port and by socket; inside of a workbook, too; more than it takes is nobody's word."""
    for text in (clamd_server.address, clamd_server.path):
        address = clamd_address(text)
        assert clamd_answers(address, SECONDS)
        assert found_in(address, [TABLE, b"", CALENDAR], SECONDS) == ""
        assert found_in(address, [], SECONDS) == ""
        assert found_in(address, [EICAR[:20], EICAR[20:]], SECONDS) == FOUND
        assert found_in(address, [_packed(EICAR)], SECONDS) == FOUND
        with pytest.raises(ScannerAwayError):
            found_in(address, [bytes(1 << 16)] * 64, SECONDS)


@pytest.mark.django_db
def test_what_it_finds_is_refused_unread(
    cast: Cast, teacher: Client, settings: Settings, clamd_server: ClamdServer, caplog: pytest.LogCaptureFixture
) -> None:
    """By pages and API; nothing is kept, the file's name isn't logged, and the same key can be sent again."""
    settings.CLAMD_ADDRESS = clamd_server.address
    for address, more in (
        (reverse("import_upload", args=["students"]), {}),
        (reverse("busy_new"), {"title": "Choir"}),
        (reverse("calendar_import"), {}),
    ):
        answer = teacher.post(
            address, {**more, "file": _file(EICAR)}, headers={"Idempotency-Key": '"one-of-them-1"'}
        )
        assert (answer.status_code, "virus scanner found something" in answer.content.decode()) == (422, True), (
            address
        )
    told = Api(cast.teacher).upload("imports/", expect=422, kind="students", file=_file(EICAR))
    assert told["code"] == "file_infected"
    assert not ImportBatch.objects.exists()
    assert not BusyCalendar.objects.exists()
    assert not IdempotencyKey.objects.exists()
    assert FOUND in caplog.text
    assert "Tarn" not in caplog.text


@pytest.mark.django_db
def test_a_clean_file_goes_on(cast: Cast, teacher: Client, settings: Settings, clamd_server: ClamdServer) -> None:
    """Whole: its rows are there. Forms without files ask no scanner."""
    settings.CLAMD_ADDRESS = clamd_server.path
    assert teacher.post(reverse("import_upload", args=["students"]), {"file": _file(TABLE)}).status_code == 302
    told = Api(cast.teacher).upload("imports/", kind="students", file=_file(TABLE))
    assert ImportBatch.objects.get().pk == told["id"]
    assert told["problems"] == []
    assert (
        teacher.post(reverse("busy_new"), {"title": "Choir", "file": _file(CALENDAR, "a.ics")}).status_code == 302
    )
    assert teacher.get("/ready/").json()["scanner"] == "ok"


@pytest.mark.django_db
def test_without_its_word_nothing_is_taken(cast: Cast, teacher: Client, settings: Settings) -> None:
    """Nobody listens; everything but uploads goes on, and readiness says so."""
    settings.CLAMD_ADDRESS = f"127.0.0.1:{free_port()}"
    answer = teacher.post(reverse("import_upload", args=["students"]), {"file": _file(TABLE)})
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")
    assert "the scanner doesn't answer" in answer.content.decode().replace("&#x27;", "'")
    assert (
        Api(cast.teacher).upload("imports/", expect=503, kind="students", file=_file(TABLE))["code"]
        == "scanner_away"
    )
    assert not ImportBatch.objects.exists()
    given = {"title": "Band", "address": "webcal://calendar.example/a.ics"}
    assert teacher.post(reverse("busy_new"), given).status_code == 302
    ready = teacher.get("/ready/")
    assert (ready.status_code, ready.json()["scanner"]) == (200, "away")
    # Whoever isn't signed in costs the scanner nothing, and is turned away as ever.
    assert Client().post(reverse("import_upload", args=["students"]), {"file": _file(TABLE)}).status_code == 302


@pytest.mark.django_db
def test_a_file_that_no_scanner_takes_whole(teacher: Client, settings: Settings) -> None:
    """Refused before anybody is asked: nobody listens at this address."""
    settings.CLAMD_ADDRESS = f"127.0.0.1:{free_port()}"
    answer = teacher.post(reverse("import_upload", args=["students"]), {"file": _file(bytes(MOST_BYTES + 1))})
    assert answer.status_code == 413


@contextmanager
def _listener(answer: bytes) -> Iterator[ClamdAddress]:
    """A server that reads what comes and answers this once, whatever was sent: not clamd, and no daemon we know."""
    with closing(socket.create_server(("127.0.0.1", 0))) as server:

        def serve() -> None:
            line, _ = server.accept()
            with closing(line):
                while not line.recv(1 << 16).endswith(bytes(4)):
                    pass
                line.sendall(answer)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield ClamdAddress("127.0.0.1", server.getsockname()[1])
        thread.join(SECONDS)


@pytest.mark.parametrize(
    "answer", [b"", b"\0", b"stream: \0", b"UNKNOWN COMMAND\0", b"stream: Can't allocate memory ERROR\0"]
)
def test_an_answer_that_isnt_understood_is_no_word(answer: bytes) -> None:
    with _listener(answer) as address, pytest.raises(ScannerAwayError):
        found_in(address, [TABLE], SECONDS)


def test_a_scanner_that_keeps_silent_is_away(tmp_path: Path) -> None:
    """It takes connections and never answers."""
    with closing(socket.socket(socket.AF_UNIX)) as server:
        server.bind(str(tmp_path / "ctl"))
        server.listen()
        address = clamd_address(str(tmp_path / "ctl"))
        assert not clamd_answers(address, 0.2)
        with pytest.raises(ScannerAwayError):
            found_in(address, [TABLE], 0.2)


def test_addresses_are_read_or_refused_at_the_start(settings: Settings) -> None:
    """Brackets around an IPv6 address: RFC 3986, section 3.2.2."""
    assert clamd_address("/run/clamav/clamd.ctl") == ClamdAddress("/run/clamav/clamd.ctl")
    assert clamd_address("scanner.example:3310") == ClamdAddress("scanner.example", 3310)
    assert clamd_address("[::1]:3310") == ClamdAddress("::1", 3310)
    for text in ("scanner.example", ":3310", "host:", "host:0", "host:65536", "host:³", "unix"):
        settings.CLAMD_ADDRESS = text
        [problem] = scanner_address_reads(app_configs=None)
        assert "CLAMD_ADDRESS" in str(problem.msg)
    for text in ("", "127.0.0.1:3310"):
        settings.CLAMD_ADDRESS = text
        assert scanner_address_reads(app_configs=None) == []

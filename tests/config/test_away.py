"""A real disk that is full and a real server that goes away: what people are told, and that nothing is lost."""

import os
import sqlite3
import subprocess
import threading
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path

import psycopg
import pytest
from django.db import IntegrityError, InterfaceError, OperationalError

from config.running.away import Cause, cause_of
from schedule.feeds.services.feeds import PREFIX
from tests.databases import ROOT, migrated_template
from tests.servers import MissingServiceError, PostgresCluster, free_port, postgres_cluster
from tests.services import leave_out
from tests.sides import Side
from tests.visitor import Visitor

NEW = "salt-lantern-drum-77"
FEED = f"/feeds/{PREFIX}{'a' * 43}.ics"
WRITERS, EACH = 4, 30


def _raised(kind: type[Exception], *, by: Exception | None) -> Exception:
    try:
        raise kind from by
    except kind as error:
        return error


def test_what_the_databases_say_is_told_apart() -> None:
    with closing(sqlite3.connect(":memory:")) as database:
        database.execute("CREATE TABLE one (text)")
        database.execute("PRAGMA max_page_count = 3")
        with pytest.raises(sqlite3.OperationalError) as full:
            database.execute("INSERT INTO one VALUES (zeroblob(100000))")
        with pytest.raises(sqlite3.OperationalError) as wrong:
            database.execute("SELECT * FROM none")
    assert cause_of(_raised(OperationalError, by=full.value)) is Cause.FULL
    assert cause_of(_raised(OperationalError, by=wrong.value)) is None
    with pytest.raises(psycopg.OperationalError) as nobody:
        psycopg.connect(f"postgres://127.0.0.1:{free_port()}/none")
    assert cause_of(_raised(OperationalError, by=nobody.value)) is Cause.AWAY
    # Codes and names of PostgreSQL's manual, appendix A.
    by_code = {
        psycopg.errors.AdminShutdown: Cause.AWAY, psycopg.errors.CannotConnectNow: Cause.AWAY,
        psycopg.errors.TooManyConnections: Cause.AWAY, psycopg.errors.DiskFull: Cause.FULL,
        psycopg.errors.DeadlockDetected: Cause.BUSY, psycopg.errors.LockNotAvailable: Cause.BUSY,
        psycopg.errors.UndefinedTable: None, psycopg.errors.UniqueViolation: None,
    }  # fmt: skip
    assert {kind: cause_of(_raised(OperationalError, by=kind())) for kind in by_code} == by_code
    assert cause_of(_raised(InterfaceError, by=None)) is Cause.AWAY
    assert cause_of(_raised(IntegrityError, by=None)) is None
    assert cause_of(OSError(28, "No space left on device")) is Cause.FULL  # ENOSPC on Linux and macOS
    assert cause_of(ValueError()) is None


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 24 MB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount: list[str | Path] = ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", folder]
    if os.geteuid() != 0 or subprocess.run(mount, check=False, capture_output=True).returncode != 0:
        leave_out("the right to mount a small disk (root)", "the test of a full disk")
    yield folder
    subprocess.run(["umount", folder], check=True)


def _served(side: Side, **environment: str) -> Visitor:
    port = free_port()
    side.start(ROOT / "manage.py", "serve", WEB_LISTEN=f"127.0.0.1:{port}", **environment)
    visitor = Visitor(f"http://127.0.0.1:{port}")
    visitor.wait()
    return visitor


def _signed_in(side: Side, visitor: Visitor) -> None:
    """As the coordinator of a new district, with a password of her own."""
    printed = side.manage("start_district", "Away Fells", "--coordinator", "odell")
    password = printed[printed.index("password", printed.index("odell")) + 1]
    assert visitor.sign_in("odell", password).status == 302
    changed = {"old_password": password, "new_password1": NEW, "new_password2": NEW}
    assert visitor.send("/password/", changed).status == 302


@pytest.mark.long
def test_a_full_disk_is_named_and_nothing_saved_is_lost(
    small_disk: Path, tmp_path: Path, migrated_file: Path
) -> None:
    database = small_disk / "side.sqlite3"
    database.write_bytes(migrated_file.read_bytes())
    side = Side(f"sqlite:///{database}", tmp_path)
    try:
        visitor = _served(side)
        _signed_in(side, visitor)
        with suppress(OSError), (small_disk / "filler").open("wb", buffering=0) as filler:
            while True:
                filler.write(b"x" * 4096)
        refused = [visitor.call("buildings/", {"name": "N" * 100, "code": f"N{number}"}) for number in range(40)]
        full = refused[-1]
        assert (full.status, full.headers["Retry-After"]) == (503, "600")
        told = full.json()
        assert (told["status"], told["code"], told["fields"]) == (503, "disk_full", {})
        assert "not saved" in told["message"]
        other = {"old_password": NEW, "new_password1": f"{NEW}-8", "new_password2": f"{NEW}-8"}
        page = visitor.send("/password/", other)
        assert page.status == 503
        assert "The server&#x27;s disk is full" in page.data.decode()
        # What was saved can be read.
        assert visitor.ask("GET", "/buildings/").status == 200
        (small_disk / "filler").unlink()
        taken = visitor.call("buildings/", {"name": "North", "code": "NO"})
        assert taken.status == 201, taken.data
        saved = sum(answer.status == 201 for answer in [*refused, taken])
        assert side.rows("SELECT COUNT(*) FROM travel_building") == [(saved,)]
    finally:
        side.close()


@pytest.fixture
def cluster() -> Iterator[PostgresCluster]:
    """A PostgreSQL server that the test stops and starts."""
    try:
        with postgres_cluster() as found:
            yield found
    except MissingServiceError as missing:
        leave_out(str(missing), "the tests of a server that goes away")


@pytest.fixture
def far_side(cluster: PostgresCluster, tables_kept: Path, tmp_path: Path) -> Iterator[Side]:
    """A side with that server, and with all tables."""
    name = migrated_template(tables_kept, cluster.url)
    side = Side(f"{cluster.url.rpartition('/')[0]}/{name}", tmp_path)
    yield side
    side.close()


@pytest.mark.long
@pytest.mark.kills
def test_a_server_that_is_away_is_said_and_then_it_goes_on(cluster: PostgresCluster, far_side: Side) -> None:
    visitor = _served(far_side, DATABASE_WAIT_SECONDS="1")
    _signed_in(far_side, visitor)
    cluster.stop()
    page = visitor.ask("GET", "/buildings/?page=2")
    assert (page.status, page.headers["Retry-After"]) == (503, "30")
    assert "The database doesn&#x27;t answer" in page.data.decode()
    assert 'href="/buildings/?page=2">Try again' in page.data.decode()
    told = visitor.call("buildings/", {"name": "North", "code": "NO"})
    assert (told.status, told.json()["code"], told.json()["fields"]) == (503, "database_away", {})
    # The process lives, and is of no use just now.
    watcher = Visitor(visitor.site)
    assert watcher.ask("GET", "/health/").status == 200
    ready = watcher.ask("GET", "/ready/")
    assert (ready.status, ready.json()["database"]) == (503, "away")
    feed = visitor.ask("GET", FEED)
    # RFC 9110, 10.2.3 and 15.6.4: how long it is likely to last; no page for a program that reads calendars.
    assert (feed.status, feed.headers["Retry-After"]) == (503, "30")
    assert feed.headers["Content-Type"].startswith("text/plain")
    cluster.start()
    assert watcher.ask("GET", "/ready/").status == 200
    assert visitor.ask("GET", "/buildings/").status == 200
    assert visitor.call("buildings/", {"name": "North", "code": "NO"}).status == 201


@pytest.mark.long
@pytest.mark.kills
def test_a_restart_under_writes_loses_nothing_and_doubles_nothing(cluster: PostgresCluster, far_side: Side) -> None:
    visitor = _served(far_side, DATABASE_WAIT_SECONDS="60")
    _signed_in(far_side, visitor)
    begun, statuses = threading.Semaphore(0), []

    def write(writer: int) -> None:
        mine = Visitor(visitor.site)
        mine.cookies = visitor.cookies
        for number in range(EACH):
            code = f"W{writer}{number}"
            answer = mine.call("buildings/", {"name": code, "code": code}, **{"Idempotency-Key": str(uuid.uuid4())})
            statuses.append(answer.status)
            begun.release()

    with ThreadPoolExecutor(WRITERS) as writers:
        waiting = [writers.submit(write, number) for number in range(WRITERS)]
        for how in ("immediate", "fast"):
            for _ in range(WRITERS * EACH // 3):
                begun.acquire()
            cluster.stop(how)
            cluster.start()
        for one in waiting:
            one.result()
    assert statuses == [201] * WRITERS * EACH
    assert far_side.rows("SELECT COUNT(*), COUNT(DISTINCT code) FROM travel_building") == [(WRITERS * EACH,) * 2]

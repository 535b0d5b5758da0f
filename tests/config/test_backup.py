"""A backup taken while the program runs, put back whole or not at all, on files and servers of both kinds."""

import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tests.databases import ROOT
from tests.sides import Side

pytestmark = pytest.mark.long
ENTRY = (
    "INSERT INTO accounts_auditentry (district_id, action, model, object_id, changes, at) "
    "SELECT id, '{word}', 'side', '1', '{{}}', '2026-11-28 12:00:00' FROM accounts_district"
)
WORDS = "SELECT action FROM accounts_auditentry WHERE model = 'side' ORDER BY id"


@contextmanager
def opened(side: Side) -> Iterator[Any]:
    """A connection past all of our own code, as a running program has one."""
    if side.url.startswith("sqlite"):
        with closing(sqlite3.connect(side.url.removeprefix("sqlite:///"), timeout=20)) as database:
            database.execute("PRAGMA foreign_keys=ON")
            yield database
    else:
        with psycopg.connect(side.url) as server:
            yield server


def enter(side: Side, *words: str) -> None:
    """Write an entry for each word."""
    with opened(side) as database:
        for word in words:
            database.execute(ENTRY.format(word=word))
        database.commit()


def entries(side: Side) -> list[str]:
    """The words that were entered."""
    return [word for (word,) in side.rows(WORDS)]


def refused(side: Side, *words: str | Path) -> str:
    """What a command says that doesn't do what was asked."""
    command = [sys.executable, ROOT / "manage.py", *words]
    done = subprocess.run(
        command, env=side.environment(), cwd=side.home, capture_output=True, text=True, check=False
    )
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    return done.stderr


@contextmanager
def emptied(side: Side) -> Iterator[Side]:
    """Another place of the same kind, without a table."""
    if side.url.startswith("sqlite"):
        yield Side(f"sqlite:///{side.home / 'empty.sqlite3'}", side.home)
        return
    server_url, _, name = side.url.rpartition("/")
    with psycopg.connect(f"{server_url}/postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}_empty".encode())
        yield Side(f"{server_url}/{name}_empty", side.home)
        server.execute(f"DROP DATABASE {name}_empty WITH (FORCE)".encode())


def test_the_write_ahead_log_is_in_the_backup(sqlite_side: Side) -> None:
    """SQLite's log (https://www.sqlite.org/wal.html) holds what the file alone doesn't: a copy lacks the entry."""
    file = sqlite_side.home / "side.sqlite3"
    with opened(sqlite_side) as running:
        running.execute("PRAGMA journal_mode=WAL")
        running.execute(ENTRY.format(word="late"))
        running.commit()
        copied = Side(f"sqlite:///{sqlite_side.home / 'copied.sqlite3'}", sqlite_side.home)
        (sqlite_side.home / "copied.sqlite3").write_bytes(file.read_bytes())
        assert entries(copied) == []
        sqlite_side.manage("backup", "backup.zip")
    assert (sqlite_side.home / "backup.zip").stat().st_mode & 0o077 == 0
    with emptied(sqlite_side) as other:
        other.manage("restore", "backup.zip")
        assert entries(other) == ["late"]


def _write_pairs(side: Side, over: threading.Event, began: threading.Event) -> None:
    """Two entries in each transaction, without a pause."""
    with opened(side) as database:
        while not over.is_set():
            database.execute(ENTRY.format(word="one"))
            database.execute(ENTRY.format(word="other"))
            database.commit()
            began.set()


def test_a_backup_amid_writes_is_of_one_moment(side: Side) -> None:
    """Never one entry of a pair without the other; the program has gone on writing."""
    over, began = threading.Event(), threading.Event()
    writer = threading.Thread(target=_write_pairs, args=(side, over, began))
    writer.start()
    try:
        assert began.wait(30)
        side.manage("backup", "backup.zip")
    finally:
        over.set()
        writer.join()
    with emptied(side) as other:
        other.manage("restore", "backup.zip")
        words = entries(other)
    assert words.count("one") == words.count("other")
    assert 0 < len(words) < len(entries(side))


def test_over_data_only_when_it_is_meant_and_back_again(side: Side) -> None:
    enter(side, "before")
    side.manage("backup", "backup.zip")
    enter(side, "after")
    said = refused(side, "restore", "backup.zip")
    assert "This database holds 1 district" in said
    assert "--replace" in said
    assert entries(side) == ["before", "after"]
    side.manage("restore", "backup.zip", "--replace")
    assert entries(side) == ["before"]
    (replaced,) = side.home.glob("before-restore-*.zip")
    side.manage("restore", replaced.name, "--replace")
    assert entries(side) == ["before", "after"]
    assert side.rows("SELECT DISTINCT action FROM accounts_auditentry WHERE model = 'accounts.district'") == [
        ("backup_restore",)
    ]


def test_a_database_in_use_is_left_alone(side: Side) -> None:
    """Somebody has it open, and does nothing with it just now."""
    enter(side, "kept")
    side.manage("backup", "backup.zip")
    with opened(side) as running:
        running.execute("SELECT 1 FROM accounts_district").fetchall()
        running.commit()
        if side.url.startswith("sqlite"):
            running.execute("PRAGMA journal_mode=WAL")
        said = refused(side, "restore", "backup.zip", "--replace")
    assert "The database is in use" in said
    assert entries(side) == ["kept"]
    assert list(side.home.glob("before-restore-*")) == []


@pytest.mark.postgres
def test_who_is_about_to_leave_is_waited_for(postgres_side: Side) -> None:
    """Whoever stops the web server and restores at once finds its connection still listed for a moment."""
    enter(postgres_side, "kept")
    postgres_side.manage("backup", "backup.zip")
    with emptied(postgres_side) as other, ExitStack() as leaving:
        leaving.enter_context(opened(other))
        began = threading.Timer(6, leaving.close)
        began.start()
        try:
            other.manage("restore", "backup.zip")
        finally:
            began.join()
        assert entries(other) == ["kept"]


def test_what_was_under_way_in_the_backup_has_ended(side: Side) -> None:
    """Neither is anybody signed in by an old session, nor does work begin anew."""
    columns = "id, kind, payload, unique_key, state, attempts, attempts_allowed"
    columns += ", stop_asked, progress, error, created_at"
    values = "'{}', 'side.note', '{{}}', '', '{}', 1, 3, {}, '{{}}', '', '2026-11-28'"
    jobs = f"INSERT INTO jobs_job ({columns}) VALUES ({values})"  # noqa: S608 -- words of this test alone
    no = "0" if side.url.startswith("sqlite") else "false"
    with opened(side) as database:
        database.execute("INSERT INTO django_session VALUES ('key', 'data', '2099-01-01')")
        for number, state in enumerate(("waiting", "running", "done")):
            database.execute(jobs.format(f"{number:032}", state, no))
        database.commit()
    side.manage("backup", "backup.zip")
    with emptied(side) as other:
        other.manage("restore", "backup.zip")
        assert sorted(state for state, _attempts in other.jobs()) == ["done", "stopped", "stopped"]
        assert other.rows("SELECT * FROM django_session") == []


def test_an_older_backup_is_brought_up_to_date(sqlite_side: Side) -> None:
    """As from before one migration: here that which makes the table of sessions."""
    sqlite_side.manage("migrate", "sessions", "zero")
    sqlite_side.manage("backup", "backup.zip")
    with emptied(sqlite_side) as other:
        other.manage("restore", "backup.zip")
        other.manage("migrate", "--check")
        assert other.rows("SELECT * FROM django_session") == []


@pytest.mark.postgres
def test_a_restore_that_fails_in_the_middle_changes_nothing(postgres_side: Side) -> None:
    """Something of the name of a table is in its way, and it isn't a table."""
    postgres_side.manage("backup", "backup.zip")
    with opened(postgres_side) as database:
        database.execute("ALTER TABLE caseload_student RENAME TO kept")
        database.execute("CREATE VIEW caseload_student AS SELECT 1")
        database.commit()
    enter(postgres_side, "kept")
    said = refused(postgres_side, "restore", "backup.zip", "--replace")
    assert 'relation "caseload_student" already exists' in said
    assert entries(postgres_side) == ["kept"]


def test_a_folder_gets_a_file_named_by_the_moment(sqlite_side: Side) -> None:
    sqlite_side.manage("backup", str(sqlite_side.home))
    (made,) = sqlite_side.home.glob("minutes-and-miles-????-??-??-??????.zip")
    assert "already exists" in refused(sqlite_side, "backup", made)
    assert "There is no database" in refused(Side("sqlite:////nowhere/db.sqlite3", sqlite_side.home), "backup", "x")

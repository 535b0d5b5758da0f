"""Tables are made once for each state of the migrations, and copied by whoever needs them.

The tests' own databases, side processes and sites begin with that copy; the first to need it migrates: an SQLite
file, and for PostgreSQL a template on the server, made from a dump where one is kept.
"""

import fcntl
import hashlib
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
from django.db import connection

from tests.servers import own_programs

ROOT = Path(__file__).resolve().parents[1]
DECIDES = ("*/migrations/*.py", "config/settings.py", "requirements-lock.txt")
"""Files that decide which tables there are, those of other packages by their versions."""


def name_in_memory() -> str:
    """The tests' own database where it is SQLite's in memory, which each process has for itself; else empty."""
    if connection.vendor != "sqlite":
        return ""
    creation: Any = connection.creation  # the stubs know of no kind of database in particular
    name = str(creation._get_test_db_name())
    return name if creation.is_in_memory_db(name) else ""


def migrated_file(folder: Path) -> Path:
    """An SQLite file with all tables and nothing that a test saved, kept in ``folder`` for later runs as well."""
    file = folder / f"{state_of(ROOT)}.sqlite3"
    with _one_at_a_time(folder):
        if not file.exists():
            part = folder / "part.sqlite3"
            part.unlink(missing_ok=True)
            _migrate(f"sqlite:///{part}")
            with closing(sqlite3.connect(part)) as made:
                # All of it in the one file, none of it in a log beside it.
                made.execute("PRAGMA journal_mode=DELETE")
            _keep(part, file)
    return file


def migrated_template(folder: Path, url: str) -> str:
    """The name of a database with all tables and nothing that a test saved, on the PostgreSQL server at ``url``.

    What it was made by is kept in ``folder`` as SQL, where the server's own programs can write that.
    """
    state = state_of(ROOT)
    name, dump = f"tables_{state}", folder / f"{state}.sql"
    with _one_at_a_time(folder), psycopg.connect(url, autocommit=True) as server:
        if not server.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone():
            # Under another name until it is whole, so that a run that is ended leaves no half of one.
            server.execute("DROP DATABASE IF EXISTS tables_part")
            server.execute("CREATE DATABASE tables_part")
            _fill(f"{url.rpartition('/')[0]}/tables_part", dump)
            server.execute(f"ALTER DATABASE tables_part RENAME TO {name}".encode())
    return name


def _fill(url: str, dump: Path) -> None:
    """Make the tables of a PostgreSQL database from the dump, or migrate and keep the dump."""
    programs = own_programs()
    if programs is not None and dump.exists():
        options = ["--quiet", "--no-psqlrc", "--single-transaction", "--set=ON_ERROR_STOP=1", "--output=/dev/null"]
        subprocess.run([programs / "psql", *options, f"--file={dump}", url], check=True)
        return
    _migrate(url)
    if programs is not None:
        part = dump.with_name("part.sql")
        subprocess.run([programs / "pg_dump", f"--file={part}", url], check=True)
        _keep(part, dump)


@contextmanager
def _one_at_a_time(folder: Path) -> Iterator[None]:
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _keep(part: Path, whole: Path) -> None:
    """Keep it under its name, in place of those of other states."""
    for older in whole.parent.glob(f"*{whole.suffix}"):
        if older != part:
            older.unlink()
    part.rename(whole)


def state_of(root: Path) -> str:
    """A name that changes with each file that decides which tables there are."""
    found = hashlib.sha256()
    for path in sorted(path for pattern in DECIDES for path in root.glob(pattern)):
        found.update(str(path.relative_to(root)).encode() + b"\0" + path.read_bytes())
    return found.hexdigest()[:16]


def _migrate(url: str) -> None:
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "DATABASE_URL": url}
    command = [sys.executable, "manage.py", "migrate", "--verbosity=0"]
    subprocess.run(command, cwd=ROOT, env=environment, check=True)


@contextmanager
def filled_memory(file: Path) -> Iterator[None]:
    """The tests' database in memory holds what the file does, for as long as the context or Django has it open."""
    with closing(sqlite3.connect(name_in_memory(), uri=True)) as memory:
        with closing(sqlite3.connect(file)) as kept:
            kept.backup(memory)
        yield

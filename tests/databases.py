"""Tables are made once for each state of the migrations, and copied by whoever needs them.

The tests' own database in memory, side processes and sites begin with that copy; the first to need it migrates.
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

from django.db import connection

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
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not file.exists():
            for older in folder.glob("*.sqlite3*"):
                older.unlink()
            part = folder / "part.sqlite3"
            _migrate(part)
            part.rename(file)
    return file


def state_of(root: Path) -> str:
    """A name that changes with each file that decides which tables there are."""
    found = hashlib.sha256()
    for path in sorted(path for pattern in DECIDES for path in root.glob(pattern)):
        found.update(str(path.relative_to(root)).encode() + b"\0" + path.read_bytes())
    return found.hexdigest()[:16]


def _migrate(file: Path) -> None:
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "DATABASE_URL": f"sqlite:///{file}"}
    command = [sys.executable, "manage.py", "migrate", "--verbosity=0"]
    subprocess.run(command, cwd=ROOT, env=environment, check=True)
    with closing(sqlite3.connect(file)) as made:
        # All of it in the one file, none of it in a log beside it.
        made.execute("PRAGMA journal_mode=DELETE")


@contextmanager
def filled_memory(file: Path) -> Iterator[None]:
    """The tests' database in memory holds what the file does, for as long as the context or Django has it open."""
    with closing(sqlite3.connect(name_in_memory(), uri=True)) as memory:
        with closing(sqlite3.connect(file)) as kept:
            kept.backup(memory)
        yield

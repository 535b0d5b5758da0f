"""Backup of the embedded database by SQLite's own online backup, which takes the write-ahead log along.

https://www.sqlite.org/backup.html: one step copies the state of one moment, whoever writes in the meantime;
putting back is one transaction, so that a restore which is cut off has changed nothing.
"""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import IO
from urllib.parse import quote

from accounts.errors import ApplicationError
from config.backup.contents import Contents, contents_of

WAIT_SECONDS = 20.0
PART = "database.sqlite3"
IN_USE = (
    "The database is in use: {path} is open in another process. Stop the web server, and worker and beat if there "
    "are any, then restore again."
)
DAMAGED = (
    "{path} is damaged ({fault}). Move it away, with its -wal and -shm beside it, and restore the last backup."
)


class SqliteStore:
    """The database in a file."""

    part = PART

    def __init__(self, path: Path) -> None:
        self.path = path

    def fill(self, out: IO[bytes]) -> Contents:
        """Copy the database as it is at one moment. Raises `ApplicationError` if it isn't there or is damaged."""
        if not self.path.exists():
            raise ApplicationError(f"There is no database {self.path} yet.", code="no_database")
        with tempfile.TemporaryDirectory(dir=self.path.parent, prefix="backup-") as folder:
            copy = Path(folder) / PART
            with closing(_open(self.path)) as source, closing(sqlite3.connect(copy)) as target:
                _copied(source, target, self.path)
                # A file by itself, without a log beside it.
                target.execute("PRAGMA journal_mode=DELETE")
            if fault := self.fault_of(copy):
                raise ApplicationError(DAMAGED.format(path=self.path, fault=fault), code="damaged_database")
            with closing(_open(copy)) as database:
                contents = _contents(database)
            with copy.open("rb") as file:
                shutil.copyfileobj(file, out)
        return contents

    def fault_of(self, file: Path) -> str:
        """What keeps a copy from being a whole database; empty if nothing does."""
        try:
            with closing(_open(file)) as database:
                (found,) = database.execute("PRAGMA integrity_check(1)").fetchone()
        except sqlite3.DatabaseError as error:
            return str(error)
        return "" if found == "ok" else str(found)

    def contents(self) -> Contents:
        """Figures of the database at hand; empty if there is none yet."""
        if not self.path.exists():
            return Contents({}, frozenset(), None)
        with closing(_open(self.path)) as database, _read(self.path):
            return _contents(database)

    def require_alone(self) -> None:
        """Raise `ApplicationError` while another process has the database open."""
        if self.path.exists():
            with closing(sqlite3.connect(self.path, timeout=2)) as database:
                _make_exclusive(database, self.path)

    def put_back(self, file: Path) -> None:
        """Make the database what the copy is. Raises `ApplicationError` while another process has it open."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with closing(_open(file)) as source, closing(sqlite3.connect(self.path, timeout=2)) as target:
            _make_exclusive(target, self.path)
            _copied(source, target, self.path)


def _make_exclusive(database: sqlite3.Connection, path: Path) -> None:
    """Keep all others out until the connection is closed; the write-ahead log can be left only when alone."""
    database.isolation_level = None
    try:
        database.execute("PRAGMA locking_mode=EXCLUSIVE")
        database.execute("PRAGMA journal_mode=DELETE")
        database.execute("BEGIN EXCLUSIVE")
        database.execute("COMMIT")
    except sqlite3.OperationalError as error:
        raise ApplicationError(IN_USE.format(path=path), code="in_use") from error


def _open(path: Path) -> sqlite3.Connection:
    """An existing file, never a new one."""
    return sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=rw", uri=True, timeout=WAIT_SECONDS)


def _copied(source: sqlite3.Connection, target: sqlite3.Connection, path: Path) -> None:
    with _read(path):
        source.backup(target)


@contextmanager
def _read(path: Path) -> Iterator[None]:
    """Say of a file that can't be read as a database which one it is and what to do."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise ApplicationError(DAMAGED.format(path=path, fault=error), code="damaged_database") from error


def _contents(database: sqlite3.Connection) -> Contents:
    tables = {name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    return contents_of(database.execute, tables)

"""Files that only their owner may read: keys, and the embedded database."""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from uuid import uuid4

OWNER_ONLY = 0o600
OTHERS = 0o077
"""The bits by which a group or anybody else may do anything (POSIX)."""


def kept_secret(file: Path, make: Callable[[], bytes]) -> bytes:
    """What a file of a secret holds. One that isn't there is made, whole or not at all, for its owner only.

    Of processes that begin at once all get the same. Raises `OSError` where it can't be read or made.
    """
    if not file.exists():
        file.parent.mkdir(parents=True, exist_ok=True)
        _make(file, make())
    return file.read_bytes()


def _make(file: Path, content: bytes) -> None:
    beside = file.with_name(f".{file.name}.{uuid4().hex}")
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY), "wb") as out:
        out.write(content)
    try:
        # If another process was first, what it made stays.
        with suppress(FileExistsError):
            os.link(beside, file)
    finally:
        beside.unlink()


def is_open_to_others(file: Path) -> bool:
    """Whether anybody but the owner may read or write a file; False where there is none."""
    return file.exists() and bool(file.stat().st_mode & OTHERS)


def of_database(file: Path) -> Iterator[Path]:
    """An SQLite database's file and those that lie beside it while it is open."""
    yield file
    yield from (file.with_name(f"{file.name}-{part}") for part in ("wal", "shm", "journal"))


class OwnersDatabase(sqlite3.Connection):
    """A connection to an embedded database that only its owner can read, from the first byte on.

    SQLite makes the files beside the database with that one's own rights. A file of somebody else's stays as it is.
    """

    def __init__(self, database: str | Path, *more: Any, **options: Any) -> None:
        name = str(database)
        if name != ":memory:" and not name.startswith("file:"):
            _close_to_others(Path(name))
        super().__init__(database, *more, **options)


def _close_to_others(file: Path) -> None:
    if not file.exists() and file.parent.is_dir():
        # Whoever is first; SQLite takes an empty file for a new database.
        with suppress(FileExistsError):
            os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY))
    for one in of_database(file):
        # Gone since, somebody else's, or on a disk that can't be written: `check --deploy` names those.
        with suppress(OSError):
            if is_open_to_others(one):
                one.chmod(OWNER_ONLY)

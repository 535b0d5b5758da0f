"""Why the database, or the disk, can't do what was asked just now: told from errors of the program's own making."""

import errno
import sqlite3
from dataclasses import dataclass
from enum import StrEnum

import psycopg
from django.db import Error, InterfaceError


class Cause(StrEnum):
    """What keeps something from being done that would be done at another moment."""

    AWAY = "database_away"
    FULL = "disk_full"
    BUSY = "database_busy"


FULL_ERRORS = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
"""No room on the disk, in what a user may take of it, in a file (POSIX.1-2024, errno)."""
SQLITE = {
    sqlite3.SQLITE_FULL: Cause.FULL,
    sqlite3.SQLITE_BUSY: Cause.BUSY,
    sqlite3.SQLITE_LOCKED: Cause.BUSY,
    sqlite3.SQLITE_CANTOPEN: Cause.AWAY,
    sqlite3.SQLITE_IOERR: Cause.AWAY,
}
"""Primary result codes (sqlite.org/rescode.html)."""
POSTGRES = {
    "08": Cause.AWAY,  # the connection was lost
    "40": Cause.BUSY,  # rolled back because of others, such as a deadlock
    "53": Cause.AWAY,  # no memory, too many connections
    "53100": Cause.FULL,
    "55P03": Cause.BUSY,  # a lock that wasn't to be had in time
    "57014": Cause.BUSY,  # took too long
    "57P": Cause.AWAY,  # shut down, or not there yet
}
"""Error codes by their beginnings, the longest counts (PostgreSQL's manual, appendix A)."""


@dataclass(frozen=True, slots=True)
class Words:
    """What a person is told."""

    title: str
    reason: str
    read: str
    sent: str
    """What to do after only looking, and after sending something."""


WORDS = {
    Cause.AWAY: Words(
        "The records can't be reached just now",
        "The database doesn't answer. Everything that was saved before is still there.",
        "Try again in a minute.",
        "What you sent may not be saved: look before you send it again, in a minute.",
    ),
    Cause.FULL: Words(
        "Nothing more can be saved just now",
        "The server's disk is full. Everything that was saved before is still there, and can be read.",
        "Try again later, and tell whoever runs this site.",
        "What you sent is not saved. Tell whoever runs this site to make room, then send it again.",
    ),
    Cause.BUSY: Words(
        "Too many people are saving just now",
        "Others were saving at the same moment, for too long.",
        "Try again in a minute.",
        "What you sent is not saved: send it again in a minute.",
    ),
}
RETRY_AFTER = {Cause.AWAY: 30, Cause.FULL: 600, Cause.BUSY: 10}
"""Seconds after which a program may ask again (RFC 9110, 10.2.3)."""


def cause_of(error: BaseException | None) -> Cause | None:
    """The cause that an error tells of, itself or by what it came from; None for every other error."""
    seen = 0
    while error is not None and seen < 10:
        if (found := _cause_of_one(error)) is not None:
            return found
        error, seen = error.__cause__, seen + 1
    return None


def _cause_of_one(error: BaseException) -> Cause | None:
    if isinstance(error, sqlite3.Error):
        return SQLITE.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
    if isinstance(error, psycopg.Error):
        return _cause_of_postgres(error)
    if isinstance(error, Error):
        # Django's own, without one of the driver's behind it: it found the connection closed.
        return Cause.AWAY if isinstance(error, InterfaceError) and error.__cause__ is None else None
    return Cause.FULL if isinstance(error, OSError) and error.errno in FULL_ERRORS else None


def _cause_of_postgres(error: psycopg.Error) -> Cause | None:
    code = error.sqlstate or ""
    for length in range(len(code), 1, -1):
        if (found := POSTGRES.get(code[:length])) is not None:
            return found
    # The client's own: no connection, or one that broke, has no code of the server's.
    return Cause.AWAY if not code and isinstance(error, psycopg.OperationalError | psycopg.InterfaceError) else None

"""Backup of a PostgreSQL database by its own programs: pg_dump, pg_restore and psql.

A dump is the state of one moment, that of a snapshot which this module's figures are read from as well. Putting
back is one transaction of psql.
"""

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import IO, Any

from django.db import connection, transaction
from django.db.backends.postgresql.client import DatabaseClient

from accounts.errors import ApplicationError
from config.backup.contents import Contents, contents_of

PART = "database.pgdump"
LOCK_SECONDS = 20
GONE_SECONDS = 10
"""How long a connection is waited for that has just been closed: the server's process outlives it by a moment."""
WHOLE = ("--no-owner", "--no-privileges")
"""Roles differ from server to server: everything belongs to who restores it."""

OTHERS = (
    "SELECT pid, application_name, client_addr FROM pg_stat_activity WHERE datname = current_database() "
    "AND pid <> pg_backend_pid() AND backend_type = 'client backend' ORDER BY pid"
)


class PostgresStore:
    """The database on the server that DATABASE_URL names."""

    part = PART

    def fill(self, out: IO[bytes]) -> Contents:
        """Dump the database as it is at one moment. Raises `ProgramFailedError` with what pg_dump says."""
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            (snapshot,) = cursor.fetchone()
            contents = self.contents()
            words = ["--format=custom", "--no-password", *WHOLE, f"--snapshot={snapshot}"]
            _run("pg_dump", [*words, *_address()], out)
        return contents

    def fault_of(self, file: Path) -> str:
        """What keeps a dump from being read to its end; empty if nothing does."""
        try:
            _run("pg_restore", ["--file=-", str(file)])
        except ProgramFailedError as error:
            return error.told
        return ""

    def contents(self) -> Contents:
        """Figures of the database at hand."""
        return contents_of(_query, set(connection.introspection.table_names()))

    def require_alone(self) -> None:
        """Raise `ApplicationError` while others are connected to the database, and still are after some seconds.

        A server's process ends after its client has gone: our own connection of a moment ago, or that of a web
        server that was just stopped, may still be listed, on a busy machine for seconds.
        """
        end = time.monotonic() + GONE_SECONDS
        while (others := _query(OTHERS)) and time.monotonic() < end:
            time.sleep(0.25)
        if others:
            who = "; ".join(f"process {pid} {name} from {at or 'this server'}" for pid, name, at in others)
            raise ApplicationError(
                f"The database is in use. Connected to it: {who}. Stop the web server, worker and beat, and "
                "whatever else is connected, then restore again.",
                code="in_use",
            )

    def put_back(self, file: Path) -> None:
        """Make the database what the dump is. Raises `ApplicationError` while others are connected to it."""
        self.require_alone()
        with tempfile.TemporaryDirectory(prefix="restore-") as folder:
            script, away = Path(folder) / "restore.sql", Path(folder) / "away.sql"
            _run("pg_restore", [*WHOLE, f"--file={script}", str(file)])
            away.write_text(_drop_all(), encoding="utf-8")
            connection.close()
            words = ["--no-psqlrc", "--quiet", "--no-password", "--set=ON_ERROR_STOP=1", "--single-transaction"]
            _run("psql", [*words, "--output", os.devnull, f"--file={away}", f"--file={script}", *_address()])


def _query(text: str) -> Sequence[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(text)
        return list(cursor.fetchall())


def _drop_all() -> str:
    """SQL that drops every table of the program's schema, waiting no longer than a while for others."""
    tables = _query("SELECT quote_ident(schemaname) || '.' || quote_ident(tablename) FROM pg_tables "
                    "WHERE schemaname = current_schema()")  # fmt: skip
    drops = "".join(f"DROP TABLE IF EXISTS {name} CASCADE;\n" for (name,) in tables)
    return f"SET lock_timeout = '{LOCK_SECONDS}s';\nSET client_min_messages = warning;\n{drops}"


def _address() -> list[str]:
    """Where and as whom, as the three programs take it; the password goes by the environment."""
    words, _environment = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    *options, name = words[1:]
    return [*options, f"--dbname={name}"]


def _program(name: str) -> str:
    installed = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: float(path.parts[-3]))
    found = shutil.which(name) or next(map(str, reversed(installed)), None)
    if found is None:
        raise ApplicationError(
            f"{name} is missing: install PostgreSQL's programs for clients, of the server's version or newer "
            "(Debian and Ubuntu: postgresql-client).",
            code="no_program",
        )
    return found


class ProgramFailedError(ApplicationError):
    """One of PostgreSQL's programs failed; `told` is what it said."""

    def __init__(self, name: str, told: str) -> None:
        super().__init__(f"{name} failed and nothing was changed: {told}", code="program_failed")
        self.told = told


def _run(name: str, words: Sequence[str], out: IO[bytes] | None = None) -> None:
    """Run one of PostgreSQL's programs, its output going to `out`. Raises `ProgramFailedError` if it fails."""
    _words, more = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    with (
        Path(os.devnull).open("wb") as nowhere,
        tempfile.TemporaryFile() as errors,
        subprocess.Popen(  # noqa: S603 -- PostgreSQL's own program, and no shell reads the words
            [_program(name), *words], env={**os.environ, **(more or {})}, stdout=subprocess.PIPE, stderr=errors
        ) as process,
    ):
        if process.stdout is not None:
            shutil.copyfileobj(process.stdout, out or nowhere)
        code = process.wait()
        errors.seek(0)
        told = errors.read().decode(errors="replace").strip()
    if code != 0:
        raise ProgramFailedError(name, told)

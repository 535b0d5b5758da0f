"""Side processes with a real database file or server, for the tests that need more than one process."""

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tests.databases import ROOT, migrated_template

WAIT_SECONDS = 180
ASKED = "kind <> 'count_teacher'"


def wait_for[T](look: Callable[[], T], what: str) -> T:
    """Look until there is something; fail with words if there is nothing in the end."""
    end = time.monotonic() + WAIT_SECONDS
    while not (seen := look()):
        if time.monotonic() > end:
            pytest.fail(f"Waited {WAIT_SECONDS} s for {what}.")
        time.sleep(0.1)
    return seen


@dataclass
class Side:
    """A database, and processes of ours at work on it."""

    url: str
    home: Path
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def environment(self, **more: str) -> dict[str, str]:
        """The environment of a side process."""
        given = {name: text for name, text in os.environ.items() if name not in {"REDIS_URL", "WEB_STARTS_WORKER"}}
        return {
            **given,
            "DJANGO_SETTINGS_MODULE": "tests.jobs.side.settings",
            "DATABASE_URL": self.url,
            "PYTHONPATH": str(ROOT),
            "LOG_LEVEL": "WARNING",
            **more,
        }

    def manage(self, *words: str, **environment: str) -> list[str]:
        """Run a management command to its end and give back the lines that it printed."""
        done = subprocess.run(
            [sys.executable, ROOT / "manage.py", *words],
            env=self.environment(**environment),
            cwd=self.home,
            capture_output=True,
            text=True,
            timeout=WAIT_SECONDS,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.split()

    def start(self, *words: str | Path, **environment: str) -> subprocess.Popen[bytes]:
        """Start a process in a group of its own, so that all of it can be killed."""
        with (self.home / f"out-{len(self.processes)}").open("wb") as output:
            process = subprocess.Popen(
                [sys.executable, *words],
                env=self.environment(**environment),
                cwd=self.home,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        self.processes.append(process)
        return process

    def together(self, module: str, action: str, count: int) -> list[str]:
        """What each of so many processes of a module printed that acted at the same moment, sorted.

        A module gets the action, its number from 0 and the moment (seconds since 1970) to wait for.
        """
        before = len(self.processes)
        moment = str(time.time() + 2 * count + 2)
        processes = [self.start("-m", module, action, str(number), moment) for number in range(count)]
        codes = [process.wait(WAIT_SECONDS) for process in processes]
        printed = [(self.home / f"out-{before + number}").read_text() for number in range(count)]
        assert codes == [0] * count, "\n".join(printed)
        return sorted(printed)

    def kill(self, process: subprocess.Popen[bytes]) -> None:
        """SIGKILL to a process and all its children, as when the machine goes down."""
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(WAIT_SECONDS)

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Rows of a query, read past all of our own code."""
        if self.url.startswith("sqlite"):
            with closing(sqlite3.connect(self.url.removeprefix("sqlite:///"), timeout=20)) as connection:
                return connection.execute(query).fetchall()
        with psycopg.connect(self.url) as server:
            return server.execute(query.encode()).fetchall()

    def jobs(self) -> list[tuple[Any, ...]]:
        """State and attempts of each job that the test asked for; workers ask for regular work by themselves."""
        return self.rows(f"SELECT state, attempts FROM jobs_job WHERE {ASKED} ORDER BY created_at")  # noqa: S608 -- a word of ours

    def progress(self) -> list[Any]:
        """What each of those reported last."""
        rows = self.rows(f"SELECT progress FROM jobs_job WHERE {ASKED} ORDER BY created_at")  # noqa: S608 -- as above
        return [json.loads(value) if isinstance(value, str) else value for (value,) in rows]

    def effects(self) -> list[str]:
        """Job ids of the effects that were written, with repetitions if there are any."""
        return [found for (found,) in self.rows("SELECT object_id FROM accounts_auditentry")]

    def is_over(self) -> bool:
        """Whether no job waits or runs."""
        return all(state not in {"waiting", "running"} for state, _attempts in self.jobs())

    def close(self) -> None:
        """End what still runs."""
        for process in self.processes:
            if process.poll() is None:
                self.kill(process)


@pytest.fixture(scope="session")
def migrated_file(tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file with all tables and what the side processes need, to be copied."""
    home = tmp_path_factory.mktemp("side")
    shutil.copy(tables, home / "side.sqlite3")
    side = Side(f"sqlite:///{home / 'side.sqlite3'}", home)
    side.manage("side", "prepare")
    # Folds the write-ahead log into the file.
    assert side.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    return home / "side.sqlite3"


@pytest.fixture
def sqlite_side(migrated_file: Path, tmp_path: Path) -> Iterator[Side]:
    """A side with an SQLite file."""
    shutil.copy(migrated_file, tmp_path / "side.sqlite3")
    side = Side(f"sqlite:///{tmp_path / 'side.sqlite3'}", tmp_path)
    yield side
    side.close()


@pytest.fixture(scope="session")
def migrated_database(postgres_url: str, tables_kept: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A PostgreSQL database with all tables and what the side processes need, to be copied: its name."""
    template, name = migrated_template(tables_kept, postgres_url), f"side_{os.getpid()}"
    with psycopg.connect(postgres_url, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name} TEMPLATE {template}".encode())
    side = Side(postgres_url.rpartition("/")[0] + f"/{name}", tmp_path_factory.mktemp("side"))
    side.manage("side", "prepare")
    return name


@pytest.fixture
def postgres_side(postgres_url: str, migrated_database: str, tmp_path: Path) -> Iterator[Side]:
    """A side with a PostgreSQL database."""
    name = f"{migrated_database}_{time.monotonic_ns()}"
    with psycopg.connect(postgres_url, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name} TEMPLATE {migrated_database}".encode())
    side = Side(postgres_url.rpartition("/")[0] + f"/{name}", tmp_path)
    yield side
    side.close()
    with psycopg.connect(postgres_url, autocommit=True) as server:
        server.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())


@pytest.fixture(params=["sqlite_side", pytest.param("postgres_side", marks=pytest.mark.postgres)])
def side(request: pytest.FixtureRequest) -> Side:
    """A side with each kind of database in turn."""
    found = request.getfixturevalue(request.param)
    assert isinstance(found, Side)
    return found

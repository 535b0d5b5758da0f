"""Real servers beside a test run: Redis and PostgreSQL.

Where a server can't be had, the test is left out and the report says which and why; with REQUIRE_SERVICES=1 it
fails instead, so that a run that must be whole can't pass by leaving things out. A conftest that imports the
fixtures `postgres_url` and `redis_server` has them.

``python -m tests.services postgres COMMAND ...`` runs a command with DATABASE_URL naming a PostgreSQL server.
"""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import NoReturn

import pytest
import redis

WAIT_SECONDS = 30


class MissingServiceError(Exception):
    """A server can't be started here; the message names it."""


def is_required() -> bool:
    """Whether a missing service is a failure."""
    return os.environ.get("REQUIRE_SERVICES") == "1"


def leave_out(service: str, what: str) -> NoReturn:
    """Leave out `what` for want of a service, or fail if everything was required."""
    if is_required():
        pytest.fail(f"REQUIRE_SERVICES=1, but {service} is missing: {what}", pytrace=False)
    pytest.skip(f"left out for want of {service}: {what}")


def free_port() -> int:
    """A TCP port that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class RedisServer:
    """A Redis server on a port of its own, with nothing kept on disk."""

    binary: str
    directory: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """For REDIS_URL."""
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = ["--bind", "127.0.0.1", "--port", str(self.port), "--save", "", "--appendonly", "no"]
        self.process = subprocess.Popen(
            [self.binary, *options, "--dir", str(self.directory)], stdout=subprocess.DEVNULL
        )
        end = time.monotonic() + WAIT_SECONDS
        with redis.Redis(port=self.port) as client:
            while True:
                try:
                    client.ping()
                except redis.ConnectionError:
                    if time.monotonic() > end:
                        raise
                    time.sleep(0.05)
                else:
                    return

    def stop(self) -> None:
        """End it, if it runs."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(WAIT_SECONDS)
            self.process = None


@pytest.fixture
def redis_server(tmp_path: Path) -> Iterator[RedisServer]:
    """A Redis server that is down until the test starts it."""
    binary = shutil.which("redis-server")
    if binary is None:
        leave_out("Redis (Debian package redis-server)", "the tests that send work through it")
    server = RedisServer(binary, tmp_path)
    yield server
    server.stop()


def _postgres_programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def _as_server_user() -> list[str | Path]:
    """PostgreSQL refuses to run as root; Debian's package brings the user ``postgres``."""
    return ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []


def _start_cluster(programs: Path, home: Path, port: int) -> None:
    data = home / "data"
    as_user = _as_server_user()
    if as_user:
        shutil.chown(home, "postgres")
    subprocess.run(
        [*as_user, programs / "initdb", "-D", data, "-U", "tester", "-A", "trust", "-E", "UTF8", "--no-sync"],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=home,
    )
    options = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories={home} -c fsync=off"
    subprocess.run(
        [*as_user, programs / "pg_ctl", "-D", data, "-l", home / "log", "-o", options, "-w", "start"],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=home,
    )


@contextmanager
def postgres_server() -> Iterator[str]:
    """The URL of TEST_POSTGRES_URL, or of a private cluster that lives as long as the context.

    Raises `MissingServiceError` where neither can be had.
    """
    if given := os.environ.get("TEST_POSTGRES_URL"):
        yield given
        return
    programs = _postgres_programs()
    if programs is None:
        raise MissingServiceError("PostgreSQL (Debian package postgresql, or TEST_POSTGRES_URL)")
    if os.geteuid() == 0 and shutil.which("runuser") is None:
        raise MissingServiceError("runuser, to start PostgreSQL as another user than root")
    # A directory that the server's own user may enter, which pytest's are not; short, since it holds a socket.
    home = Path(tempfile.mkdtemp(prefix="postgres-"))
    try:
        port = free_port()
        _start_cluster(programs, home, port)
        try:
            yield f"postgres://tester@127.0.0.1:{port}/postgres"
        finally:
            stop: list[str | Path] = [
                *_as_server_user(),
                programs / "pg_ctl",
                "-D",
                home / "data",
                "-m",
                "immediate",
                "-w",
                "stop",
            ]
            subprocess.run(stop, check=True, stdout=subprocess.DEVNULL, cwd=home)
    finally:
        shutil.rmtree(home)


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """A PostgreSQL server for this run, by the URL of a database of its own."""
    try:
        with postgres_server() as url:
            yield url
    except MissingServiceError as missing:
        leave_out(str(missing), "the tests of several processes on that database")


def main(words: list[str]) -> int:
    """Run a command with a PostgreSQL server; the command's exit code, or 0 where that had to be left out."""
    if words[:1] != ["postgres"] or len(words) == 1:
        sys.stderr.write("Use: python -m tests.services postgres COMMAND ...\n")
        return 2
    try:
        with postgres_server() as url:
            return subprocess.run(words[1:], env={**os.environ, "DATABASE_URL": url}, check=False).returncode
    except MissingServiceError as missing:
        sys.stdout.write(f"SKIPPED: left out for want of {missing}: {' '.join(words[1:])}\n")
        return 1 if is_required() else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Real servers as fixtures of the tests.

Where a server can't be had, the test is left out and the report says which and why; with REQUIRE_SERVICES=1 it
fails instead, so that a run that must be whole can't pass by leaving things out. A conftest that imports the
fixtures `postgres_url` and `redis_server` has them.

``python -m tests.services postgres COMMAND ...`` runs a command with DATABASE_URL naming a PostgreSQL server.
"""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

import pytest

from tests.servers import (
    WAIT_SECONDS,
    ClamdServer,
    MissingServiceError,
    RedisServer,
    clamd_program,
    free_port,
    postgres_server,
    redis_program,
)

__all__ = ["WAIT_SECONDS", "RedisServer", "free_port"]


def is_required() -> bool:
    """Whether a missing service is a failure."""
    return os.environ.get("REQUIRE_SERVICES") == "1"


def leave_out(service: str, what: str) -> NoReturn:
    """Leave out `what` for want of a service, or fail if everything was required."""
    if is_required():
        pytest.fail(f"REQUIRE_SERVICES=1, but {service} is missing: {what}", pytrace=False)
    pytest.skip(f"left out for want of {service}: {what}")


@pytest.fixture
def redis_server(tmp_path: Path) -> Iterator[RedisServer]:
    """A Redis server that is down until the test starts it."""
    try:
        server = RedisServer(redis_program(), tmp_path)
    except MissingServiceError as missing:
        leave_out(str(missing), "the tests that send work through it")
    yield server
    server.stop()


@pytest.fixture(scope="module")
def clamd_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ClamdServer]:
    """A running ClamAV daemon that knows the EICAR test file."""
    try:
        server = ClamdServer(clamd_program(), tmp_path_factory.mktemp("clamd"))
    except MissingServiceError as missing:
        leave_out(str(missing), "the tests of scanned uploads")
    server.start()
    yield server
    server.stop()


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

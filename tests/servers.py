"""Real servers beside a run: Redis and PostgreSQL, with nothing but the packages of the program itself."""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import redis

WAIT_SECONDS = 30
EICAR = b"".join((b"X5O!P%@AP[4\\PZX54(P^)7CC)7}$", b"EICAR-STANDARD-ANTIVIRUS-TEST-FILE!$H+H*"))
"""The test file that scanners find and that harms nothing (eicar.org); in two parts, so that none finds it here."""
REDIS = "Redis (Debian package redis-server)"


class MissingServiceError(Exception):
    """A server can't be started here; the message names it."""


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


@dataclass
class ClamdServer:
    """A ClamAV daemon with one signature, that of the EICAR test file, and small bounds."""

    binary: str
    directory: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        """For CLAMD_ADDRESS."""
        return f"127.0.0.1:{self.port}"

    @property
    def path(self) -> str:
        """The same, by its socket."""
        return str(self.directory / "ctl")

    def start(self) -> None:
        """Start it and wait until it listens. Signatures: clamd's manual, extended format (``.ndb``)."""
        signatures = self.directory / "signatures"
        signatures.mkdir()
        (signatures / "test.ndb").write_text(f"Test.Eicar:0:*:{EICAR.hex()}\n", encoding="ascii")
        said: dict[str, object] = {
            "DatabaseDirectory": signatures,
            "LogFile": self.directory / "log",
            "TCPAddr": "127.0.0.1",
            "TCPSocket": self.port,
            "LocalSocket": self.path,
            "Foreground": "yes",
            "MaxThreads": 2,
            "StreamMaxLength": "1M",
        }
        if os.geteuid() == 0:
            said["User"] = "root"
        written = self.directory / "clamd.conf"
        written.write_text("".join(f"{name} {value}\n" for name, value in said.items()), encoding="ascii")
        self.process = subprocess.Popen([self.binary, "-c", str(written)], stdout=subprocess.DEVNULL)
        end = time.monotonic() + WAIT_SECONDS
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
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


def clamd_program() -> str:
    """Where clamd lies. Raises `MissingServiceError` where it doesn't."""
    binary = shutil.which("clamd", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if binary is None:
        raise MissingServiceError("clamd (Debian package clamav-daemon)")
    return binary


def redis_program() -> str:
    """Where Redis lies. Raises `MissingServiceError` where it doesn't."""
    binary = shutil.which("redis-server")
    if binary is None:
        raise MissingServiceError(REDIS)
    return binary


def _postgres_programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def own_programs() -> Path | None:
    """The folder of ``psql`` and ``pg_dump``, if the servers of a run are of the same version as these."""
    return None if os.environ.get("TEST_POSTGRES_URL") else _postgres_programs()


def _as_server_user() -> list[str | Path]:
    """PostgreSQL refuses to run as root; Debian's package brings the user ``postgres``."""
    return ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []


@dataclass(frozen=True)
class PostgresCluster:
    """A PostgreSQL server of its own, which can be stopped and started again."""

    programs: Path
    home: Path
    port: int

    @property
    def url(self) -> str:
        """For DATABASE_URL."""
        return f"postgres://tester@127.0.0.1:{self.port}/postgres"

    def make(self) -> None:
        """Its files."""
        if os.geteuid() == 0:
            shutil.chown(self.home, "postgres")
        self._run("initdb", "-D", self.home / "data", "-U", "tester", "-A", "trust", "-E", "UTF8", "--no-sync")

    def start(self) -> None:
        """Start it and wait until it answers."""
        place = f"-c listen_addresses=127.0.0.1 -c port={self.port} -c unix_socket_directories={self.home}"
        options: list[str | Path] = ["-l", self.home / "log", "-o", f"{place} -c fsync=off"]
        self._run("pg_ctl", "-D", self.home / "data", *options, "-w", "start")

    def stop(self, how: str = "immediate") -> None:
        """End it, if it runs: ``immediate`` as when the machine goes down, ``fast`` with its connections cut."""
        if (self.home / "data" / "postmaster.pid").exists():
            self._run("pg_ctl", "-D", self.home / "data", "-m", how, "-w", "stop")

    def _run(self, program: str, *words: str | Path) -> None:
        command = [*_as_server_user(), self.programs / program, *words]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=self.home)


@contextmanager
def postgres_cluster() -> Iterator[PostgresCluster]:
    """A private cluster that runs, and lives as long as the context. Raises `MissingServiceError` without one."""
    programs = _postgres_programs()
    if programs is None:
        raise MissingServiceError("PostgreSQL (Debian package postgresql, or TEST_POSTGRES_URL)")
    if os.geteuid() == 0 and shutil.which("runuser") is None:
        raise MissingServiceError("runuser, to start PostgreSQL as another user than root")
    # A directory that the server's own user may enter, which pytest's are not; short, since it holds a socket.
    home = Path(tempfile.mkdtemp(prefix="postgres-"))
    cluster = PostgresCluster(programs, home, free_port())
    try:
        cluster.make()
        cluster.start()
        try:
            yield cluster
        finally:
            cluster.stop()
    finally:
        shutil.rmtree(home)


@contextmanager
def postgres_server() -> Iterator[str]:
    """The URL of TEST_POSTGRES_URL, or of a private cluster that lives as long as the context.

    Raises `MissingServiceError` where neither can be had.
    """
    if given := os.environ.get("TEST_POSTGRES_URL"):
        yield given
        return
    with postgres_cluster() as cluster:
        yield cluster.url

"""Where ``benchmarks.faults`` tries things: databases, web servers, people who send, and a row for the table."""

import datetime as dt
import shutil
import subprocess
import sys
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import psycopg
import urllib3

from tests.databases import ROOT, migrated_file, migrated_template
from tests.servers import PostgresCluster, free_port, postgres_cluster
from tests.sides import Side
from tests.visitor import Visitor

MANAGE = ROOT / "manage.py"
PASSWORD = "long-enough-for-a-test"  # noqa: S105 -- invented people's
"""Of everybody whom the tests' builders make; their module needs Django."""
KEPT = ROOT / ".pytest_cache" / "d" / "tables"
"""Where the tests keep the tables that migrations make."""
STORED = "SELECT client_id FROM caseload_deliveryentry"
EFFECTS = "SELECT object_id FROM accounts_auditentry WHERE model = 'side'"


@dataclass(frozen=True)
class Row:
    """One fault: what was sent, what the sender was told is saved, what is there, and what a person read."""

    fault: str
    sent: int
    acknowledged: int
    stored: int
    lost: int
    doubled: int
    saw: str


def row_of(fault: str, sent: int, acknowledged: Collection[Any], stored: Sequence[Any], saw: str) -> Row:
    """Lost is what was acknowledged and isn't there; doubled is what is there more than once."""
    lost = len(set(acknowledged) - set(stored))
    return Row(fault, sent, len(acknowledged), len(stored), lost, len(stored) - len(set(stored)), saw)


@dataclass
class Told:
    """What senders were told, by the ids that they sent."""

    saved: list[str] = field(default_factory=list)
    unsaved: list[str] = field(default_factory=list)
    words: Counter[str] = field(default_factory=Counter)
    begun: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(0))

    def hear(self, sent: str, answer: urllib3.BaseHTTPResponse | None) -> None:
        """Note one answer, or that there was none."""
        good = answer is not None and answer.status < 300
        (self.saved if good else self.unsaved).append(sent)
        self.words[_words(answer)] += 1
        self.begun.release()

    @property
    def sent(self) -> int:
        """How many answers there were, or should have been."""
        return self.words.total()

    @property
    def saw(self) -> str:
        """What they read, with how often."""
        return "; ".join(f"{count} times {words}" for words, count in self.words.most_common())


def _words(answer: urllib3.BaseHTTPResponse | None) -> str:
    if answer is None:
        return "no answer: the connection broke"
    if answer.status < 300:
        return "saved"
    told = answer.json()
    fields = f" {told['fields']}" if told.get("fields") else ""
    return f"{answer.status} “{told['message']}{fields}”"


class Places:
    """Databases with all tables; those of one kind come from one server."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self._tables: Path | None = None
        self._count = 0

    @contextmanager
    def sqlite(self, folder: Path | None = None) -> Iterator[Side]:
        """A file, in a folder of the caller's choice."""
        home = self._new_home()
        self._tables = self._tables or migrated_file(KEPT)
        file = (folder or home) / "side.sqlite3"
        shutil.copy(self._tables, file)
        with _closed(Side(f"sqlite:///{file}", home)) as side:
            yield side

    @contextmanager
    def postgres(self) -> Iterator[tuple[Side, PostgresCluster]]:
        """A server of its own, which can be stopped."""
        with postgres_cluster() as cluster:
            template, base = migrated_template(KEPT, cluster.url), cluster.url.rpartition("/")[0]
            with psycopg.connect(cluster.url, autocommit=True) as server:
                server.execute(f"CREATE DATABASE side TEMPLATE {template}".encode())
            with _closed(Side(f"{base}/side", self._new_home())) as side:
                yield side, cluster

    def _new_home(self) -> Path:
        self._count += 1
        home = self.home / str(self._count)
        home.mkdir()
        return home


@contextmanager
def _closed(side: Side) -> Iterator[Side]:
    try:
        yield side
    finally:
        side.close()


@contextmanager
def places() -> Iterator[Places]:
    """For one run."""
    KEPT.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder:
        yield Places(Path(folder))


def run_module(side: Side, *words: str) -> str:
    """Run ``benchmarks.faults_side`` to its end; what it printed."""
    command = [sys.executable, "-m", "benchmarks.faults_side", *words]
    done = subprocess.run(
        command, env=side.environment(), cwd=side.home, capture_output=True, text=True, check=False
    )
    if done.returncode:
        sys.exit(done.stderr)
    return done.stdout


def serve(side: Side, port: int = 0, **environment: str) -> Visitor:
    """The web server with this database, and somebody at it who isn't signed in."""
    port = port or free_port()
    side.start(MANAGE, "serve", WEB_LISTEN=f"127.0.0.1:{port}", **environment)
    visitor = Visitor(f"http://127.0.0.1:{port}")
    visitor.wait()
    return visitor


def signed_in(visitor: Visitor, name: str = "teacher") -> Visitor:
    """The same as somebody of the district."""
    answer = visitor.sign_in(name, PASSWORD)
    if answer.status != 302:
        sys.exit(f"{name} can't sign in: {answer.status}")
    return visitor


def like(visitor: Visitor, site: str = "") -> Visitor:
    """Another connection of the same person, perhaps to another server with the same database."""
    other = Visitor(site or visitor.site)
    other.cookies = visitor.cookies
    return other


class Sender:
    """Log entries of one service, each with an id of the sender's making."""

    def __init__(self, line: str, told: Told, *, keyed: bool, note: str = "") -> None:
        self.line, self.told, self.keyed, self.note = line, told, keyed, note
        self.day = (dt.datetime.now(tz=dt.UTC).date() - dt.timedelta(days=1)).isoformat()

    def send(self, visitor: Visitor, name: str = "") -> None:
        """One entry; ``name`` sends one again."""
        name = name or str(uuid.uuid4())
        values = {
            "client_id": name, "service_line": self.line, "date": self.day, "planned_minutes": 0,
            "delivered_minutes": 20, "confirmed": True, "note": self.note,
        }  # fmt: skip
        headers = {"Idempotency-Key": f'"{name}"'} if self.keyed else {}
        try:
            answer = visitor.call("log-entries/", values, **headers)
        except urllib3.exceptions.HTTPError:
            self.told.hear(name, None)
        else:
            self.told.hear(name, answer)

    def send_many(
        self, visitors: Sequence[Visitor], each: int, meanwhile: Callable[[], None] | None = None
    ) -> None:
        """So many entries from each at once, and more for as long as something else is done."""
        over = threading.Event()

        def sends(visitor: Visitor) -> None:
            done = 0
            while done < each or not over.is_set():
                self.send(visitor)
                done += 1

        with ThreadPoolExecutor(len(visitors)) as several:
            waiting = [several.submit(sends, one) for one in visitors]
            try:
                if meanwhile is not None:
                    meanwhile()
            finally:
                over.set()
            for one in waiting:
                one.result()


def stored(side: Side, query: str = STORED) -> list[str]:
    """Ids in the database, read past all of the program's own code."""
    return [str(uuid.UUID(str(found))) for (found,) in side.rows(query)]


def wait_until(look: Callable[[], bool], what: str, seconds: float = 300) -> None:
    """Look until it is so; end the run if it never is."""
    end = time.monotonic() + seconds
    while not look():
        if time.monotonic() > end:
            sys.exit(f"Waited {seconds:.0f} s for {what}.")
        time.sleep(0.1)

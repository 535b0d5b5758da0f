"""What each page costs the web server, as a ratio to a bare page of the same run, and a Monday morning.

    python -m benchmarks.load [--teachers 10 300] [--requests 20] [--monday SECONDS] [--servers 1]
    python -m tests.services postgres python -m benchmarks.load ...

The web server is ``manage.py serve`` as it is shipped (waitress, 8 threads), on SQLite, or on PostgreSQL where
DATABASE_URL names one. Cost is the processor time of the server's process between two looks at ``/proc`` (without
that of PostgreSQL), so that a busy machine counts for little. The bare page is Django with this program's
middleware, session, person and navigation, and no content; it is asked before and after all others.

Goals: the day sheet at most 8 times the bare page, the mix at most 5 times; from the smallest district to the
largest a teacher's pages cost the same (1.25 is taken for noise), a coordinator's at most 1.5 times. ``--monday``
asks as so many teachers do who each ask once in 20 s, at moments drawn evenly, and prints percentiles by the clock
(goal: the 99th under 500 ms on two idle processors): say beside those what else the machine did.
"""

import argparse
import json
import os
import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import psycopg.sql

from tests.servers import free_port
from tests.visitor import Visitor

ROOT = Path(__file__).resolve().parents[1]
TICKS = os.sysconf("SC_CLK_TCK")
CSRF = "k" * 32
EVERY = 20.0
"""Seconds between two requests of a teacher."""
BARE, DAY, WEEK, LOG, FEED, TAP = "bare page", "day sheet", "week", "log", "feed, 304", "log tap"
STUDENTS, ALL_STUDENTS, OTHERS_DAY = "students", "students, coordinator", "day sheet, coordinator"
MIX = {FEED: 6, DAY: 6, TAP: 5, WEEK: 1, LOG: 1, STUDENTS: 1}
"""How often each is asked for in twenty requests of a Monday morning: common practice, no source."""
GOALS = {DAY: 8.0}
MIX_GOAL = 5.0
FLAT, FLAT_FOR_ALL = 1.25, 1.5
OF_ALL = (ALL_STUDENTS, OTHERS_DAY)
CHEAP = {BARE, FEED}
"""Asked for five times as often: the kernel counts in hundredths of a second."""


@dataclass(frozen=True, slots=True)
class Served:
    """A district: where it is served, by which processes, and what benchmarks/load_district.py made."""

    sites: tuple[str, ...]
    pids: tuple[int, ...]
    made: dict[str, Any]

    def visitor(self, session: str, number: int = 0) -> Visitor:
        """Somebody who is signed in."""
        visitor = Visitor(self.sites[number % len(self.sites)])
        visitor.cookies[self.made["cookie"]] = session
        visitor.cookies["csrftoken"] = CSRF
        return visitor

    def seconds(self) -> float:
        """User's and system's time of the servers with all their threads (proc(5))."""
        told = (
            Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split() for pid in self.pids
        )
        return sum(int(fields[11]) + int(fields[12]) for fields in told) / TICKS


def _environment(folder: Path, database: str) -> dict[str, str]:
    return {
        **os.environ, "DATABASE_URL": database, "DJANGO_SETTINGS_MODULE": "benchmarks.load_settings",
        "LOG_LEVEL": "ERROR", "VAR_DIR": str(folder),
    }  # fmt: skip


def _tables(folder: Path) -> str:
    """A database with all tables and nothing in them."""
    given = os.environ.get("DATABASE_URL", "")
    database = given if given.startswith("postgres") else f"sqlite:///{folder}/tables.sqlite3"
    environment = _environment(folder, database)
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=environment, check=True)
    return database


def _copied(tables: str, teachers: int) -> str:
    """A database of its own for each size."""
    found, name = urlsplit(tables), f"load{teachers}"
    if found.scheme == "sqlite":
        to = Path(found.path).with_name(f"{name}.sqlite3")
        with closing(sqlite3.connect(found.path)) as source, closing(sqlite3.connect(to)) as target:
            source.backup(target)
        return f"sqlite:///{to}"
    # Nobody may be in the database that is copied.
    with psycopg.connect(f"{found.scheme}://{found.netloc}/template1", autocommit=True) as connection:
        own, of = psycopg.sql.Identifier(name), psycopg.sql.Identifier(found.path.removeprefix("/"))
        connection.execute(psycopg.sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(own, of))
    return f"{found.scheme}://{found.netloc}/{name}"


@contextmanager
def _serving(folder: Path, tables: str, teachers: int, servers: int) -> Iterator[Served]:
    environment = _environment(folder, _copied(tables, teachers))
    fill = [sys.executable, "-m", "benchmarks.load_district", str(teachers)]
    made = json.loads(subprocess.run(fill, cwd=ROOT, env=environment, check=True, stdout=subprocess.PIPE).stdout)
    with ExitStack() as running:
        ports = [free_port() for _ in range(servers)]
        processes = [_started(running, environment, port) for port in ports]
        sites = tuple(f"http://127.0.0.1:{port}" for port in ports)
        for site in sites:
            Visitor(site).wait("/health/")
        yield Served(sites, tuple(one.pid for one in processes), made)


def _started(running: ExitStack, environment: dict[str, str], port: int) -> subprocess.Popen[bytes]:
    told = {**environment, "WEB_LISTEN": f"127.0.0.1:{port}"}
    process = subprocess.Popen([sys.executable, "manage.py", "serve"], cwd=ROOT, env=told)
    running.callback(process.wait)
    running.callback(process.terminate)
    return process


type Ask = Callable[[], tuple[int, int]]
"""One request: its status, and which one is right."""


def _asks(district: Served, teacher: dict[str, Any], number: int = 0) -> dict[str, Ask]:
    """What one teacher asks for."""
    visitor, day = district.visitor(teacher["session"], number), district.made["day"]
    tag = visitor.ask("GET", teacher["feed"]).headers["ETag"]
    uids = iter(teacher["uids"])

    def get(path: str) -> Ask:
        return lambda: (visitor.ask("GET", path).status, 200)

    def tap() -> tuple[int, int]:
        told = {"session": next(uids), "client_id": str(uuid.uuid4()), "exceptions": []}
        return visitor.call("session-logs/", told).status, 201

    return {
        BARE: get("/bare/"),
        DAY: get(f"/day/{day}/"),
        WEEK: get(f"/week/?week={day}"),
        LOG: get(f"/log/?date={day}"),
        FEED: lambda: (visitor.ask("GET", teacher["feed"], **{"If-None-Match": tag}).status, 304),
        TAP: tap,
        STUDENTS: get("/students/"),
    }


def _asks_of_all(district: Served) -> dict[str, Ask]:
    """What a coordinator asks for."""
    visitor, day = district.visitor(district.made["coordinator"]), district.made["day"]
    return {
        ALL_STUDENTS: lambda: (visitor.ask("GET", "/students/").status, 200),
        OTHERS_DAY: lambda: (visitor.ask("GET", f"/day/{day}/").status, 200),
    }


def _cost(district: Served, name: str, ask: Ask, requests: int) -> float:
    """Milliseconds of processor time for one request, once it has been asked for."""
    _require(name, ask)
    count = requests * 5 if name in CHEAP else requests
    before = district.seconds()
    for _ in range(count):
        _require(name, ask)
    return 1000 * (district.seconds() - before) / count


def _require(name: str, ask: Ask) -> None:
    status, right = ask()
    if status != right:
        sys.exit(f"{name} answers {status}, not {right}.")


def costs(district: Served, requests: int) -> dict[str, float]:
    """Milliseconds by what is asked for; the bare page before and after, since a machine's pace changes."""
    asks = _asks(district, district.made["teachers"][0]) | _asks_of_all(district)
    first = _cost(district, BARE, asks[BARE], requests)
    found = {name: _cost(district, name, ask, requests) for name, ask in asks.items() if name != BARE}
    return {BARE: (first + _cost(district, BARE, asks[BARE], requests)) / 2, **found}


def mix_of(found: dict[str, float]) -> float:
    """Milliseconds of a request of the mix."""
    return sum(found[name] * share for name, share in MIX.items()) / sum(MIX.values())


def table(found: dict[int, dict[str, float]]) -> bool:
    """Print costs and ratios by size of the district; whether the goals are met."""
    sizes = sorted(found)
    for each in found.values():
        each["mix"] = mix_of(each)
    print(f"{'':24}" + "".join(f"{f'{size} teachers':>22}" for size in sizes) + f"{'growth':>10}{'goal':>8}")
    met = [_row(name, [found[size] for size in sizes]) for name in found[sizes[0]]]
    return all(met)


def _row(name: str, sizes: Sequence[dict[str, float]]) -> bool:
    """Print one line; whether it meets its goals."""
    ratios = [each[name] / each[BARE] for each in sizes]
    goal, growth = {**GOALS, "mix": MIX_GOAL}.get(name), ratios[-1] / ratios[0]
    cells = (f"{each[name]:9.1f} ms{ratio:8.1f} x" for each, ratio in zip(sizes, ratios, strict=True))
    print(f"{name:24}" + "".join(f"{cell:>22}" for cell in cells) + f"{growth:9.2f}x{goal or '':>8}")
    flat = FLAT_FOR_ALL if name in OF_ALL else FLAT
    return growth <= flat and (goal is None or max(ratios) <= goal)


def monday(district: Served, seconds: float) -> None:
    """Ask as all its teachers do, and print how long they waited, by the clock."""
    teachers = district.made["teachers"]
    draw = random.Random(1)  # noqa: S311 -- moments of a load, the same each time
    moments = sorted(draw.uniform(0, seconds) for _ in range(int(len(teachers) * seconds / EVERY)))
    # From the end: the first teacher's first sessions are logged already.
    turned = ({**teacher, "uids": teacher["uids"][::-1]} for teacher in teachers)
    asked = [_asks(district, teacher, number) for number, teacher in enumerate(turned)]
    names = draw.choices(list(MIX), weights=list(MIX.values()), k=len(moments))
    who = [draw.randrange(len(asked)) for _ in moments]
    before, begun = district.seconds(), time.monotonic()

    def ask(moment: float, name: str, number: int) -> tuple[str, float, bool]:
        time.sleep(max(0.0, begun + moment - time.monotonic()))
        status, right = asked[number][name]()
        # From when it was due: a request that waits for others has waited.
        return name, time.monotonic() - begun - moment, status == right

    with ThreadPoolExecutor(64) as several:
        found = list(several.map(ask, moments, names, who))
    wrong = sum(not right for _name, _wait, right in found)
    spent = district.seconds() - before
    print(f"{len(teachers)} teachers, {len(found)} requests in {seconds:.0f} s to {len(district.pids)} web servers")
    print(f"{spent:.0f} s of their processor time, {wrong} wrong answers, load {os.getloadavg()[0]:.1f}")
    for name in (*MIX, "all"):
        _percentiles(name, [wait for of, wait, _right in found if name in {of, "all"}])


def _percentiles(name: str, waits: Sequence[float]) -> None:
    if len(waits) > 1:
        parts = statistics.quantiles(waits, n=100, method="inclusive")
        print(f"{name:24} 50th {1000 * parts[49]:6.0f} ms   99th {1000 * parts[98]:6.0f} ms   ({len(waits)})")


def main() -> int:
    """Measure; 1 if a goal is missed."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--teachers", type=int, nargs="+", default=[10, 300])
    words.add_argument("--requests", type=int, default=20)
    words.add_argument("--monday", type=float, default=0.0)
    words.add_argument("--servers", type=int, default=1)
    asked = words.parse_args()
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        tables = _tables(Path(folder))
        for teachers in asked.teachers:
            with _serving(Path(folder), tables, teachers, asked.servers) as district:
                found[teachers] = costs(district, asked.requests)
                if asked.monday and teachers == max(asked.teachers):
                    monday(district, asked.monday)
    return 0 if table(found) else 1


if __name__ == "__main__":
    sys.exit(main())

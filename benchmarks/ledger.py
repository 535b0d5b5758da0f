"""Minutes of a whole district: pages of one teacher, one student and everyone, at a tenth and at all of the data.

Run: ``python -m benchmarks.ledger`` (``--quick``: a hundredth and a tenth, SQLite only). A district of 300
teachers, 9,000 students and 180 school days is generated (about 2 million rows of the log, nearly 4 million in
all), on SQLite and on PostgreSQL where there is one. Each page is worked out in a process of its own: seconds,
queries, and memory above that of the idle program. What counts is the last column: a teacher's pages must not grow
with the district.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import django

from benchmarks.databases import postgres, sqlite

TEACHERS = 300
TASKS = ("attention page of one teacher", "ledger of one student", "building report", "district report")


@dataclass(frozen=True, slots=True)
class Measured:
    """One page: seconds, queries, megabytes above the idle program."""

    seconds: float
    queries: int
    megabytes: float


def main() -> None:
    """Generate, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a hundredth and a tenth, SQLite only")
    parser.add_argument("--database", choices=["sqlite", "postgres"], help="only this one")
    parser.add_argument("--child", nargs=2, metavar=("WHAT", "TEACHERS"), help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        _child(*options.child)
        return
    shares = (0.01, 0.1) if options.quick else (0.1, 1.0)
    if options.database != "postgres":
        _compare("SQLite", sqlite, shares)
    if options.database == "postgres" or not (options.quick or options.database):
        _compare("PostgreSQL", postgres, shares)


# ---- the parent ------------------------------------------------------------------------------------------


def _compare(name: str, server: Callable[[], Any], shares: tuple[float, float]) -> None:
    found: list[dict[str, Measured]] = []
    for share in shares:
        teachers = max(1, round(TEACHERS * share))
        with server() as url:
            began = time.monotonic()
            rows = _run(url, "generate", teachers)
            print(f"{name}, {share:.0%}: {rows} in {time.monotonic() - began:.0f} s", flush=True)
            found.append({task: Measured(**_run(url, task, teachers)) for task in TASKS})
    for task in TASKS:
        small, large = (sizes[task] for sizes in found)
        told = [f"{one.seconds:7.2f} s {one.queries:5} queries {one.megabytes:6.0f} MB" for one in (small, large)]
        print(f"{name}  {task:32}  {'  '.join(told)}  x{large.seconds / small.seconds:.1f}", flush=True)


def _run(url: str, what: str, teachers: int) -> Any:
    env = {**os.environ, "DATABASE_URL": url, "DEBUG": "1", "SECRET_KEY": "b" * 50, "WEB_STARTS_WORKER": "0"}
    words = [sys.executable, "-m", "benchmarks.ledger", "--child", what, str(teachers)]
    done = subprocess.run(words, env=env, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(done.stdout.splitlines()[-1])


# ---- the child: one database, one page -------------------------------------------------------------------


def _child(what: str, teachers: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    # Its models can be imported only now.
    district = import_module("benchmarks.ledger_district")
    found = district.generate(int(teachers)) if what == "generate" else asdict(district.measure(what))
    print(json.dumps(found))


if __name__ == "__main__":
    main()

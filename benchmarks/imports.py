"""Imports beside others' work: how long somebody in another district waits for a small write in the meantime.

Run: ``python -m benchmarks.imports`` (``--rows 1500``, ``--database sqlite`` or ``postgres`` for only one). A file
of students is previewed, saved and undone, each beside a process that writes one row again and again. What counts
is the longest of its waits, and how many writes were refused because they waited too long (config.settings). The
baseline of the same run is the same work in one transaction, as it was done at first: services row by row, rolled
back for a preview, committed for a saving (here rolled back as well).
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from benchmarks.databases import postgres, sqlite

ROOT = Path(__file__).resolve().parents[1]
BASELINE = "in one transaction"
STEPS = (f"preview, {BASELINE}", "preview", f"saving, {BASELINE}", "saving", "undo")


@dataclass(frozen=True, slots=True)
class Measured:
    """One step: its seconds, the longest wait of the other's writes in seconds, how many came through or didn't."""

    seconds: float
    wait: float
    writes: int
    refused: int


def main() -> None:
    """Measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1500)
    parser.add_argument("--database", choices=["sqlite", "postgres"], help="only this one")
    parser.add_argument("--child", choices=["import", "write"], help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child == "import":
        sys.stdout.write(json.dumps(import_module("benchmarks.imports_district").measure_all(options.rows)))
    elif options.child == "write":
        import_module("benchmarks.imports_district").write_on()
    else:
        for name, server in (("sqlite", sqlite), ("postgres", postgres)):
            if options.database in {None, name}:
                _run(name, server, options.rows)


def _run(name: str, server: Callable[[], Any], rows: int) -> None:
    with server() as url:
        environment = {
            **os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings", "LOG_LEVEL": "WARNING",
        }  # fmt: skip
        command = [sys.executable, "-m", "benchmarks.imports", "--child", "import", "--rows", str(rows)]
        done = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, env=environment)
    found = {step: Measured(**figures) for step, figures in json.loads(done.stdout).items()}
    sys.stdout.write(f"\n{name}, {rows} rows\n| what | takes | another waits at most | against the baseline |\n")
    sys.stdout.write("| --- | --- | --- | --- |\n")
    for step in STEPS:
        one, base = found[step], found.get(f"{step}, {BASELINE}")
        ratio = f"{one.wait / base.wait:.3f}" if base is not None else ""
        waits = f"{one.wait:.2f} s ({one.writes} writes{f', {one.refused} refused' if one.refused else ''})"
        sys.stdout.write(f"| {step} | {one.seconds:.1f} s | {waits} | {ratio} |\n")


@contextmanager
def other_at_work() -> Iterator[Callable[[], Measured]]:
    """A process that writes until the block ends; what is yielded then says what it measured."""
    command = [sys.executable, "-m", "benchmarks.imports", "--child", "write"]
    process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    if process.stdin is None or process.stdout is None:
        message = "the other's process has no pipes"
        raise RuntimeError(message)
    process.stdout.readline()  # it is at work
    began = time.monotonic()
    found: list[Measured] = []
    yield lambda: found[0]
    seconds = time.monotonic() - began
    told = process.communicate()[0]
    found.append(Measured(seconds, **json.loads(told)))


def as_json(found: dict[str, Measured]) -> dict[str, Any]:
    """For the parent."""
    return {step: asdict(one) for step, one in found.items()}


if __name__ == "__main__":
    main()

"""What the press costs that starts a school year or hands a district's students over, beside doing all of it there.

Run: ``python -m benchmarks.long_steps`` (``--teachers 50 --students 10``, students a teacher). The baseline of the
same run is the whole step in the request, as it was before there were steps in the background: seconds of a
processor, in an SQLite file of its own. Work in the background takes as long, in another process.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from benchmarks.databases import sqlite

ROOT = Path(__file__).resolve().parents[1]


@dataclass(frozen=True, slots=True)
class Compared:
    """One step: seconds of a processor for all of it in a request, and for the request that asks for it."""

    what: str
    whole: float
    asking: float


def main() -> None:
    """Measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--teachers", type=int, default=50)
    parser.add_argument("--students", type=int, default=10, help="of each teacher")
    parser.add_argument("--child", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        _print(measure_all(options.teachers, options.students))
        return
    with sqlite() as url:
        environment = {**os.environ, "DATABASE_URL": url, "LOG_LEVEL": "WARNING", "WEB_STARTS_WORKER": "0"}
        command = [sys.executable, "-m", "benchmarks.long_steps", "--child"]
        command += ["--teachers", str(options.teachers), "--students", str(options.students)]
        subprocess.run(command, cwd=ROOT, check=True, env=environment)


def _print(found: list[Compared]) -> None:
    sys.stdout.write(
        "| step | in the request | asking for it | against the baseline |\n| --- | --- | --- | --- |\n"
    )
    for one in found:
        sys.stdout.write(
            f"| {one.what} | {one.whole:.2f} s | {one.asking:.3f} s | {one.asking / one.whole:.4f} |\n"
        )


def _seconds(act: Callable[[], object]) -> float:
    begun = time.process_time()
    act()
    return time.process_time() - begun


def measure_all(teachers: int, students: int) -> list[Compared]:
    """Each step asked for by the page's address, then whole."""
    ground: Any = import_module("benchmarks.long_steps_ground")
    found = []
    for step in ground.steps(teachers, students):
        asking = _seconds(step.ask)
        step.forget()
        found.append(Compared(step.what, _seconds(step.whole), asking))
    return found


if __name__ == "__main__":
    main()

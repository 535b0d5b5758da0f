"""Faults, one after the other, and what is lost or doubled by them.

    python -m benchmarks.faults [NAME ...]

Real web servers (``manage.py serve``), workers, PostgreSQL and Redis, all its own, on a machine where the tests'
services are installed; a full disk needs root. Prints a table (Markdown) and ends with 1 if anything that was
acknowledged is missing, or anything is there twice. Leases are three seconds long, as in the tests, so that a run
takes minutes.
"""

import argparse
import sys
from collections.abc import Callable

from benchmarks import faults_work as work
from benchmarks import faults_writes as writes
from benchmarks.faults_ground import Places, Row, places

FAULTS: dict[str, Callable[[Places], Row]] = {
    "redis": work.redis_away,
    "workers": work.killed_workers,
    "imports": work.killed_in_imports,
    "restart-keyed": lambda found: writes.restarted(found, keyed=True),
    "restart": lambda found: writes.restarted(found, keyed=False),
    "disk": writes.full_disk,
    "writers": writes.many_writers,
    "one-sqlite": writes.one_entry_sqlite,
    "one-postgres": writes.one_entry_postgres,
    "clocks-apart": work.clocks_apart,
    "clocks-changed": work.clocks_changed,
    "publishers": writes.publishers,
    "backup-sqlite": writes.backup_sqlite,
    "backup-postgres": writes.backup_postgres,
}


def main() -> int:
    """Try those that are named, or all; 1 if something was lost or doubled."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("names", nargs="*", choices=[*FAULTS, []], metavar="NAME", help=", ".join(FAULTS))
    asked = words.parse_args().names or list(FAULTS)
    wrong = 0
    print("| fault | sent | acknowledged | stored | lost | doubled | what the user saw |")
    print("| --- | ---: | ---: | ---: | ---: | ---: | --- |")
    with places() as found:
        for name in asked:
            row = FAULTS[name](found)
            figures = (row.sent, row.acknowledged, row.stored, row.lost, row.doubled)
            print(f"| {row.fault} | {' | '.join(map(str, figures))} | {row.saw} |", flush=True)
            wrong += row.lost + row.doubled
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

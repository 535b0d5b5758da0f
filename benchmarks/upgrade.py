"""A district of before figures had dates, brought to now: what is kept, what is counted, and how long it takes.

Run: ``python -m benchmarks.upgrade`` (``--teachers 30`` for less, ``--database sqlite``). Tables are made as they
were when every service was one line without versions, and a student's school, the rules and a voucher had no dates
(`OLD`); a generated district of 300 teachers, 9,000 students and four weeks of log is put in by the models of then;
all migrations run; and every column of every table is compared, row for row. Minutes owed and delivered, and
dollars claimed, are worked out from the rows before (four whole weeks in session owe four times the plan), and by
the program after.
tests/config/test_upgrade.py holds the same for the demo's plans.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
import time
from importlib import import_module
from pathlib import Path
from typing import Any

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import django

from benchmarks.databases import postgres, sqlite

OLD = {
    "accounts": "0003_given_passwords_end",
    "caseload": "0004_log_sendings",
    "jobs": "0001_initial",
    "schedule": "0014_imports_in_the_background",
    "travel": "0007_regular_places",
}
TEACHERS = 300


def main() -> None:
    """Fill, migrate, compare, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--teachers", type=int, default=TEACHERS)
    parser.add_argument("--database", choices=["sqlite", "postgres"], help="only this one")
    parser.add_argument("--child", metavar="WHAT", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        _child(options.child)
        return
    for name, server in (("sqlite", sqlite), ("postgres", postgres)):
        if options.database in {None, name}:
            with server() as url:
                _tell(name, upgraded(url, str(options.teachers)))


def upgraded(url: str, what: str) -> dict[str, Any]:
    """Do it in an empty database, in a process of its own: with the ``demo``, or so many teachers."""
    env = {**os.environ, "DATABASE_URL": url, "DEBUG": "1", "SECRET_KEY": "b" * 50, "WEB_STARTS_WORKER": "0"}
    env["DJANGO_SETTINGS_MODULE"] = "config.settings"
    words = [sys.executable, "-m", "benchmarks.upgrade", "--child", what]
    done = subprocess.run(words, env=env, check=True, stdout=subprocess.PIPE, text=True)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _tell(name: str, found: dict[str, Any]) -> None:
    rows = sum(found["rows"].values())
    print(f"{name}: {rows:,} rows in {len(found['rows'])} tables, migrated in {found['seconds']:.1f} s")
    print(f"  columns whose values changed: {', '.join(found['changed']) or 'none'}")
    print(f"  columns that are gone: {', '.join(found['gone']) or 'none'}")
    for figure, before in found["before"].items():
        after = found["after"][figure]
        print(
            f"  {figure:20} {before:>14} before {after:>14} after  {'same' if before == after else 'NOT THE SAME'}"
        )


# ---- the child: one database -----------------------------------------------------------------------------


def _child(what: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    # Models and connections can be had only now.
    district = import_module("benchmarks.old_district")
    call_command = import_module("django.core.management").call_command
    connection = import_module("django.db").connection
    executor = import_module("django.db.migrations.executor").MigrationExecutor(connection)
    executor.migrate(list(OLD.items()))
    old = executor.loader.project_state(list(OLD.items())).apps
    if what == "demo":
        district.fill_demo(old)
    else:
        district.fill(old, int(what))
    columns = {
        one._meta.db_table: sorted(field.column for field in one._meta.concrete_fields)
        for one in old.get_models(include_auto_created=True)
        if one._meta.app_label in OLD
    }
    before, figures = state_of(connection, columns), district.figures_before(old)
    began = time.monotonic()
    call_command("migrate", verbosity=0)
    seconds = time.monotonic() - began
    after = state_of(connection, columns)
    gone = sorted(name for name in before if name not in after)
    changed = sorted(name for name in before if name in after and before[name] != after[name])
    rows = {table: before[f"{table}.{names[0]}"][0] for table, names in columns.items()}
    told = {"rows": rows, "seconds": seconds, "gone": gone, "changed": changed, "before": figures}
    print(json.dumps({**told, "after": district.figures_after(), "made": district.made_since()}))


def state_of(connection: Any, columns: dict[str, list[str]]) -> dict[str, tuple[int, str]]:
    """By table and column: how many rows, and a digest of their values in the order of the keys."""
    found: dict[str, tuple[int, str]] = {}
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        for table in columns.keys() & there:
            has = {one.name for one in connection.introspection.get_table_description(cursor, table)}
            kept = [name for name in columns[table] if name in has]
            digests = [hashlib.sha256() for _ in kept]
            quoted = ", ".join(connection.ops.quote_name(name) for name in kept)
            key = connection.ops.quote_name("id" if "id" in has else kept[0])
            wanted = f"SELECT {quoted} FROM {connection.ops.quote_name(table)} ORDER BY {key}"  # noqa: S608 -- names of our own tables, quoted
            cursor.execute(wanted)
            count = 0
            for row in cursor:
                count += 1
                for digest, value in zip(digests, row, strict=True):
                    digest.update(f"{value!r}\0".encode())
            for name, digest in zip(kept, digests, strict=True):
                found[f"{table}.{name}"] = (count, digest.hexdigest())
    return found


if __name__ == "__main__":
    main()

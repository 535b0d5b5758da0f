"""A kept database of an earlier version of the program, brought to now: what is lost, and whether pages answer.

`tests/config/old/` has them as SQL of SQLite, packed: the demo's district with its planned week, made by the
program of that day (the file's name) with `load_demo` and `plan_week`. `python -m tests.old_states` works in the
database of DATABASE_URL and prints JSON.
"""

import gzip
import json
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from importlib import import_module
from pathlib import Path
from typing import Any

from tests.databases import ROOT

KEPT = Path(__file__).resolve().parent / "config" / "old"
PAGES = ("week", "day", "attention", "student_list", "log", "mileage", "feeds", "routine_list", "building_list")


def kept_states() -> list[str]:
    """Their names, the oldest first."""
    return sorted(file.name.removesuffix(".sql.gz") for file in KEPT.glob("*.sql.gz"))


def brought_to_now(name: str, file: Path) -> dict[str, Any]:
    """Make the database of then in an empty file, migrate it in a process of its own, and say what came of it."""
    with closing(sqlite3.connect(file)) as database:
        database.executescript(gzip.decompress((KEPT / f"{name}.sql.gz").read_bytes()).decode("utf-8"))
    env = {**os.environ, "DATABASE_URL": f"sqlite:///{file}", "DEBUG": "1", "SECRET_KEY": "b" * 50}
    env |= {"DJANGO_SETTINGS_MODULE": "config.settings", "WEB_STARTS_WORKER": "0"}
    words = [sys.executable, "-m", "tests.old_states"]
    done = subprocess.run(words, env=env, check=True, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _child() -> None:
    django = import_module("django")
    django.setup()
    # Models and connections can be had only now.
    state_of = import_module("benchmarks.upgrade").state_of
    connection = import_module("django.db").connection
    call_command = import_module("django.core.management").call_command
    with connection.cursor() as cursor:
        tables = [one for one in connection.introspection.table_names(cursor) if one.startswith(_OURS)]
        columns = {
            table: sorted(one.name for one in connection.introspection.get_table_description(cursor, table))
            for table in tables
        }
    before = state_of(connection, columns)
    call_command("migrate", verbosity=0)
    after = state_of(connection, columns)
    rows = {name.partition(".")[0]: count for name, (count, _) in before.items()}
    fewer = sorted(
        {name.partition(".")[0] for name in before if name in after and after[name][0] < before[name][0]}
    )
    told = {
        "rows": rows,
        "gone": sorted(name for name in before if name not in after),
        "changed": sorted(name for name in before if name in after and before[name] != after[name]),
        "fewer": fewer,
        "pages": _pages(),
    }
    sys.stdout.write(json.dumps(told))


_OURS = ("accounts_", "caseload_", "jobs_", "schedule_", "travel_")


def _pages() -> dict[str, int]:
    """What the teacher's pages answer."""
    client = import_module("django.test").Client(headers={"Host": "localhost"})
    reverse = import_module("django.urls").reverse
    people = import_module("accounts.models").Person.objects
    client.force_login(people.get(username="teacher"))
    return {name: client.get(reverse(name)).status_code for name in PAGES}


if __name__ == "__main__":
    _child()

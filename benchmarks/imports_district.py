"""The two districts of `benchmarks.imports`: one that imports, one in which somebody writes in the meantime."""

import json
import sys
import threading
import time
from collections.abc import Callable
from typing import Any

import django

django.setup()

# Rows can be imported only once Django is set up.
from django.core.management import call_command  # noqa: E402 -- see above
from django.db import OperationalError, transaction  # noqa: E402 -- see above

from accounts.models import District, Person  # noqa: E402 -- see above
from benchmarks.imports import BASELINE, Measured, as_json, other_at_work  # noqa: E402 -- see above
from schedule.imports.models import ImportBatch  # noqa: E402 -- see above
from schedule.imports.rows.apply import apply_tables  # noqa: E402 -- see above
from schedule.imports.rows.snapshot import compare_snapshots, take_snapshot  # noqa: E402 -- see above
from schedule.imports.services.tables import import_commit, import_preview, import_undo, read_files  # noqa: E402 -- see above
from travel.places.models import Building  # noqa: E402 -- see above

BUILDINGS = 8
KIND = "students"
PAUSE = 0.01  # s between two writes of the other


def measure_all(rows: int) -> dict[str, Any]:
    """Every step, each beside the other's writes."""
    call_command("migrate", verbosity=0)
    actor = _prepare()
    lines = ["Student code,First name,Last name,Grade,Building code"]
    lines += [f"S{n},Ola,Tarn {n},3,B{n % BUILDINGS}" for n in range(rows)]
    content = "\n".join(lines).encode()
    found = {
        f"preview, {BASELINE}": _measure(lambda: _at_once(actor, content, keep=False)),
        "preview": _measure(
            lambda: import_preview(actor=actor, kind=KIND, filename="students.csv", content=content)
        ),
        f"saving, {BASELINE}": _measure(lambda: _at_once(actor, content, keep=True)),
    }
    batch = ImportBatch.objects.get()
    found["saving"] = _measure(lambda: import_commit(actor=actor, batch=batch))
    found["undo"] = _measure(lambda: import_undo(actor=actor, batch=batch))
    return as_json(found)


def _prepare() -> Person:
    """Both districts; the teacher who imports."""
    here, there = (
        District.objects.create(name=name, time_zone="America/New_York", state="NY")
        for name in ("Marrow Vale County", "Farther Fells")
    )
    for n in range(BUILDINGS):
        Building.objects.create(
            district=here, code=f"B{n}", name=f"School {n}", latitude=f"43.{10 + n}", longitude="-75.2"
        )
    Building.objects.create(district=there, code="FAR", name="Far School", latitude="42.1", longitude="-91.2")
    return Person.objects.create(username="teacher", district=here, role=Person.Role.TEACHER)


def _measure(work: Callable[[], object]) -> Measured:
    with other_at_work() as result:
        work()
    return result()


def _at_once(actor: Person, content: bytes, *, keep: bool) -> None:
    """All of it in one transaction, which is rolled back in the end; `keep` with what undo needs, as for saving."""
    district = actor.district
    if district is None:
        message = "the teacher has a district"
        raise RuntimeError(message)
    files = read_files(KIND, "students.csv", content)
    with transaction.atomic():
        before = take_snapshot(district, [KIND]) if keep else {}
        apply_tables(actor, district, files)
        if keep:
            compare_snapshots(before, take_snapshot(district, [KIND]))
        transaction.set_rollback(True)


def write_on() -> None:
    """Write one row of the other district again and again until the pipe is closed; print the longest wait."""
    over = threading.Event()
    rows = Building.objects.filter(code="FAR")
    rows.update(name="Far School")

    def wait_for_the_end() -> None:
        sys.stdin.read()
        over.set()

    threading.Thread(target=wait_for_the_end, daemon=True).start()
    sys.stdout.write("at work\n")
    sys.stdout.flush()
    longest, writes, refused = 0.0, 0, 0
    while not over.wait(PAUSE):
        began = time.monotonic()
        try:
            rows.update(name=f"Far School {writes}")
            writes += 1
        except OperationalError:
            refused += 1
        longest = max(longest, time.monotonic() - began)
    sys.stdout.write(json.dumps({"wait": longest, "writes": writes, "refused": refused}))

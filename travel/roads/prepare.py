"""Makes an OpenStreetMap extract ready for the road engine, and says whether what lies there can be trusted.

The engine maps its files into memory and believes them: one damaged in the middle ends the whole process. So each
prepared directory carries a list of its files with their SHA-256, written last, and nothing is loaded that doesn't
agree with it. A directory is named after the content of its extract and the engine's version; it appears by one
rename, so it is whole or not there.
"""

import contextlib
import hashlib
import importlib.metadata
import importlib.util
import json
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from travel.roads.base import RoadError

PACKAGE = "osrm-bindings"
LIST_NAME = "prepared.json"
BASE_NAME = "roads.osrm"
FORMAT = 1

# A road network cut off from the rest counts as an island if it is smaller than this; the engine's own default.
ISLAND_NODES = 1000
# An extract of one town may be smaller than that as a whole: then a tenth of it is the line.
ISLAND_SHARE = 10
LOCK_SECONDS = 5  # a run that was killed while it started a program leaves the lock to that for a moment

# Parts that the engine reads; leftovers of preparing are not kept.
KEPT = (
    *("cnbg", "datasource_names", "ebg", "ebg_nodes", "edges", "fileIndex", "geometry", "hsgr", "icd"),
    *("maneuver_overrides", "names", "nbg_nodes", "properties", "ramIndex", "timestamp", "tld", "tls"),
    *("turn_duration_penalties", "turn_weight_penalties"),
)

AGAIN = "Prepare the extract again: python manage.py prepare_roads county.osm.pbf"

type Progress = Callable[[str, int], None]
"""Told the stage in words and how much of it is done, in percent."""


class PrepareError(RoadError):
    """An extract can't be prepared, or what was prepared can't be used."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """What a prepared directory holds, as its list says."""

    key: str
    extract_name: str
    extract_bytes: int
    engine: str
    island_nodes: int
    files: dict[str, str]
    """SHA-256 by file name."""


@dataclass(frozen=True, slots=True)
class Programs:
    """Where the engine's programs and its rules for a car are."""

    extract: Path
    contract: Path
    routed: Path
    profile: Path


def engine_version() -> str:
    """Name and version of the engine; raises `RoadError` if it isn't installed."""
    try:
        return f"{PACKAGE} {importlib.metadata.version(PACKAGE)}"
    except importlib.metadata.PackageNotFoundError as error:
        raise RoadError(
            "The road engine is not installed on this computer.",
            "Install requirements.txt on a system that it has a wheel for, or name a server in ROAD_SERVICE_URL.",
        ) from error


def programs() -> Programs:
    """The programs that the engine's wheel carries; raises `RoadError` if they aren't there."""
    version = engine_version()
    spec = importlib.util.find_spec("osrm")
    roots = list(spec.submodule_search_locations or []) if spec is not None else []
    for root in map(Path, roots):
        found = {
            name: shutil.which(f"osrm-{name}", path=root / "bin") for name in ("extract", "contract", "routed")
        }
        profile = root / "share" / "profiles" / "car.lua"
        if all(found.values()) and profile.is_file():
            extract, contract, routed = (Path(str(path)) for path in found.values())
            return Programs(extract, contract, routed, profile)
    raise RoadError(f"The programs of {version} are missing.", "Install requirements.txt again.")


def digest_of(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def key_of(extract: Path) -> str:
    """The name of an extract's prepared directory: its content and the engine's version."""
    return f"{digest_of(extract)}-{engine_version().replace(' ', '-')}"


def prepare(extract: Path, roads_dir: Path, progress: Progress = lambda stage, percent: None) -> Prepared:
    """Make an extract (.osm.pbf or .osm) ready under `roads_dir`, or find it ready there.

    Raises `PrepareError` if the file isn't an extract, is cut off, holds no roads, or is being prepared by somebody
    else just now; then nothing that was there before is lost.
    """
    check_extract(extract)
    progress("Reading the file", 0)
    key = key_of(extract)
    roads_dir.mkdir(parents=True, exist_ok=True)
    lock = FileLock(roads_dir / f"{key}.lock", timeout=LOCK_SECONDS)
    try:
        with lock:
            return _prepare_locked(extract, roads_dir, key, progress)
    except Timeout as error:
        raise PrepareError(
            "This extract is being prepared by another run just now.", "Wait for it to end."
        ) from error


def check_extract(extract: Path) -> None:
    """Raise `PrepareError` unless the file is named and begins as an OpenStreetMap extract (.osm.pbf, or .osm)."""
    try:
        with extract.open("rb") as file:
            start = file.read(1024)
    except OSError as error:
        raise PrepareError(f"{extract.name} can't be read: {error.strerror}.", "Check the path.") from error
    is_binary = extract.name.endswith(".pbf") and b"OSMHeader" in start[:64]
    is_xml = extract.name.endswith(".osm") and b"<osm" in start
    if not (is_binary or is_xml):
        raise PrepareError(
            f"{extract.name} isn't an OpenStreetMap extract.",
            "Download the .osm.pbf file of your county or state and name that.",
        )


def read_prepared(roads_dir: Path, key: str) -> Prepared:
    """What stands under a key, every file held against its SHA-256.

    Raises `PrepareError` if it's missing, damaged, half there, or made by another version of the engine.
    """
    home = roads_dir / key
    try:
        listed = json.loads((home / LIST_NAME).read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise PrepareError("The prepared roads are not there.", AGAIN) from error
    except (OSError, ValueError) as error:
        raise PrepareError("The list of the prepared roads can't be read.", AGAIN) from error
    prepared = _as_prepared(listed)
    if prepared.engine != engine_version():
        raise PrepareError(f"The roads were prepared by {prepared.engine}, not by {engine_version()}.", AGAIN)
    for name, expected in prepared.files.items():
        path = home / Path(name).name
        if not path.is_file() or digest_of(path) != expected:
            raise PrepareError(f"The prepared roads are damaged ({name}).", AGAIN)
    return prepared


def base_path(roads_dir: Path, key: str) -> Path:
    """What the engine takes as the name of the prepared files."""
    return roads_dir / key / BASE_NAME


def _as_prepared(listed: object) -> Prepared:
    try:
        if not isinstance(listed, dict) or listed.pop("format") != FORMAT or not listed["files"]:
            raise ValueError(FORMAT)
        return Prepared(**listed)
    except (KeyError, TypeError, ValueError) as error:
        raise PrepareError("The list of the prepared roads wasn't written by this program.", AGAIN) from error


def _prepare_locked(extract: Path, roads_dir: Path, key: str, progress: Progress) -> Prepared:
    """Under the lock: what is there and whole is kept, anything else is made new."""
    with contextlib.suppress(PrepareError):
        return read_prepared(roads_dir, key)
    for leftover in roads_dir.glob(f".{key}-*"):
        shutil.rmtree(leftover)
    with tempfile.TemporaryDirectory(prefix=f".{key}-", dir=roads_dir) as name:
        work = Path(name)
        island_nodes = _run_all(extract, work, progress)
        made = work / "made"
        made.mkdir()
        prepared = Prepared(
            key=key,
            extract_name=extract.name,
            extract_bytes=extract.stat().st_size,
            engine=engine_version(),
            island_nodes=island_nodes,
            files=_keep(work, made),
        )
        text = json.dumps({"format": FORMAT, **asdict(prepared)}, indent=1)
        (made / LIST_NAME).write_text(text, encoding="utf-8")
        if (roads_dir / key).exists():
            (roads_dir / key).rename(work / "damaged")
        made.rename(roads_dir / key)
    return read_prepared(roads_dir, key)


def _keep(work: Path, made: Path) -> dict[str, str]:
    """Move what the engine reads, and say what it must stay like."""
    files: dict[str, str] = {}
    for part in KEPT:
        path = work / f"{BASE_NAME}.{part}"
        if path.is_file():
            files[path.name] = digest_of(path)
            path.rename(made / path.name)
    return files


def _run_all(extract: Path, work: Path, progress: Progress) -> int:
    """Run the engine's programs; answers with the size below which a road network counts as an island."""
    tools = programs()
    island_nodes = ISLAND_NODES
    reading: list[str | Path] = [tools.extract, "-p", tools.profile, "-o", work / BASE_NAME, extract]
    said = _run(reading, "Reading roads", progress)
    generated = re.search(r"Generated (\d+) nodes", said)
    nodes = int(generated[1]) if generated else 0
    if 0 < nodes < ISLAND_NODES * ISLAND_SHARE:
        island_nodes = max(1, nodes // ISLAND_SHARE)
        _run([*reading, "--small-component-size", str(island_nodes)], "Looking for islands", progress)
    _run([tools.contract, work / BASE_NAME], "Building shortcuts", progress)
    progress("Checking", 100)
    return island_nodes


def _run(command: list[str | Path], stage: str, progress: Progress) -> str:
    """One program to its end, with its percentages passed on; raises `PrepareError` with its last words."""
    progress(stage, 0)
    with tempfile.TemporaryFile() as errors:
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=errors) as process:  # noqa: S603 -- a fixed program of the wheel on a file that the operator named
            try:
                said = "".join(_listened(process, stage, progress))
            except BaseException:
                process.kill()
                raise
        if process.returncode:
            errors.seek(0)
            raise _failure(said + errors.read().decode(errors="replace"), process.returncode)
    progress(stage, 100)
    return said


def _listened(process: subprocess.Popen[bytes], stage: str, progress: Progress) -> Iterator[str]:
    if process.stdout is None:
        raise TypeError("The program's output was not captured")
    for line in process.stdout:
        text = line.decode(errors="replace")
        found = re.match(r"\s*(\d{1,3})%", text)
        if found:
            progress(stage, min(100, int(found[1])))
        yield text


def _failure(said: str, code: int) -> PrepareError:
    """What a failed program meant."""
    cause = re.findall(r"what\(\):\s*(.+)|\[error\]\s*(.+)", said)
    words = next((one or other for one, other in reversed(cause)), f"the program ended with {code}")
    words = re.sub(r"\s+", " ", words).strip().rstrip(".")
    return PrepareError(
        f"The extract could not be prepared: {words}.",
        "The file may be cut off or hold no roads: download it again, and check that disk and memory are free.",
    )

"""Preparing an extract: once by content, whole or not at all, and nothing damaged is ever loaded."""

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from filelock import FileLock

from tests.roads import PreparedRoads
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.prepare import LIST_NAME, PrepareError, key_of, prepare, read_prepared


def stages_of(extract: Path, roads_dir: Path) -> list[str]:
    """Prepare and answer with the stages that were told."""
    told: list[str] = []
    prepare(extract, roads_dir, lambda stage, percent: told.append(f"{stage} {percent}"))
    return told


def names_in(directory: Path) -> list[str]:
    """What lies there, locks apart."""
    return sorted(path.name for path in directory.iterdir() if path.suffix != ".lock")


def test_progress_is_told_and_a_second_time_nothing_is_done_again(helsinki: Path, tmp_path: Path) -> None:
    told = stages_of(helsinki, tmp_path)
    assert {"Reading roads 50", "Building shortcuts 100"} <= set(told)
    assert names_in(tmp_path) == [key_of(helsinki)]
    assert stages_of(helsinki, tmp_path) == ["Reading the file 0"]


def test_the_same_content_by_another_name_is_the_same_extract(helsinki: Path, tmp_path: Path) -> None:
    prepare(helsinki, tmp_path)
    other = tmp_path / "county.osm.pbf"
    other.write_bytes(helsinki.read_bytes())
    assert stages_of(other, tmp_path) == ["Reading the file 0"]


@pytest.mark.parametrize("content", [b"", b"<html>Not found</html>", bytes(range(256)) * 40])
def test_a_foreign_file_is_refused_by_name(content: bytes, tmp_path: Path) -> None:
    foreign = tmp_path / "county.osm.pbf"
    foreign.write_bytes(content)
    with pytest.raises(PrepareError, match=r"county\.osm\.pbf isn't an OpenStreetMap extract"):
        prepare(foreign, tmp_path / "roads")


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(PrepareError, match=r"county\.osm\.pbf can't be read: No such file"):
        prepare(tmp_path / "county.osm.pbf", tmp_path / "roads")


def test_a_download_that_was_cut_off_says_so_and_leaves_nothing(helsinki: Path, tmp_path: Path) -> None:
    half = tmp_path / "county.osm.pbf"
    half.write_bytes(helsinki.read_bytes()[:300_000])
    with pytest.raises(PrepareError, match=r"unexpected EOF.*cut off"):
        prepare(half, tmp_path / "roads")
    assert names_in(tmp_path / "roads") == []


def test_a_map_without_roads_says_so(tmp_path: Path) -> None:
    empty = tmp_path / "sea.osm"
    empty.write_text('<?xml version="1.0"?><osm version="0.6"><node id="1" lat="60" lon="25"/></osm>')
    with pytest.raises(PrepareError, match=r"could not be prepared.*hold no roads"):
        prepare(empty, tmp_path / "roads")


def test_two_at_once_are_one_and_a_refusal(helsinki: Path, tmp_path: Path) -> None:
    lock = FileLock(tmp_path / f"{key_of(helsinki)}.lock")
    with lock, pytest.raises(PrepareError, match="by another run just now"):
        prepare(helsinki, tmp_path)
    assert prepare(helsinki, tmp_path).key == key_of(helsinki)


@pytest.fixture
def own_copy(helsinki: Path, tmp_path: Path) -> PreparedRoads:
    """Prepared roads that a test may damage."""
    return PreparedRoads(tmp_path, prepare(helsinki, tmp_path))


@pytest.mark.parametrize("harm", ["changed inside", "cut off", "taken away"])
def test_damaged_files_are_not_loaded_and_mended_by_preparing_again(
    own_copy: PreparedRoads, helsinki: Path, harm: str
) -> None:
    """A byte changed in the middle can end the process of an engine that believes its files."""
    path = own_copy.roads_dir / own_copy.key / "roads.osrm.hsgr"
    content = bytearray(path.read_bytes())
    if harm == "taken away":
        path.unlink()
    else:
        content[len(content) // 2] ^= 0xFF
        path.write_bytes(content if harm == "changed inside" else content[: len(content) // 2])
    with pytest.raises(PrepareError, match=r"damaged \(roads\.osrm\.hsgr\).*prepare_roads"):
        OsrmEngine(own_copy.roads_dir, own_copy.key)
    prepare(helsinki, own_copy.roads_dir)
    OsrmEngine(own_copy.roads_dir, own_copy.key)
    assert names_in(own_copy.roads_dir) == [own_copy.key]


def test_a_directory_without_its_list_is_not_loaded(own_copy: PreparedRoads) -> None:
    (own_copy.roads_dir / own_copy.key / LIST_NAME).unlink()
    with pytest.raises(PrepareError, match="not there"):
        OsrmEngine(own_copy.roads_dir, own_copy.key)


@pytest.mark.parametrize("content", ["{", "[]", '{"format": 99}', '{"format": 1, "files": {"a": "b"}}'])
def test_a_list_that_is_not_ours_is_refused(own_copy: PreparedRoads, content: str) -> None:
    (own_copy.roads_dir / own_copy.key / LIST_NAME).write_text(content)
    with pytest.raises(PrepareError, match="The list of the prepared roads"):
        read_prepared(own_copy.roads_dir, own_copy.key)


def test_roads_of_another_version_of_the_engine_are_refused(own_copy: PreparedRoads) -> None:
    path = own_copy.roads_dir / own_copy.key / LIST_NAME
    listed = json.loads(path.read_text())
    listed["engine"] = "osrm-bindings 5.0"
    path.write_text(json.dumps(listed))
    with pytest.raises(PrepareError, match=r"prepared by osrm-bindings 5\.0, not by"):
        read_prepared(own_copy.roads_dir, own_copy.key)


PREPARE = """
import sys
from pathlib import Path
from travel.roads.prepare import prepare
prepare(Path(sys.argv[1]), Path(sys.argv[2]), lambda stage, percent: print(stage, flush=True))
"""


@pytest.mark.kills
def test_a_run_that_was_killed_leaves_nothing_that_counts(helsinki: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-c", PREPARE, str(helsinki), str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith("Building shortcuts"):
                process.send_signal(signal.SIGKILL)
                break
    assert process.returncode == -signal.SIGKILL
    with pytest.raises(PrepareError, match="not there"):
        read_prepared(tmp_path, key_of(helsinki))
    prepare(helsinki, tmp_path)
    assert names_in(tmp_path) == [key_of(helsinki)]

"""The lock files: every package that is asked for stands in them, at a version that was asked for, with hashes."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[3]
RUN, TEST = ROOT / "requirements-lock.txt", ROOT / "tests" / "requirements-lock.txt"


def asked_for() -> list[Requirement]:
    """What requirements.txt names."""
    lines = (ROOT / "requirements.txt").read_text(encoding="utf-8").splitlines()
    return [Requirement(line) for line in lines if line and not line.startswith("#")]


def asked_for_tests() -> list[Requirement]:
    """What the test group names."""
    read = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    return [Requirement(line) for line in read["dependency-groups"]["test"]]


def pinned(lock: Path) -> dict[str, set[str]]:
    """Name to its pinned versions; several where they differ by Python or system."""
    found: dict[str, set[str]] = {}
    for name, version in re.findall(
        r"^([\w.-]+)(?:\[[\w,-]+\])?==([^\s;\\]+)", lock.read_text(encoding="utf-8"), re.MULTILINE
    ):
        found.setdefault(canonicalize_name(name), set()).add(version)
    return found


@pytest.mark.parametrize(
    ("lock", "wanted"),
    [(RUN, asked_for()), (TEST, [*asked_for(), *asked_for_tests()])],
    ids=["to run", "to test"],
)
def test_what_is_asked_for_is_pinned_within_its_bounds(lock: Path, wanted: list[Requirement]) -> None:
    versions = pinned(lock)
    wrong = [
        str(one)
        for one in wanted
        if not (have := versions.get(canonicalize_name(one.name)))
        or not all(one.specifier.contains(version) for version in have)
    ]
    assert not wrong, f"{lock.name} is behind: run script/lock. {wrong}"


def test_tests_run_on_the_versions_that_people_run() -> None:
    tested = pinned(TEST)
    assert {name: versions for name, versions in pinned(RUN).items() if tested.get(name) != versions} == {}


@pytest.mark.parametrize("lock", [RUN, TEST], ids=["to run", "to test"])
def test_each_pin_has_a_hash_and_names_no_host(lock: Path) -> None:
    text = lock.read_text(encoding="utf-8")
    pins = re.split(r"^(?=[\w.-]+(?:\[[\w,-]+\])?==)", text, flags=re.MULTILINE)[1:]
    assert pins
    assert all("--hash=sha256:" in pin for pin in pins)
    assert "://" not in text

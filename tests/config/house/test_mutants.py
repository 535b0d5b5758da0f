"""`script/mutants`: what a weak test lets through is listed, and only a written reason excuses it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.mutation.areas import AREAS, read_areas
from tests.mutation.mutants import mutants_of
from tests.mutation.running import path_of

ROOT = Path(__file__).parents[3]

MODULE = '''"""Fares."""


def fare(miles: int, toll: int) -> int:
    """Two for each mile, and the toll."""
    return miles * 2 + toll
'''
WEAK = "from planted_fares import fare\n\n\ndef test_fare():\n    assert fare(3, 0) == 6\n"
STRONG = WEAK + "    assert fare(3, 1) == 7\n"
REASON = """
[[reason]]
module = "planted_fares"
function = "fare"
line = "return miles * 2 + toll"
changes = ["+ -> -"]
why = "Nobody pays a toll here."
"""


def mutants(folder: Path, test: str, reason: str = "", module: str = MODULE) -> subprocess.CompletedProcess[str]:
    """A run on a planted module, its test and its table."""
    (folder / "planted_fares.py").write_text(module)
    (folder / "test_planted_fares.py").write_text(test)
    areas = folder / "areas"
    areas.mkdir()
    (areas / "fares.toml").write_text(
        f'[tests]\nplanted_fares = ["{(folder / "test_planted_fares.py").as_posix()}"]\n{reason}'
    )
    return subprocess.run(
        [sys.executable, "-m", "tests.mutation", "--areas", str(areas), "fares"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.long
def test_what_a_weak_test_lets_through_is_listed(tmp_path: Path) -> None:
    """A fare with a toll is never tried, so its sign is free: file, line, function and change are named."""
    run = mutants(tmp_path, WEAK)
    assert run.returncode == 1, run.stdout + run.stderr
    assert "planted_fares.py:6 in fare: + -> -" in run.stdout
    assert "+     return miles * 2 - toll" in run.stdout
    assert "3 mutants, 2 killed, 0 ended by timeout, 1 survived, 0 of them with a reason" in run.stdout


@pytest.mark.long
def test_a_test_that_looks_leaves_no_survivor(tmp_path: Path) -> None:
    """The same module with one more assertion."""
    run = mutants(tmp_path, STRONG)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "0 survived" in run.stdout


@pytest.mark.long
def test_a_written_reason_excuses_a_survivor(tmp_path: Path) -> None:
    """It is counted, and no longer listed."""
    run = mutants(tmp_path, WEAK, REASON)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "1 survived, 1 of them with a reason" in run.stdout
    assert "in fare: + -> -" not in run.stdout


@pytest.mark.long
def test_a_reason_without_a_survivor_must_go(tmp_path: Path) -> None:
    """Else reasons would pile up that speak of nothing."""
    run = mutants(tmp_path, STRONG, REASON)
    assert run.returncode == 1
    assert "Take its reason out" in run.stdout


@pytest.mark.long
def test_tests_that_fail_anyway_say_nothing(tmp_path: Path) -> None:
    """Every mutant would count as killed."""
    run = mutants(tmp_path, WEAK.replace("6", "5"))
    assert run.returncode == 2
    assert "don't pass as it stands" in run.stdout


@pytest.mark.long
def test_a_mutant_that_never_ends_is_stopped(tmp_path: Path) -> None:
    """Without its step, with the step turned round, or past the end in steps of three, the loop has no end.

    Processor time is counted, so a busy machine makes no difference.
    """
    module = "def halves(left):\n    while left:\n        left -= 2\n    return left\n"
    test = "from planted_fares import halves\n\n\ndef test_halves():\n    assert halves(4) == 0\n"
    run = mutants(tmp_path, test, module=module)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "4 mutants, 1 killed, 3 ended by timeout" in run.stdout


def test_wording_and_annotations_are_left_alone() -> None:
    """Docstrings, messages and types are no behavior that a test of a pure module holds."""
    source = b'''
class Kind(StrEnum):
    """Kinds."""

    HOME = "home"


def ask(name: Literal["a"] = None) -> "str":
    """Ask."""
    if not name:
        raise ValueError("no" + "name")
    return f"hello {name!r}, 7 times"
'''
    assert {one.change for one in mutants_of(source)} == {
        "not name -> True", "not name -> False", "not -> nothing",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("source", "changes"),
    [
        ("a = b < c", {"< -> <="}),
        ("a = (b\n  # less, or not\n  ) is not c", {"is not -> is"}),
        ("a = b and c", {"b -> True", "c -> True", "and -> or"}),
        ("a = d(b, key=c)", {"key=c -> nothing"}),
        ("a = [b for c in d if c]", {"c -> True", "c -> False"}),
        ("a = max(b, 1)", {"max -> min", "1 -> 2"}),
        ("a = -b", {"- -> nothing"}),
        ("a = '0.54'", {"'0.54' -> '1.54'"}),
    ],
)
def test_the_slips_that_are_tried(source: str, changes: set[str]) -> None:
    """Each operator by the smallest source that has it."""
    assert {one.change for one in mutants_of(source.encode())} == changes


def test_every_module_and_test_of_the_tables_is_there() -> None:
    """A renamed file would else be noticed by the next run only."""
    for area in read_areas(AREAS):
        for module, tests in area.tests.items():
            assert path_of(module).is_file()
            assert tests
            assert all((ROOT / test.split("::")[0]).is_file() for test in tests)

"""Warming up passes through every compiled walk, so that nobody waits for a compiler later."""

import ast
from pathlib import Path
from typing import Any, cast

import pytest

from schedule.planner.assign.rough import search, terrain
from schedule.planner.proving import completions, labels, walks
from schedule.planner.term.rotation import walk as rotation_walk
from schedule.planner.term.template import anneal, ruin
from schedule.planner.warm import warm_up

COMPILED = {labels.HERE: "compiled", rotation_walk.HERE: "walked", ruin.HERE: "searched", terrain.HERE: "packed"}


def test_warming_up_compiles_every_walk() -> None:
    warm_up()
    for walk in (walks.forward, walks.enumerate_all, completions.ways_in, completions.backward):
        assert cast("Any", walk).signatures


@pytest.mark.parametrize("folder", COMPILED, ids=lambda folder: folder.name)
def test_what_was_compiled_from_other_sources_is_not_used(folder: Path, tmp_path: Path) -> None:
    """A compiled walk holds the code of other files than its own, so it is kept under the state of all of them."""
    decorator = COMPILED[folder]
    for file in folder.glob("*.py"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    assert labels.sources_key(tmp_path, decorator) == labels.sources_key(folder, decorator)
    for file in _compiling(folder):
        with (tmp_path / file.name).open("a") as source:
            source.write("\n")
        assert labels.sources_key(tmp_path, decorator) != labels.sources_key(folder, decorator), file.name
        (tmp_path / file.name).write_bytes(file.read_bytes())


@pytest.mark.parametrize("folder", COMPILED, ids=lambda folder: folder.name)
def test_a_change_beside_what_is_compiled_compiles_nothing_anew(folder: Path, tmp_path: Path) -> None:
    for file in folder.glob("*.py"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "beside.py").write_text('"""Pricing, choosing: nothing that is compiled."""\n')
    assert labels.sources_key(tmp_path, COMPILED[folder]) == labels.sources_key(folder, COMPILED[folder])


def test_each_compiled_function_is_kept_under_its_own_folder_s_state() -> None:
    """So the two tests above are about what the compiler really uses."""
    for function, folder in (
        (walks.forward, labels.HERE),
        (completions.backward, labels.HERE),
        (rotation_walk.walk, rotation_walk.HERE),
        (anneal.anneal, ruin.HERE),
        (search.rounds_of, terrain.HERE),
    ):
        assert labels.sources_key(folder, COMPILED[folder]) in cast("Any", function).stats.cache_path


@pytest.mark.parametrize("folder", COMPILED, ids=lambda folder: folder.name)
def test_compiled_files_take_only_types_from_files_that_are_not_compiled_with_them(folder: Path) -> None:
    """A number that a compiled function read from another file would stay as it was when it was compiled."""
    package = ".".join(("schedule", *folder.parts[folder.parts.index("planner") :]))
    together = {f"{package}.{file.stem}" for file in _compiling(folder)}
    for file in _compiling(folder):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("schedule."):
                names = {alias.name for alias in node.names}
                assert node.module in together or names <= {"Floats", "Ints", "compiled_in"}, file.name


def _compiling(folder: Path) -> list[Path]:
    """The files of a folder that hold a function with its decorator."""
    decorator = COMPILED[folder]
    return [
        file
        for file in sorted(folder.glob("*.py"))
        if any(
            isinstance(one, ast.FunctionDef)
            and any(isinstance(mine, ast.Name) and mine.id == decorator for mine in one.decorator_list)
            for one in ast.walk(ast.parse(file.read_text()))
        )
    ]

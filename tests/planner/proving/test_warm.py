"""Warming up passes through every compiled walk, so that nobody waits for a compiler later."""

from pathlib import Path
from typing import Any, cast

from schedule.planner.proving import completions, labels, walks
from schedule.planner.warm import warm_up


def test_warming_up_compiles_every_walk() -> None:
    warm_up()
    for walk in (walks.forward, walks.enumerate_all, completions.ways_in, completions.backward):
        assert cast("Any", walk).signatures


def test_what_was_compiled_from_other_sources_is_not_used(tmp_path: Path) -> None:
    """A compiled walk holds the code of other files than its own, so it is kept under the state of all of them."""
    for file in labels.HERE.glob("*.py"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    assert labels.sources_key(tmp_path) == labels.sources_key(labels.HERE)
    with (tmp_path / "labels.py").open("a") as source:
        source.write("\n")
    assert labels.sources_key(tmp_path) != labels.sources_key(labels.HERE)
    for walk in (walks.forward, completions.backward):
        assert labels.sources_key(labels.HERE) in cast("Any", walk).stats.cache_path

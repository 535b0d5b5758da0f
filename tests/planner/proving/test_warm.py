"""Warming up passes through every compiled walk, so that nobody waits for a compiler later."""

from typing import Any, cast

from schedule.planner.proving import completions, walks
from schedule.planner.warm import warm_up


def test_warming_up_compiles_every_walk() -> None:
    warm_up()
    for walk in (walks.forward, walks.enumerate_all, completions.ways_in, completions.backward):
        assert cast("Any", walk).signatures

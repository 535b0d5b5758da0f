"""Compile the search once, so that the first person to plan a week doesn't have to wait for it.

Numba keeps what it compiles beside this package (or in ``NUMBA_CACHE_DIR``), apart for each state of the sources
(``labels.sources_key``). Run at set-up:
``python -m schedule.planner.warm``.
"""

import time

import numpy as np

from schedule.planner.problem import Day, Place, Problem, Service, Start
from schedule.planner.proving.columns import DayGraph, Weights
from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import Term, TermWeek
from schedule.planner.week.layout import build_model


def warm_up() -> float:
    """Pass through every compiled function once; the seconds that it took."""
    began = time.monotonic()
    starts = tuple(Start("d", at, "a", pattern_key="monday") for at in (500, 540))
    problem = Problem(
        places=(Place("a"), Place("b")),
        drive_minutes={"a": {"b": 5}, "b": {"a": 5}},
        days=(Day("d", 480, 600, start_place="b"),),
        services=tuple(Service(f"s{n}", 20, 1, starts) for n in range(3)),
    )
    graph = DayGraph(build_model(problem).days[0], every_start=True)
    weights = Weights(1.0, 0.0, 0.0, 0.0, np.full(3, 10.0), 0.0)
    bounded = graph.bounded(weights, 0.0, 0.0, no_miss=False)
    graph.price(bounded, 0.0, no_miss=False, beam=10, max_labels=1000, most=5)
    graph.enumerate_below(bounded, 1.0, no_miss=False, max_labels=1000)
    plan_term(Term((TermWeek("2026-09-07", problem),)), time_limit=10.0)
    return time.monotonic() - began


if __name__ == "__main__":
    warm_up()

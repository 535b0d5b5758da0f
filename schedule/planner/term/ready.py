"""The compiled searches made ready before a run's clock starts, so that compiling takes nothing from its time."""

from dataclasses import replace
from functools import cache

import numpy as np

from schedule.planner.problem import Day, Place, Problem, Service, Start
from schedule.planner.proving.columns import DayGraph, Weights
from schedule.planner.term.rotation.rotated import rotated_timetable
from schedule.planner.term.search import complete
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.template.chains import find_template
from schedule.planner.term.term import TermWeek
from schedule.planner.week.layout import build_model
from schedule.planner.week.work import UNITS_A_SECOND, Work

LITTLE = 10**6 / UNITS_A_SECOND
"""Seconds of work, enough for a few sessions tried."""


@cache
def make_ready() -> None:
    """Pass through every compiled function once. The first process after a change of the sources compiles them."""
    starts = tuple(Start("d", at, "a", pattern_key="monday") for at in (500, 540))
    problem = Problem(
        places=(Place("a"), Place("b")),
        drive_minutes={"a": {"b": 5}, "b": {"a": 5}},
        days=(Day("d", 480, 600, start_place="b"),),
        services=tuple(Service(f"s{n}", 20, 1, starts) for n in range(3)),
    )
    _walks(problem)
    _template(problem)
    _rotation(problem)


def _walks(problem: Problem) -> None:
    graph = DayGraph(build_model(problem).days[0], every_start=True)
    weights = Weights(1.0, 0.0, 0.0, 0.0, np.full(3, 10.0), 0.0)
    bounded = graph.bounded(weights, 0.0, 0.0, no_miss=False)
    graph.price(bounded, 0.0, no_miss=False, beam=10, max_labels=1000, most=5)
    graph.enumerate_below(bounded, 1.0, no_miss=False, max_labels=1000)


def _template(problem: Problem) -> None:
    kinds = [AlikeWeeks.of(TermWeek("2026-09-07", problem), 1)]
    start = TermState(kinds, worth=1)
    complete(start)
    find_template(kinds, [start], worth=1, seed=0, workers=1, effort=LITTLE, remaining=lambda: 1.0)


def _rotation(problem: Problem) -> None:
    """Two weeks of two days, of which one service's come by turns."""
    days = (problem.days[0], replace(problem.days[0], id="e"))
    kinds: list[AlikeWeeks] = []
    for turn in ("de", "ed"):
        rotating = tuple(Start(day, 500, "b", pattern_key=f"Day {n}") for n, day in enumerate(turn))
        services = (*problem.services[:2], Service("s3", 20, 1, rotating))
        kinds.append(AlikeWeeks.of(TermWeek(turn, replace(problem, days=days, services=services)), 1))
    rotated_timetable(kinds, len, seed=0, workers=1, effort=LITTLE, work=Work(), clock_left=lambda: 1.0)

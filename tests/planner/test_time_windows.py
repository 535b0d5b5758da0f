"""Windows beside starts, and published traveling salesman problems with time windows (instances/README.md)."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from schedule.planner.check import check
from schedule.planner.problem import Day, Goal, Pin, Place, Problem, Service, Window
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Item, ItemKind, Status
from schedule.planner.solve import solve
from tests.planner.builders import NO_SAMENESS, at, random_tiny_week, service, tiny

INSTANCES = Path(__file__).parent / "instances"

type Matrix = list[list[int]]


def read_instance(name: str) -> tuple[Matrix, list[tuple[int, int]]]:
    """The matrix of travel times and each stop's window, the depot first."""
    rows = [[int(word) for word in line.split()] for line in (INSTANCES / name).read_text().splitlines()]
    size = rows[0][0]
    return rows[1 : size + 1], [(row[0], row[1]) for row in rows[size + 1 :]]


def as_day(matrix: Matrix, windows: list[tuple[int, int]]) -> Problem:
    """The tour as a day: a one-minute session a stop, drives from a stop a minute shorter."""
    names = [f"p{n}" for n in range(len(matrix))]
    drives = {
        a: {b: max(0, matrix[i][j] - (i > 0)) for j, b in enumerate(names) if i != j} for i, a in enumerate(names)
    }
    return Problem(
        places=tuple(Place(name) for name in names),
        drive_minutes=drives,
        days=(Day("day", 0, windows[0][1], start_place="p0", end_place="p0"),),
        services=tuple(
            Service(f"s{n}", 1, 1, windows=(Window("day", opens, closes, f"p{n}"),))
            for n, (opens, closes) in enumerate(windows)
            if n > 0
        ),
        goals=(Goal.UNPLACED, Goal.DRIVING),
    )


@pytest.mark.long
@pytest.mark.parametrize(("name", "best_known"), [("n20w20.001.txt", 378), ("n40w20.001.txt", 500)])
def test_published_tours_are_proved_at_their_best_known_value(name: str, best_known: int) -> None:
    matrix, windows = read_instance(name)
    problem = as_day(matrix, windows)
    result = solve(problem, workers=1, time_limit=120.0)
    assert result.status is Status.OPTIMAL
    assert result.plan is not None
    assert check(problem, result.plan).holds
    tour = [0, *(int(session.place[1:]) for session in result.plan.sessions), 0]
    assert sorted(tour[:-1]) == list(range(len(matrix)))
    assert sum(matrix[a][b] for a, b in pairwise(tour)) == best_known


def test_a_window_is_the_same_as_a_start_a_minute() -> None:
    starts = tuple(at(minute) for minute in range(500, 531))
    other = service("other", at(510, "b"), minutes=45)
    with_starts = tiny(service("s", *starts), other)
    with_window = tiny(service("s", windows=(Window("mon", 500, 530, "a"),)), other)
    one, two = (solve(problem, workers=1) for problem in (with_starts, with_window))
    assert one.plan == two.plan
    assert two.status is Status.OPTIMAL


def test_a_session_outside_its_window_is_refused_by_the_judge() -> None:
    problem = tiny(service("s", windows=(Window("mon", 500, 530, "a"),)))
    plan = solve(problem, workers=1).plan
    assert plan is not None
    assert check(problem, plan).holds
    late = Item(ItemKind.SESSION, 531, 561, "a", unit="s")
    wrong = replace(plan, days=(replace(plan.days[0], items=(late,)),))
    assert [one.rule for one in check(problem, wrong).violations] == ["only at its starts"]


def test_a_pin_may_stand_inside_a_window() -> None:
    problem = tiny(service("s", windows=(Window("mon", 500, 530, "a"),)), pins=(Pin("s", "mon", 517, "a"),))
    plan = solve(problem, workers=1).plan
    assert plan is not None
    assert [session.at for session in plan.sessions] == [517]
    with pytest.raises(ProblemError, match="no start"):
        replace(problem, pins=(Pin("s", "mon", 531, "a"),))


def test_a_window_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ProblemError, match="Swap the two"):
        Window("mon", 530, 500, "a")


@pytest.mark.long
def test_one_day_with_everything_placed_agrees_with_the_general_search() -> None:
    compared = 0
    for seed in range(150):
        problem = random_tiny_week(seed)
        kept = tuple(replace(one, sessions=1) for one in problem.services)
        first = problem.days[0]
        day = replace(first, preparation_minutes=0, blocks=tuple(b for b in first.blocks if b.place is not None))
        starts = [tuple(replace(s, day=day.id) for s in one.starts) for one in kept]
        single = replace(
            problem,
            days=(day,),
            services=tuple(replace(one, starts=found) for one, found in zip(kept, starts, strict=True)),
            groups=(),
            pins=(),
            current=None,
            preparation=None,
            longest_stretch=None,
            goals=NO_SAMENESS,
        )
        # A second day without any visit turns the special search off and adds no driving.
        doubled = replace(single, days=(day, Day("empty", 480, 500)))
        one, two = solve(single, workers=1), solve(doubled, workers=1)
        assert (one.figures is None) == (two.figures is None), seed
        if one.figures is None or two.figures is None:
            continue
        assert one.status is two.status is Status.OPTIMAL, seed
        assert one.figures.in_order(NO_SAMENESS) == two.figures.in_order(NO_SAMENESS), seed
        compared += one.figures.unplaced == 0
    assert compared > 20

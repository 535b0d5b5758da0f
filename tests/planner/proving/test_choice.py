"""The integer problem over a pool of days, and the sets of days, against trying everything."""

from dataclasses import replace
from itertools import combinations, pairwise, product

import pytest

from schedule.planner.problem import DRIVING_FIRST, USUAL_TIMES_FIRST, Goal
from schedule.planner.proving.arcs import Steps
from schedule.planner.proving.choice import Limits, RouteChoice
from schedule.planner.proving.columns import DayGraph
from schedule.planner.proving.master import Question
from schedule.planner.proving.patterns import patterns_of
from schedule.planner.result import Status
from schedule.planner.solve import solve
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import BUNCHED_DAY_MINUTES, Model
from schedule.planner.week.objective import figures_of
from schedule.planner.week.routes import Route, best_route, timed_route
from tests.planner.brute import best_figures
from tests.planner.builders import random_tiny_week

LIMITS = Limits(30.0, 10_000, lambda: False)


def all_days(model: Model) -> list[list[Route]]:
    """For each day every route over every set of its nodes."""
    found: list[list[Route]] = []
    for day in model.days:
        movable = [n for n, node in enumerate(day.nodes) if node.session and not node.fixed]
        sets = (list(chosen) for size in range(4) for chosen in combinations(movable, size))
        routes = [best_route(day, sorted([*day.required, *chosen])) for chosen in sets]
        found.append([route for route in routes if route is not None and once(model, route)])
    return found


def once(model: Model, route: Route) -> bool:
    """Whether the route holds no service more often than a day may."""
    services = [s for v in route.visits for s in model.days[route.day].nodes[v].services]
    most = {s: 1 if model.days_apart[s] else model.owed[s] for s in services}
    return all(services.count(s) <= most[s] for s in services)


def keeps_rules(model: Model, week: tuple[Route, ...]) -> bool:
    """Whether no service is held too often or too soon again."""
    for service, owed in enumerate(model.owed):
        days = [r.day for r in week for v in r.visits if service in model.days[r.day].nodes[v].services]
        if len(days) > owed or any(b - a < model.days_apart[service] for a, b in pairwise(sorted(days))):
            return False
    return True


@pytest.mark.parametrize("seed", range(60))
def test_the_best_choice_is_that_of_all_choices(seed: int) -> None:
    model = build_model(random_tiny_week(seed, triangle=True))
    days = [routes[:25] for routes in all_days(model)]
    weeks = [week for week in product(*days) if keeps_rules(model, week)]
    if model.preparation_wish or not weeks:
        # Wishes over the whole horizon are settled goal by goal; the brute-force weeks hold those.
        assert model.preparation_wish or not all(days)
        return
    fewest = min(figures_of(model, week).unplaced for week in weeks)
    least = min(f.driving for f in (figures_of(model, week) for week in weeks) if f.unplaced == fewest)
    pool = [route for routes in days for route in routes]
    for question, expected in (
        (Question(Goal.UNPLACED, {}), fewest),
        (Question(Goal.DRIVING, {Goal.UNPLACED: fewest}), least),
    ):
        chosen = RouteChoice(model, question, pool).best(LIMITS, float("inf"))
        assert chosen.routes is not None
        assert figures_of(model, chosen.routes).of(question.goal) == expected
        assert chosen.bound <= expected + 1e-6


@pytest.mark.parametrize("seed", range(40))
def test_sets_of_days_are_all_that_keep_the_distance(seed: int) -> None:
    model = build_model(random_tiny_week(seed, triangle=True))
    days = list(range(len(model.days)))
    for service, owed in enumerate(model.owed):
        apart = model.days_apart[service]
        found = patterns_of(model, service, days, 0)
        if apart == 0 or owed < 2:
            assert found is None
            continue
        assert found is not None
        every = [c for size in range(owed + 1) for c in combinations(days, size)]
        wanted = [c for c in every if all(abs(a - b) >= apart for a, b in combinations(c, 2))]
        assert sorted(pattern.days for pattern in found) == sorted(wanted)
        ideal = max(1, len(days) // owed)
        for pattern in found:
            short = sum(max(0, ideal - (b - a)) for a, b in pairwise(pattern.days))
            assert pattern.bunched == BUNCHED_DAY_MINUTES * short


@pytest.mark.parametrize("goals", [USUAL_TIMES_FIRST, DRIVING_FIRST], ids=["usual times", "driving"])
@pytest.mark.parametrize("seed", range(120))
def test_sameness_is_bounded_truly(seed: int, goals: tuple[Goal, ...]) -> None:
    """Against the best of all plans of a tiny week with every goal, in both orders that people may choose."""
    problem = replace(random_tiny_week(seed, triangle=True), goals=goals)
    expected, result = best_figures(problem), solve(problem, workers=1)
    if expected is None or result.figures is None:
        assert (expected is None) == (result.figures is None)
        return
    assert result.figures.in_order(goals)[:-1] == expected[:-1]
    sameness = result.stages[-1]
    assert sameness.bound <= expected[-1] <= sameness.value
    assert sameness.status is not Status.OPTIMAL or sameness.value == expected[-1]


@pytest.mark.parametrize("seed", range(40))
def test_fewer_steps_lose_no_route_worth_having(seed: int) -> None:
    """With steps to the starts worth waiting for only, the best days of each set of services are as good."""
    model = build_model(random_tiny_week(seed, triangle=True))
    for day in model.days:
        graph = DayGraph(day, every_start=False)
        few, every = (steps_of(graph, every_start=every_start) for every_start in (False, True))
        assert few <= every
        assert best_by_set(graph, few) == best_by_set(graph, every)


def steps_of(graph: DayGraph, *, every_start: bool) -> set[tuple[int, int, int]]:
    """The steps of a day as (from, to, with lunch)."""
    rows = Steps(graph.day, graph.nodes).rows(every_start=every_start)
    assert rows is not None
    return {(a, b, lunch) for a, b, lunch, *_ in rows.tolist()}


@pytest.mark.parametrize("seed", range(40))
def test_gaps_in_arrays_are_those_of_single_ones(seed: int) -> None:
    """Every step between two visits, with and without lunch, holds what the one gap between them says."""
    for day in build_model(random_tiny_week(seed, triangle=seed % 2 == 0)).days:
        graph = DayGraph(day, every_start=True)
        rows = Steps(day, graph.nodes).rows(every_start=True)
        assert rows is not None
        for a, b, lunch, drive, prepared, rest in rows.tolist():
            gap = day.gap(graph.nodes[a], graph.nodes[b])
            assert gap is not None
            assert gap.lunch_fits or not lunch
            assert (drive, rest) == (gap.drive, gap.rest)
            assert prepared == (gap.lunch_preparation if lunch else gap.preparation)


def test_more_steps_than_the_memory_holds_are_refused() -> None:
    day = build_model(random_tiny_week(0)).days[0]
    graph = DayGraph(day, every_start=True)
    rows = Steps(day, graph.nodes).rows(every_start=True)
    assert rows is not None
    assert Steps(day, graph.nodes).rows(every_start=True, most=len(rows) - 1) is None


def best_by_set(graph: DayGraph, steps: set[tuple[int, int, int]]) -> dict[frozenset[int], list[tuple[int, int]]]:
    """For each set of services the (missed, drive) pairs of its routes that no other pair is better than."""
    day, last = graph.day, len(graph.nodes) - 1
    needed = day.day.lunch is not None
    found: dict[frozenset[int], set[tuple[int, int]]] = {}
    paths: list[tuple[tuple[int, ...], int]] = [((0,), -1)]
    while paths:
        path, lunch = paths.pop()
        if path[-1] == last:
            visits = tuple(graph.nodes[n] for n in path[1:-1])
            services = [s for v in visits for s in day.nodes[v].services]
            if (lunch >= 0) == needed and len(services) == len(set(services)):
                route = timed_route(day, visits, lunch)
                found.setdefault(frozenset(services), set()).add((route.missed, route.drive))
            continue
        for a, b, with_lunch in steps:
            if a == path[-1] and not (with_lunch and lunch >= 0) and len(path) < 6:
                paths.append(((*path, b), len(path) - 1 if with_lunch else lunch))
    return {key: sorted(p for p in pairs if not any(better(q, p) for q in pairs)) for key, pairs in found.items()}


def better(one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether a pair is at least as good in both and not the same."""
    return one != other and one[0] <= other[0] and one[1] <= other[1]

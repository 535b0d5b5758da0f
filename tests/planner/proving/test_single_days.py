"""Single days that are proved optimal cost what PyVRP finds for the same day.

PyVRP is a routing solver of other people: https://github.com/PyVRP/PyVRP (N. Wouda, L. Lan and W. Kool, 2024,
"PyVRP: a high-performance VRP solver package", INFORMS Journal on Computing). One group of clients a session,
one client with one moment for each start; the travel matrix holds the minutes at the wheel.
"""

import random

import pytest
from pyvrp import Location, Model, SolveParams
from pyvrp.stop import MaxIterations

from schedule.planner.problem import Day, Place, Problem, Service, Start
from schedule.planner.result import Status
from schedule.planner.solve import solve
from tests.planner.builders import NO_SAMENESS

PRIZE = 10_000


def random_day(seed: int) -> Problem:
    """One day with 6 to 9 sessions in 4 buildings and a base."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    names = ["base", "a", "b", "c", "d"]
    points = {name: (rng.uniform(0, 12), rng.uniform(0, 12)) for name in names}
    drives = {
        p: {q: 0 if p == q else 4 + round(abs(x - points[q][0]) + abs(y - points[q][1])) for q in names}
        for p, (x, y) in points.items()
    }
    services = tuple(_random_service(rng, n, names[1:]) for n in range(rng.randint(6, 9)))
    return Problem(
        places=tuple(Place(name) for name in names),
        drive_minutes=drives,
        days=(Day("mon", 450, 930, start_place="base", end_place="base"),),
        services=services,
        goals=NO_SAMENESS,
    )


def _random_service(rng: random.Random, number: int, places: list[str]) -> Service:
    place = rng.choice(places)
    minutes = sorted(rng.sample(range(480, 870, 15), rng.randint(2, 5)))
    return Service(f"s{number}", 30, 1, tuple(Start("mon", minute, place) for minute in minutes))


def cost_by_pyvrp(problem: Problem, seed: int) -> tuple[int, int]:
    """Sessions left out and minutes at the wheel as PyVRP finds them."""
    model = Model()
    where: list[tuple[str, Location]] = []
    base = model.add_location(0, 0)
    depot = model.add_depot(base)
    where.append(("base", base))
    for service in problem.services:
        group = model.add_client_group(required=False)
        for start in service.starts:
            location = model.add_location(len(where), 0)
            model.add_client(
                location,
                service_duration=service.minutes,
                tw_early=start.at,
                tw_late=start.at,
                prize=PRIZE,
                required=False,
                group=group,
            )
            where.append((start.place, location))
    day = problem.days[0]
    model.add_vehicle_type(1, start_depot=depot, end_depot=depot, tw_early=day.start, tw_late=day.end)
    for place_a, one in where:
        for place_b, other in where:
            if one is not other:
                minutes = problem.drive(place_a, place_b)
                model.add_edge(one, other, distance=minutes, duration=minutes)
    result = model.solve(MaxIterations(600), seed=seed, params=SolveParams(), display=False)
    assert result.is_feasible()
    best = result.best
    left_out = len(problem.services) - best.num_clients()
    return left_out, best.distance()


@pytest.mark.parametrize("seed", range(12))
def test_a_proven_day_costs_what_pyvrp_finds(seed: int) -> None:
    problem = random_day(seed)
    result = solve(problem, workers=1, time_limit=60.0)
    assert result.status is Status.OPTIMAL
    assert result.figures is not None
    left_out, distance = cost_by_pyvrp(problem, seed)
    assert (result.figures.unplaced // 30, result.figures.driving) == (left_out, distance)

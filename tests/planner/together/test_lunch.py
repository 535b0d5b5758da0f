"""Lunch with colleagues against every plan of random tiny weeks, and what is said where it can't be had."""

import random
from dataclasses import replace
from itertools import product
from typing import Any

import pytest

from schedule.planner.problem import Day, Goal, Lunch, Problem
from schedule.planner.result import Result
from schedule.planner.solve import solve
from schedule.planner.together.lunch import (
    LunchCost,
    LunchOffer,
    goals_beside,
    lunch_week,
    with_lunch_at,
)
from tests.planner.brute import best_figures
from tests.planner.builders import at, random_tiny_week, service, tiny

pytestmark = pytest.mark.long


def asked(problem: Problem) -> Result:
    return solve(problem, workers=1, time_limit=60.0)


def offers_for(problem: Problem, rng: random.Random) -> list[LunchOffer]:
    """One or two lunches of colleagues on each day that has one, at any minute and place."""
    return [
        LunchOffer(f"c{number}", day.id, minute, rng.choice(problem.places).id, rng.choice((5, 10, 20)))
        for day in problem.days
        if day.lunch is not None
        for number in range(rng.randint(1, 2))
        for minute in [
            day.lunch.earliest
            + 5 * rng.randint(0, (day.lunch.latest_end - day.lunch.minutes - day.lunch.earliest) // 5)
        ]
    ]


def best_of_all(problem: Problem, offers: list[LunchOffer]) -> tuple[int, ...] | None:
    """By every plan of the week with each lunch of colleagues or none on each day."""
    goals = goals_beside(problem)
    driving = goals.index(Goal.DRIVING)
    days = sorted({one.day for one in offers})
    best: tuple[int, ...] | None = None
    for chosen in product(*([None, *{(one.at, one.place) for one in offers if one.day == day}] for day in days)):
        spots = {day: spot for day, spot in zip(days, chosen, strict=True) if spot is not None}
        found = best_figures(with_lunch_at(problem, spots))
        if found is None:
            continue
        worth = sum(one.worth for one in offers if spots.get(one.day) == (one.at, one.place))
        net = (*found[:driving], found[driving] - worth, *found[driving + 1 : len(goals)])
        best = net if best is None or net < best else best
    return best


def test_no_week_is_worth_more_by_every_plan() -> None:
    """Proved weeks are the best of all; where no week is known for a lunch, none is called proved."""
    had = proved = 0
    for seed in range(60):
        rng = random.Random(seed)  # noqa: S311 - test data, no secret
        problem = random_tiny_week(seed)
        offers, base = offers_for(problem, rng), asked(problem)
        if base.plan is None or not offers:
            continue
        found = lunch_week(problem, base, offers, asked, most=200)
        goals = goals_beside(problem)
        driving = goals.index(Goal.DRIVING)
        assert found.result.figures is not None
        figures = found.result.figures.in_order(goals)
        worth = sum(one.worth for one in found.had)
        net = (*figures[:driving], figures[driving] - worth, *figures[driving + 1 :])
        expected = best_of_all(problem, offers)
        assert expected is not None
        assert net >= expected, seed
        if found.proved:
            assert net == expected, seed
        had, proved = had + len(found.had), proved + found.proved
    assert had >= 10
    assert proved >= 30


# ---- a tiny week ----------------------------------------------------------------------------------------------

LUNCH = Lunch(30, 600, 720)
DAY = Day("mon", 480, 780, start_place="a", end_place="a", lunch=LUNCH)


def with_sessions_in_b(starts: tuple[int, ...], **values: Any) -> Problem:
    """A day from and to A, 10 minutes from B, where one session of 60 minutes begins at one of these minutes."""
    return tiny(service("x", *(at(one, "b") for one in starts), minutes=60), days=(DAY,), **values)


def led_to(problem: Problem, *offers: LunchOffer) -> tuple[tuple[str, ...], list[tuple[LunchCost, int]], int]:
    found = lunch_week(problem, asked(problem), offers, asked)
    assert found.proved
    return (
        tuple(name for one in found.had for name in one.whom),
        [(one.cost, one.amount) for one in found.refused],
        found.added_drive,
    )


def test_lunch_moves_to_the_minute_and_place_of_a_colleague() -> None:
    """The session is over at 10:00 or at 11:00: lunch at 10:30 in B is had after the one or before the other."""
    problem = with_sessions_in_b((540, 600))
    for minute in (630, 660):
        assert led_to(problem, LunchOffer("ada", "mon", minute, "b", 1)) == (("ada",), [], 0)


def test_two_colleagues_at_one_table_are_worth_more_than_one_elsewhere() -> None:
    problem = with_sessions_in_b((540, 600))
    table = [LunchOffer(who, "mon", 660, "b", 10) for who in ("ada", "bel")]
    assert led_to(problem, LunchOffer("cal", "mon", 630, "b", 15), *table) == (("ada", "bel"), [], 0)


def test_a_lunch_never_costs_an_owed_minute() -> None:
    """The only session is at the time of the lunch."""
    problem = with_sessions_in_b((620,))
    offer = LunchOffer("ada", "mon", 630, "b", 600)
    assert led_to(problem, offer) == ((), [(LunchCost.NO_WEEK, 0)], 0)
    also = replace(problem, services=(*problem.services, service("y", at(490, "b"), minutes=60)))
    assert led_to(also, offer) == ((), [(LunchCost.UNPLACED, 60)], 0)


def test_a_lunch_costs_no_more_driving_than_it_is_worth() -> None:
    """A session in A or, with 20 minutes at the wheel, in B: where the colleague has lunch."""
    problem = tiny(service("x", at(540), at(540, "b"), minutes=60), days=(DAY,))
    driving = 2 * problem.drive("a", "b")
    assert led_to(problem, LunchOffer("ada", "mon", 630, "b", driving + 1)) == (("ada",), [], driving)
    dear = led_to(problem, LunchOffer("ada", "mon", 630, "b", driving - 1))
    assert dear == ((), [(LunchCost.DRIVING, driving)], 0)


def test_a_lunch_outside_the_window_or_at_an_unknown_place_is_none() -> None:
    problem = with_sessions_in_b((540,))
    for minute, place in ((590, "b"), (700, "b"), (630, "nowhere")):
        assert led_to(problem, LunchOffer("ada", "mon", minute, place, 10)) == ((), [], 0)

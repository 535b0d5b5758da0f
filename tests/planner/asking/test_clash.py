"""Clashing rules: named in words, irreducible and smallest by trying every plan of tiny weeks one by one."""

from dataclasses import replace
from itertools import combinations

import pytest

from schedule.planner.asking.clash import Clash, clash_of, focused
from schedule.planner.asking.rules import Rule, rules_about
from schedule.planner.problem import Barred, Block, Day, Lunch, Pin, Problem
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import at, random_tiny_week, service, tiny

EARLIEST, LATEST = 420, 840
"""Sessions of tiny weeks lie between 8:00 and 11:30 and drives take 40 minutes at most: nothing lies beyond."""


def found(problem: Problem, name: str) -> Clash:
    """The clash of one service in the plan that the planner makes."""
    plan = solve(problem, workers=1).plan
    assert plan is not None
    clash = clash_of(problem, plan, name)
    assert clash is not None
    return clash


def gym() -> Problem:
    """Class 2 could only be taken at South School at 9:30, or at 10:00 if the gym were free."""
    barred = Barred("mon", 600, "b", "space_in_use", "the gym is in use by grade 3", "the office of South")
    return tiny(
        service("x", at(560), label="Class 1"),
        service("y", at(570, "b"), label="Class 2", barred=(barred,)),
        pins=(Pin("x", "mon", 560),),
    )


def test_the_clash_is_said_in_words() -> None:
    """The space and the session in the way; lunch, meetings and days apart have no part in it."""
    clash = found(gym(), "y")
    assert clash.complete
    assert [rule.code for rule in clash.rules] == ["sessions", "space_in_use"]
    assert clash.sentence == (
        "One more session of 30 minutes of Class 2 is kept out by 2 things that clash with one another "
        "(the smallest set that does): the session of Class 1 at North School; the gym is in use by grade 3."
    )
    assert clash.ask == ("the office of North School", "the office of South")


def test_lunch_and_a_meeting_are_named() -> None:
    """A day of 2 hours: a meeting until 9:00, lunch only 9:00 to 9:30, the one start at 9:00."""
    day = Day("mon", 480, 600, "Monday", lunch=Lunch(30, 480, 570), blocks=(Block(480, 540, "a", "Team"),))
    clash = found(tiny(service("x", at(540)), days=(day,)), "x")
    assert {rule.code for rule in clash.rules} == {"lunch", "blocks"}


def test_a_service_without_any_start_is_said_to_have_none() -> None:
    clash = found(tiny(service("x")), "x")
    assert (clash.rules, clash.complete) == ((), True)
    assert "no start in these days" in clash.sentence


def test_what_fits_has_no_clash() -> None:
    problem = tiny(service("x", at(480)))
    empty = solve(replace(problem, services=(service("x", sessions=1),)), workers=1).plan
    assert empty is not None
    assert clash_of(problem, empty, "x") is None


def test_a_search_that_ends_early_says_so() -> None:
    problem = gym()
    plan = solve(problem, workers=1).plan
    assert plan is not None
    clash = clash_of(problem, plan, "y", most_solves=3)
    assert clash is not None
    assert (clash.complete, clash.solves) == (False, 3)
    assert "ended early" in clash.sentence


def test_coarse_rules_are_split_into_their_parts() -> None:
    """Of three sessions at South School one stands in the way: that one is named, not the three."""
    problem = tiny(
        service("p", at(500, "b")),
        service("q", at(560, "b")),
        service("r", at(660, "b")),
        service("x", at(560)),
        pins=(Pin("q", "mon", 560),),
    )
    clash = found(problem, "x")
    assert [rule.text for rule in clash.rules if rule.code == "sessions"] == ["the session of q at South School"]


def lifted(problem: Problem, rules: list[Rule], kept: tuple[Rule, ...]) -> Problem:
    """The problem with every rule lifted that isn't kept."""
    for rule in rules:
        if rule in kept:
            continue
        for one in [part for part in rule.parts if part not in kept] if set(rule.parts) & set(kept) else [rule]:
            problem = one.lift(problem)
    days = (replace(day, start=max(day.start, EARLIEST), end=min(day.end, LATEST)) for day in problem.days)
    return replace(problem, days=tuple(days))


def least_unplaced(problem: Problem) -> int:
    """By trying every plan; a week without any plan counts as a clash."""
    best = best_figures(problem)
    return 1 if best is None else best[0]


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, 120, 20))
def test_clashes_are_irreducible_by_brute_force(first: int) -> None:
    """With the set alone the session doesn't fit; without any one rule of it it does."""
    judged = 0
    for seed in range(first, first + 20):
        problem = random_tiny_week(seed)
        result = solve(problem, workers=1)
        plan = result.plan
        for entry in result.unplaced:
            assert plan is not None
            clash = clash_of(problem, plan, entry.service, time_limit=60)
            assert clash is not None
            assert clash.complete
            focus = focused(problem, plan, entry.service)
            rules = rules_about(focus, entry.service)
            assert least_unplaced(lifted(focus, rules, clash.rules)) > 0, seed
            for rule in clash.rules:
                others = tuple(one for one in clash.rules if one is not rule)
                assert least_unplaced(lifted(focus, rules, others)) == 0, (seed, rule)
            judged += 1
    assert judged > 0


def all_parts(rules: list[Rule]) -> list[Rule]:
    """The finest rules."""
    return [part for rule in rules for part in (rule.parts or (rule,))]


def only(problem: Problem, parts: list[Rule], kept: tuple[Rule, ...]) -> Problem:
    """The problem with every finest rule lifted that isn't kept."""
    for rule in parts:
        if not any(rule is one for one in kept):
            problem = rule.lift(problem)
    days = (replace(day, start=max(day.start, EARLIEST), end=min(day.end, LATEST)) for day in problem.days)
    return replace(problem, days=tuple(days))


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, 120, 20))
def test_no_smaller_set_of_rules_clashes_by_brute_force(first: int) -> None:
    """Every smaller set of rules, all others lifted: by trying every plan, the session fits."""
    judged = 0
    for seed in range(first, first + 20):
        problem = random_tiny_week(seed)
        result = solve(problem, workers=1)
        plan = result.plan
        for entry in result.unplaced:
            assert plan is not None
            clash = clash_of(problem, plan, entry.service, time_limit=60)
            assert clash is not None
            assert clash.smallest
            focus = focused(problem, plan, entry.service)
            parts = all_parts(rules_about(focus, entry.service))
            for size in range(len(clash.rules)):
                for kept in combinations(parts, size):
                    assert least_unplaced(only(focus, parts, kept)) == 0, (seed, kept)
                    judged += 1
    assert judged > 0

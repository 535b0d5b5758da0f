"""Weeks planned together are the best over all, by trying every plan of all; the judge sees what they share."""

import random
from collections.abc import Mapping
from dataclasses import replace
from itertools import product

import pytest

from schedule.planner.problem import Goal, Pin, Problem, Service
from schedule.planner.requirements import ProblemError
from schedule.planner.result import DayPlan, Ended, Item, ItemKind, Itinerary, Result
from schedule.planner.solve import solve
from schedule.planner.together.judge import judge_together
from schedule.planner.together.plan import ApartError, plan_together
from schedule.planner.together.shared import Member, Party, TakenOutside, parties, space_key
from tests.planner.brute import every_plan
from tests.planner.builders import NO_SAMENESS, at, random_tiny_week, service, tiny

GYM = space_key("a", "gym")


def member(name: str, problem: Problem, **things: str) -> Member:
    """A member whose units have one thing each, by unit."""
    return Member(name, f"{name} Vey", problem, {unit: frozenset({key}) for unit, key in things.items()})


def plans_of(weeks: Mapping[str, Result]) -> dict[str, Itinerary]:
    """The itineraries of results."""
    return {who: result.plan for who, result in weeks.items() if result.plan is not None}


# ---- against every plan ------------------------------------------------------------------------------------------


def random_party(seed: int) -> Party:
    """Two or three tiny weeks; some of their units share students, some starts are in a gym."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    found = []
    for number in range(2 if seed % 3 else 3):
        problem = random_tiny_week(1000 * number + seed)
        services = tuple(_in_the_gym(rng, one) for one in problem.services)
        problem = replace(problem, services=services, groups=(), pins=(), current=None, goals=NO_SAMENESS)
        shared = [one.id for one in services if rng.random() < 0.7]
        things = {unit: frozenset({f"student {rng.randint(0, 1)}"}) for unit in shared}
        found.append(Member(f"m{number}", f"Member {number}", problem, things))
    taken = (TakenOutside(GYM, found[0].problem.days[0].id, 500, 560),) if rng.random() < 0.5 else ()
    return Party(tuple(found), {GYM: rng.choice((1, 2))}, taken)


def _in_the_gym(rng: random.Random, one: Service) -> Service:
    starts = (replace(s, space="gym") if s.place == "a" and rng.random() < 0.6 else s for s in one.starts)
    return replace(one, starts=tuple(starts))


type Use = frozenset[tuple[str, str, int]]


def best_together(party: Party) -> tuple[int, ...] | None:
    """The least sums over every plan of every member that hold beside one another, every fifth minute."""
    options: list[list[tuple[Use, tuple[int, ...]]]] = []
    for one in party.members:
        by_use: dict[Use, tuple[int, ...]] = {}
        for chosen, figures in every_plan(one.problem):
            use = frozenset(
                (key, day, minute)
                for unit, start in chosen
                for key, day, begins, ends in one.held(unit, start)
                for minute in range(begins, ends, 5)
            )
            by_use[use] = min(figures, by_use.get(use, figures))
        options.append(list(by_use.items()))
    outside = [(one.space, one.day, minute) for one in party.taken for minute in range(one.start, one.end, 5)]
    best: tuple[int, ...] | None = None
    for several in product(*options):
        sums = tuple(map(sum, zip(*(figures for _, figures in several), strict=True)))
        if (best is None or sums < best) and _holds(party, [use for use, _ in several], outside):
            best = sums
    return best


def _holds(party: Party, uses: list[Use], outside: list[tuple[str, str, int]]) -> bool:
    every = [one for use in uses for one in use]
    return all(every.count(one) + outside.count(one) <= party.room.get(one[0], 1) for one in set(every))


@pytest.mark.parametrize("seed", range(20))
def test_the_best_over_all_is_found_and_proved(seed: int) -> None:
    party = random_party(seed)
    expected = best_together(party)
    if expected is None:
        with pytest.raises(ApartError):
            plan_together(party)
        return
    found = plan_together(party)
    assert (found.value, found.bound, found.proved) == (expected, expected, True)
    assert judge_together(party, plans_of(found.weeks)) == ()


@pytest.mark.parametrize("seed", range(20))
def test_by_turns_says_no_more_than_is_true(seed: int) -> None:
    """Without one case looked at: the weeks hold, are no better than the best, and the bound is no worse."""
    party = random_party(seed)
    expected = best_together(party)
    if expected is None:
        with pytest.raises(ApartError):
            plan_together(party, most_cases=0)
        return
    found = plan_together(party, most_cases=0)
    assert found.bound <= expected <= found.value
    assert judge_together(party, plans_of(found.weeks)) == ()
    assert found.ended in {Ended.PROOF, Ended.NODES}


# ---- who gives way -----------------------------------------------------------------------------------------------


def test_whoever_can_gives_way() -> None:
    """Both would have the student at 9:00; Ada has no other time, Bel has one."""
    ada = tiny(service("s", at(540)))
    bel = tiny(service("s", at(540), at(600, "b")))
    party = Party((member("ada", ada, s="student 1"), member("bel", bel, s="student 1")))
    found = plan_together(party)
    assert found.value[0] == 0
    held = {who: plan.sessions[0].at for who, plan in plans_of(found.weeks).items()}
    assert held == {"ada": 540, "bel": 600}


def test_who_gave_way_is_told() -> None:
    """Each has a school of their own next, so that the own best of both is the student first thing."""
    ada = tiny(service("s", at(540)), service("t", at(600)))
    bel = tiny(service("s", at(540), at(600, "b")), service("t", at(600), at(640)))
    party = Party((member("ada", ada, s="student 1"), member("bel", bel, s="student 1")))
    found = plan_together(party)
    [one] = found.gave_way
    assert (one.clash.key, one.clash.minute, one.kept, one.gave) == ("student 1", 540, ("ada",), ("bel",))
    assert found.own["bel"].driving == 0
    assert found.weeks["bel"].figures is not None
    assert found.weeks["bel"].figures.driving == 10


def test_room_for_two_takes_two_and_one_outside_takes_room() -> None:
    weeks = tuple(member(name, tiny(service("s", at(540, space="gym")))) for name in ("ada", "bel"))
    unplaced = NO_SAMENESS.index(Goal.UNPLACED)
    least = {}
    for room, outside in product((1, 2), (False, True)):
        taken = (TakenOutside(GYM, "mon", 550, 560),) if outside else ()
        least[room, outside] = plan_together(Party(weeks, {GYM: room}, taken)).value[unplaced]
    assert least == {(1, False): 30, (1, True): 60, (2, False): 0, (2, True): 30}


def test_two_pins_on_one_student_at_one_time_leave_no_weeks() -> None:
    pinned = tiny(service("s", at(540)), pins=(Pin("s", "mon", 540),))
    with pytest.raises(ApartError):
        plan_together(Party((member("ada", pinned, s="x"), member("bel", pinned, s="x"))))


def test_who_has_to_be_planned_together() -> None:
    """Joined over a third one; who shares nothing is alone."""
    found = parties([("a", {"x"}), ("b", {"y"}), ("c", {"x", "y"}), ("d", {"z"}), ("e", set())])
    assert found == [("a", "b", "c"), ("d",), ("e",)]


def test_goals_in_another_order_are_refused() -> None:
    turned = (NO_SAMENESS[0], *NO_SAMENESS[:0:-1])
    one, other = tiny(service("s", at(540))), tiny(service("s", at(540)), goals=turned)
    with pytest.raises(ProblemError):
        Party((member("ada", one), member("bel", other)))


# ---- the judge ---------------------------------------------------------------------------------------------------


def alone(problem: Problem) -> Itinerary:
    """What the planner makes of a week by itself."""
    plan = solve(problem).plan
    assert plan is not None
    return plan


def test_the_judge_names_who_meets_whom() -> None:
    week = tiny(service("s", at(540, space="gym")))
    plans = {"ada": alone(week), "bel": alone(week)}
    party = Party((member("ada", week, s="student 1"), member("bel", week)), names={GYM: "Gym"})
    told = judge_together(party, plans)
    assert [(one.rule, one.day, one.text) for one in told] == [
        ("shared things", "mon", "Gym is with ada Vey and bel Vey at 9:00.")
    ]
    roomy = replace(party, members=(party.members[0], member("bel", week, s="student 1")), room={GYM: 2})
    assert [one.text for one in judge_together(roomy, plans)] == ["student 1 is with ada Vey and bel Vey at 9:00."]


def test_the_judge_looks_at_each_week_too() -> None:
    week = tiny(service("s", at(540)))
    wrong = Itinerary((DayPlan("mon", (Item(ItemKind.SESSION, 545, 575, "a", unit="s"),)),))
    told = judge_together(Party((member("ada", week),)), {"ada": wrong})
    assert "s can't begin at 9:05 there." in [one.text for one in told]

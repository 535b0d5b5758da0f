"""Weeks repaired with every open session at its time, held against the exact planner and against every way."""

import itertools
import random
from dataclasses import replace

import pytest

from benchmarks.terms import TermShape, generate_term
from schedule.planner.problem import Goal, Problem, Start
from schedule.planner.result import Status
from schedule.planner.solve import solve
from schedule.planner.term.choice.repair import MOST_MISSING, Repairs
from schedule.planner.term.expected import against
from schedule.planner.term.search import complete
from schedule.planner.term.shared import WISH_MINUTE, AlikeWeeks, TermState
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek, UnusualDay
from schedule.planner.week.routes import best_route
from schedule.planner.week.work import Work
from tests.planner.term.builders import ann, at, week

CHARGE = 1_000
KEEPING = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING)
SMALL = TermShape(sessions=8, buildings=4, weeks=8, closed_days=1, closings=1, shortened=1, beginning=1, ending=0)


def repairs(one: TermWeek) -> Repairs:
    """The repairs of that week."""
    return Repairs(AlikeWeeks.of(one, 1), Work(), CHARGE)


def stands(unit: str, minute: int, key: str = "monday", place: str = "a") -> StandingSession:
    """A session that stands there."""
    return StandingSession(unit, key, minute, place)


def test_what_has_lost_its_day_goes_where_it_drives_least() -> None:
    """Ann's Monday is closed: on Tuesday she can be had at Ben's school, or ten minutes from there."""
    ben = ann(at(480, "b", day="tue"), at(600, "b", day="tue"), name="ben", sessions=1)
    choice = ann(at(540, day="tue"), at(540, "b", day="tue"))
    one = repairs(replace(week(1, ben, choice), unusual=(UnusualDay("a", "monday", "no school"),)))
    assert one.cost([stands("ben", 480, "tuesday", "b"), stands("ann", 480)]) == one.cost(
        [stands("ben", 480, "tuesday", "b"), stands("ann", 540, "tuesday", "b")]
    )


def test_nothing_that_stands_gives_way() -> None:
    """Ann's only other time is Ben's: she is left over and charged for, and he stays."""
    one = repairs(week(1, ann(at(540), name="ben"), ann(at(540))))
    assert one.cost([stands("ben", 540)]) == CHARGE


def test_a_session_that_its_own_timetable_hides_is_charged_once() -> None:
    """Both stand at one time: the second leaves, and has a place at another hour."""
    one = repairs(week(1, ann(at(540), name="ben"), ann(at(540), at(600))))
    assert one.cost([stands("ben", 540), stands("ann", 540)]) == CHARGE


def test_standing_where_a_usual_week_has_no_start_is_no_way_out() -> None:
    """Ann stands at ten, and nine is all that this week has: a charge, unless that day is unusual in it."""
    one = week(1, ann(at(540)))
    assert repairs(one).cost([stands("ann", 600)]) == CHARGE
    assert (
        repairs(replace(one, unusual=(UnusualDay("a", "monday", "a late start"),))).cost([stands("ann", 600)]) == 0
    )


def test_a_service_owed_twice_is_put_on_two_days() -> None:
    """Once a day at most, so of two on Monday and one on Tuesday one of each is taken."""
    twice = ann(at(480), at(600), at(540, day="tue"), sessions=2)
    assert repairs(week(1, twice)).cost([]) == 0
    assert repairs(week(1, replace(twice, starts=twice.starts[:2]))).cost([]) == CHARGE


def test_more_than_a_table_can_hold_is_charged_and_not_tried() -> None:
    """Where nothing stands at all, the answer comes at once."""
    services = [ann(at(480 + 30 * (n % 8)), at(480 + 30 * (n % 8), day="tue"), name=f"s{n}") for n in range(16)]
    assert len(services) > MOST_MISSING
    assert repairs(week(1, *services)).cost([]) == CHARGE * len(services)


def lost(problem: Problem, rng: random.Random) -> Problem:
    """The week with some of its starts taken away."""
    return replace(
        problem,
        services=tuple(
            replace(one, starts=tuple(start for start in one.starts if rng.random() < 0.7))
            for one in problem.services
        ),
    )


def tried(one: Repairs, sessions: list[StandingSession]) -> int:
    """The least over all ways to put in what is missing, each way of each day timed by itself."""
    visits, missing, away = one.held(sessions)
    days, best = one.kind.model.days, len(missing) * CHARGE
    plain = sum(cost(best_route(day, visits[day.index])) for day in days)
    free = [(day.index, n) for day in days for n, node in enumerate(day.nodes) if set(node.services) & set(missing)]
    for count in range(1, len(missing) + 1):
        for nodes in itertools.combinations(free, count):
            held = sorted(days[day].nodes[n].services[0] for day, n in nodes)
            by_day = [[n for day, n in nodes if day == index] for index in range(len(days))]
            services = [
                [days[i].nodes[n].services[0] for n in (*visits[i], *mine)] for i, mine in enumerate(by_day)
            ]
            if any(held.count(s) > missing.count(s) for s in held) or any(len(set(s)) < len(s) for s in services):
                continue
            routes = [best_route(day, sorted((*visits[day.index], *by_day[day.index]))) for day in days]
            if all(route is not None for route in routes):
                best = min(best, sum(map(cost, routes)) - plain + CHARGE * (len(missing) - count))
    return plain + best + CHARGE * away


def cost(route: object) -> int:
    """Minutes of a route, wishes weighed."""
    return getattr(route, "drive", 0) + WISH_MINUTE * getattr(route, "missed", 0)


@pytest.mark.parametrize("seed", range(40))
def test_no_way_to_put_in_what_is_missing_is_cheaper(seed: int) -> None:
    """Every way is tried, in weeks of two days whose starts are partly gone."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret

    def spots() -> list[Start]:
        return [at(480 + 30 * rng.randrange(7), rng.choice("ab"), day=rng.choice(("mon", "tue"))) for _ in range(4)]

    services = [ann(*dict.fromkeys(spots()), name=f"s{n}", sessions=1 + (n == 0)) for n in range(5)]
    plain = week(1, *services)
    state = TermState([AlikeWeeks.of(plain, 1)], 60)
    complete(state)
    unusual = tuple(UnusualDay(place, key, "") for place in "ab" for key in ("monday", "tuesday"))
    one = repairs(replace(plain, problem=lost(plain.problem, rng), unusual=unusual))
    assert one.cost(state.sessions) == tried(one, state.sessions)


@pytest.mark.long
def test_a_repaired_week_drives_what_the_exact_planner_proves() -> None:
    """Weeks of a generated term near a timetable by insertion, as far as every open session can stay."""
    term = generate_term(SMALL, 3)
    kinds = [AlikeWeeks.of(one, 1) for one in sorted(term.weeks, key=lambda one: -len(one.unusual))[:4]]
    state = TermState(kinds, 60)
    complete(state)
    held = 0
    for kind in kinds:
        problem = replace(against(kind.week, StandingTimetable(tuple(state.sessions))), goals=KEEPING)
        found = solve(problem, effort=5.0)
        assert found.figures is not None
        assert found.status is Status.OPTIMAL
        if not found.figures.change and not found.figures.unplaced:
            held += 1
            assert Repairs(kind, Work(), CHARGE).cost(state.sessions) == found.figures.driving
    assert held >= len(kinds) // 2

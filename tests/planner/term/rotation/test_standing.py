"""What stands on weekdays under a pattern of rotating sessions, held against every way there is."""

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.terms import TermShape, generate_term
from schedule.planner.problem import Day
from schedule.planner.term.judge import check_term
from schedule.planner.term.plan import plan_term
from schedule.planner.term.rotation.dates import candidates_by_position, dates_of, rotating_in, rows_of
from schedule.planner.term.rotation.master import StandingMaster
from schedule.planner.term.rotation.pattern import Patterns, rotating_units
from schedule.planner.term.rotation.positions import positions_of
from schedule.planner.term.rotation.rotated import rotated_timetable
from schedule.planner.term.rotation.walk import (
    FOUND,
    LEFT_OUT,
    PARENT,
    SPOT,
    PositionWay,
    Prices,
    completions,
    room_for,
    walk,
)
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession, Term, TermWeek
from schedule.planner.week.routes import best_route
from schedule.planner.week.work import Work
from tests.planner.term.builders import ann, at, week

SMALL = TermShape(sessions=8, buildings=4, weeks=7, closed_days=1, closings=1, shortened=1, beginning=1, ending=0)
ROTATING = replace(SMALL, rotations=True)


def kinds_of(weeks: tuple[TermWeek, ...]) -> list[AlikeWeeks]:
    """Each week as a kind of its own."""
    return [AlikeWeeks.of(one, 1) for one in weeks]


def two_letters() -> list[AlikeWeeks]:
    """Eve rotates over Monday and Tuesday; Ann and Cal don't, Ben does by A and B weeks."""
    weeks = []
    for number in (1, 2, 3, 4):
        letter, turn = "AB"[number % 2], ("mon", "tue") if number % 2 else ("tue", "mon")
        eve = ann(
            at(540, "b", turn[0], pattern_key="Day 1"),
            at(600, "b", turn[0], pattern_key="Day 1"),
            at(570, "b", turn[1], pattern_key="Day 2"),
            name="eve",
        )
        ben = ann(at(510, pattern_key=f"{letter} monday"), at(660, "b", pattern_key=f"{letter} monday"), name="ben")
        cal = ann(at(500), at(640, "b", "tue"), at(640, day="tue"), name="cal")
        weeks.append(week(number, eve, ben, cal, ann(at(600), at(600, day="tue"), at(680, "b"))))
    return kinds_of(tuple(weeks))


EVE = StandingSession("eve", "Day 1", 540, "b")


def standing_of(kinds: list[AlikeWeeks], pattern: tuple[StandingSession, ...]) -> StandingMaster:
    """The linear problem of these weeks."""
    positions = positions_of(kinds)
    candidates, rotating = candidates_by_position(kinds, positions), rotating_in(kinds, pattern)
    every = range(len(kinds))
    dates = dates_of(kinds, positions, candidates, rotating, every)
    return StandingMaster(dates, rows_of(kinds, positions, candidates, rotating, every), Work(), 1)


def subsets(way: PositionWay) -> list[tuple[int, ...]]:
    """Every set of a position's spots that can stand together, by the bits they share."""
    spots = range(1, way.drive.shape[1] - 1)
    every = [chosen for size in range(4) for chosen in itertools.combinations(spots, size)]
    return [one for one in every if not any(way.bits[a] & way.bits[b] for a, b in itertools.combinations(one, 2))]


def cost_by_days(kinds: list[AlikeWeeks], standing: StandingMaster, position: int, spots: tuple[int, ...]) -> float:
    """Minutes at the wheel of that position in all weeks, timed day by day with Eve put in."""
    total = 0
    for kind in kinds:
        mine = [standing.dates[position].candidates[spot - 1] for spot in spots]
        nodes = [n for one in [*mine, EVE] for day, n in kind.nodes.get(one, ()) if day == position]
        route = best_route(kind.model.days[position], sorted(nodes))
        if route is None:
            return math.inf
        total += route.drive
    return total


def test_letters_are_steady_and_cycle_days_are_not() -> None:
    """Each kind of day that always comes on one position has it."""
    positions = positions_of(two_letters())
    steady = {("a", "A monday"): 0, ("a", "B monday"): 0, ("b", "A monday"): 0, ("b", "B monday"): 0}
    plain = {("a", "monday"): 0, ("a", "tuesday"): 1, ("b", "monday"): 0, ("b", "tuesday"): 1}
    assert positions.steady == {**steady, **plain}
    assert positions.of(EVE) == -1


def test_a_closed_day_leaves_the_others_where_they_are() -> None:
    """The only day of a week whose Monday is closed is its Tuesday."""
    usual = week(1, ann(at(540), at(540, day="tue")))
    short = week(2, ann(at(540, day="tue")), days=(Day("tue", 480, 720),))
    assert positions_of(kinds_of((usual, short))).days[0] == (0, 1)


def test_a_column_drives_what_its_days_drive() -> None:
    """Every set of sessions, each date timed by the week planner's own routes."""
    kinds = two_letters()
    standing = standing_of(kinds, (EVE,))
    seen = 0
    for position, way in enumerate(standing.ways):
        for spots in subsets(way):
            told = standing.add([(position, spots)])
            cost = cost_by_days(kinds, standing, position, spots)
            assert told == (cost < math.inf), spots
            if told:
                assert standing.columns[-1].drive == cost
                seen += 1
    assert seen > 10


@pytest.mark.parametrize("seed", range(8))
def test_a_walk_finds_the_cheapest_set_under_any_prices(seed: int) -> None:
    """Beside every set there is, and its bound is below all of them."""
    standing = standing_of(two_letters(), (EVE,))
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    for position, way in enumerate(standing.ways):
        prize = np.array([0.0, *(rng.uniform(0, 60) for _ in range(way.drive.shape[1] - 2)), 0.0])
        costs = {}
        for spots in subsets(way):
            if standing.add([(position, spots)]):
                costs[spots] = standing.columns[-1].drive - sum(prize[spot] for spot in spots)
        rest, room = completions(way, prize), room_for(5_000, way)
        ends, values = np.zeros(5_000, np.int64), np.zeros(5_000)
        walk(way, Prices(prize, rest, 1e9, 0), room, ends, values)
        found = int(room.told[FOUND])
        assert not room.told[LEFT_OUT]
        best = int(np.argmin(values[:found]))
        label, chosen = int(ends[best]), list[int]()
        while label > 0:
            chosen.append(int(room.rows[label, SPOT]))
            label = int(room.rows[label, PARENT])
        assert values[best] == pytest.approx(min(costs.values()))
        assert costs[tuple(reversed(chosen))] == pytest.approx(values[best])
        assert rest[:, 0, 1 if way.lunch.all() else 0].sum() <= min(costs.values()) + 1e-6


def test_the_linear_bound_is_below_every_timetable_and_the_choice_above_it() -> None:
    """Every pair of days that holds what is owed, beside what the columns say."""
    kinds = two_letters()
    standing = standing_of(kinds, (EVE,))
    for position, way in enumerate(standing.ways):
        standing.add((position, spots) for spots in subsets(way))
    owed = [row.owed for row in standing.rows]
    least = math.inf
    mondays, tuesdays = ([one for one in standing.columns if one.position == day] for day in (0, 1))
    for one, other in itertools.product(mondays, tuesdays):
        held = [0] * len(owed)
        for column in (one, other):
            for row in (row for spot in column.spots for row in standing.in_rows[column.position][spot]):
                held[row] += 1
        if held == owed:
            least = min(least, one.drive + other.drive)
    fresh = standing_of(kinds, (EVE,))
    fresh.add((position, ()) for position in (0, 1))
    answer = fresh.solve(lambda: 60.0)
    chosen = fresh.chosen(10.0)
    assert answer.left_over == 0
    assert answer.bound == pytest.approx(answer.value)
    assert answer.bound <= least + 1e-6
    assert sum(one.drive for one in chosen) >= least


def test_patterns_leave_room_for_each_other_and_hold_each_kind_of_day_once() -> None:
    """Fresh ones and what becomes of them: no two sessions of a kind of day at once, no unit twice on one."""
    kinds = kinds_of(generate_term(ROTATING, 1).weeks)
    units = rotating_units(kinds, positions_of(kinds))
    makes = Patterns(units, random.Random(5))  # noqa: S311 - test data, no secret
    minutes = {one.unit: one.minutes for one in units}
    pattern = makes.fresh()
    for _ in range(200):
        pattern = makes.other(pattern)
        assert pattern
        for one, other in itertools.combinations(pattern, 2):
            if (one.place, one.pattern_key) == (other.place, other.pattern_key):
                assert one.unit != other.unit
                assert one.at + minutes[one.unit] <= other.at or other.at + minutes[other.unit] <= one.at


def test_where_nothing_rotates_there_is_nothing_to_search() -> None:
    """Weekdays alone, letters or not."""
    kinds = kinds_of(generate_term(SMALL, 1).weeks)
    found = rotated_timetable(kinds, len, seed=0, workers=1, effort=1.0, work=Work(), clock_left=lambda: 60.0)
    assert found is None


def test_a_term_with_rotating_days_is_whole_and_its_bound_below_it() -> None:
    """All that weeks with nothing unusual owe stands and is kept; the judge holds the bound against the term."""
    term = Term(generate_term(replace(SMALL, rotations=True), 2).weeks[:4])
    found = plan_term(term, effort=1.0, time_limit=600.0)
    assert check_term(term, found) == ()
    for asked, planned in zip(term.weeks, found.weeks, strict=True):
        if not asked.unusual:
            assert planned.kept == sum(service.sessions for service in asked.problem.services)
    assert found.bound_with_rotation is not None
    assert found.bound <= found.bound_with_rotation <= found.drive_minutes


def test_the_judge_refuses_a_bound_with_rotation_above_the_term() -> None:
    """One minute more than is driven."""
    one = Term((week(1, ann(at(540)), ann(at(600, "b"), name="ben")),))
    found = plan_term(one)
    told = replace(found, bound_with_rotation=found.drive_minutes)
    assert check_term(one, told) == ()
    wrong = replace(found, bound_with_rotation=found.drive_minutes + 1)
    (violation,) = check_term(one, wrong)
    assert "with its rotation" in violation.text.lower()


def test_of_the_best_patterns_the_one_comes_first_that_costs_least_over_all_weeks() -> None:
    """Whatever the price is: here each timetable costs less than the one before, so the last one asked is first."""
    kinds, asked = two_letters(), list[tuple[StandingSession, ...]]()

    def price(sessions: Sequence[StandingSession]) -> int:
        asked.append(tuple(sessions))
        return -len(asked)

    found = rotated_timetable(kinds, price, seed=0, workers=1, effort=1.0, work=Work(), clock_left=lambda: 60.0)
    assert found is not None
    assert len(asked) > 1
    assert list(found.timetables) == asked[::-1]

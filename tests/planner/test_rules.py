"""One tiny problem for each rule: with the rule the plan must give way, without it it need not."""

from dataclasses import replace
from typing import Any

import pytest

from schedule.planner.problem import (
    Block,
    Day,
    Goal,
    Group,
    LongestStretch,
    Lunch,
    Pin,
    Place,
    Preparation,
    Problem,
    Session,
)
from schedule.planner.requirements import ProblemError
from schedule.planner.result import GoalFigures, ItemKind, Result, Status
from schedule.planner.solve import solve
from tests.planner.builders import NO_SAMENESS, at, service, tiny


def solved(problem: Problem) -> Result:
    """Solve with one worker; tiny problems take milliseconds."""
    return solve(problem, workers=1, time_limit=30.0)


def figures(problem: Problem) -> GoalFigures:
    """The figures of a tiny problem, all goals proved."""
    result = solved(problem)
    assert result.status is Status.OPTIMAL
    assert result.figures is not None
    return result.figures


def test_no_two_sessions_at_once() -> None:
    clash = tiny(service("x", at(500)), service("y", at(515)))
    apart = tiny(service("x", at(500)), service("y", at(530)))
    assert figures(clash).unplaced == 30
    assert figures(apart).unplaced == 0


def test_driving_takes_its_time() -> None:
    # x ends at 530; 10 minutes to drive: 540 is the first start that can be reached.
    late = tiny(service("x", at(500)), service("y", at(540, "b")))
    early = tiny(service("x", at(500)), service("y", at(539, "b")))
    assert figures(late).unplaced == 0
    assert figures(late).driving == 10
    assert figures(early).unplaced == 30


def test_packing_and_parking_take_their_time() -> None:
    places = (Place("a", leave_minutes=2), Place("b", arrive_minutes=3))
    problem = tiny(service("x", at(500)), service("y", at(544, "b")), places=places)
    assert figures(problem).unplaced == 30
    reachable = tiny(service("x", at(500)), service("y", at(545, "b")), places=places)
    assert figures(reachable).unplaced == 0
    assert figures(reachable).driving == 10


def test_drives_may_differ_by_direction() -> None:
    drives = {"a": {"b": 10}, "b": {"a": 25}}
    there = tiny(service("x", at(500)), service("y", at(540, "b")), drive_minutes=drives)
    back = tiny(service("x", at(500, "b")), service("y", at(540)), drive_minutes=drives)
    assert figures(there).unplaced == 0
    assert figures(back).unplaced == 30


def test_setting_up_between_sessions() -> None:
    problem = tiny(service("x", at(500)), service("y", at(533)))
    assert figures(problem).unplaced == 0
    assert figures(replace(problem, setup_minutes=3)).unplaced == 0
    assert figures(replace(problem, setup_minutes=4)).unplaced == 30


def test_the_day_begins_at_its_base() -> None:
    day = Day("mon", 480, 720, start_place="b")
    assert figures(tiny(service("x", at(489)), days=(day,))).unplaced == 30
    assert figures(tiny(service("x", at(490)), days=(day,))).driving == 10


def test_the_day_ends_at_its_base() -> None:
    day = Day("mon", 480, 720, end_place="b")
    assert figures(tiny(service("x", at(681)), days=(day,))).unplaced == 30
    assert figures(tiny(service("x", at(680)), days=(day,))).driving == 10


def test_sessions_stay_inside_the_contract_day() -> None:
    assert figures(tiny(service("x", at(479)))).unplaced == 30
    assert figures(tiny(service("x", at(691)))).unplaced == 30
    assert figures(tiny(service("x", at(690)))).unplaced == 0


def test_lunch_is_duty_free_and_not_while_driving() -> None:
    # 540-580 leaves 40 minutes: 10 to drive and 30 for lunch, not 31.
    sessions = (service("x", at(480, minutes=60)), service("y", at(580, "b", minutes=140)))
    for minutes, unplaced in ((30, 0), (31, 30)):
        day = Day("mon", 480, 720, lunch=Lunch(minutes, 530, 600))
        assert figures(tiny(*sessions, days=(day,))).unplaced == unplaced


def test_lunch_stays_inside_its_window() -> None:
    sessions = (service("x", at(480, minutes=60)), service("y", at(570, minutes=150)))
    inside = Day("mon", 480, 720, lunch=Lunch(30, 540, 570))
    later = Day("mon", 480, 720, lunch=Lunch(30, 545, 575))
    assert figures(tiny(*sessions, days=(inside,))).unplaced == 0
    assert figures(tiny(*sessions, days=(later,))).unplaced == 30


def test_a_block_is_a_fixed_visit() -> None:
    day = Day("mon", 480, 720, blocks=(Block(540, 570, "b", "Team meeting"),))
    assert figures(tiny(service("x", at(511)), days=(day,))).unplaced == 30
    fits = figures(tiny(service("x", at(500)), service("y", at(580)), days=(day,)))
    assert (fits.unplaced, fits.driving) == (0, 20)


def test_a_block_without_a_place_is_held_where_the_teacher_is() -> None:
    day = Day("mon", 480, 720, blocks=(Block(530, 540, None, "Call"),))
    result = figures(tiny(service("x", at(500)), service("y", at(550, "b")), days=(day,)))
    assert (result.unplaced, result.driving) == (0, 10)


def test_sessions_of_a_service_lie_days_apart() -> None:
    days = tuple(Day(name, 480, 720) for name in ("mon", "tue", "wed"))
    starts = (at(500), at(600), at(500, day="tue"), at(500, day="wed"))
    for apart, sessions, unplaced in ((0, 4, 0), (1, 3, 0), (1, 4, 30), (2, 2, 0), (2, 3, 30), (3, 2, 30)):
        problem = tiny(service("x", *starts, sessions=sessions, days_apart=apart), days=days)
        assert figures(problem).unplaced == unplaced, (apart, sessions)


def test_a_pin_stays() -> None:
    problem = tiny(service("x", at(500), at(600, "b")), service("y", at(500)))
    assert figures(problem).driving == 10
    pinned = replace(problem, pins=(Pin("x", "mon", 500),))
    result = solved(pinned)
    assert result.plan is not None
    assert [(one.unit, one.at) for one in result.plan.sessions] == [("x", 500)]
    assert result.figures is not None
    assert result.figures.unplaced == 30


def test_a_pin_without_its_place_leaves_all_places_open() -> None:
    """Either may be the better one: taking the first of the file would prove the best week of that one only."""
    unit, beside = service("x", at(500), at(500, "b")), service("y", at(540, "b"))
    for asked in (unit, replace(unit, starts=unit.starts[::-1])):
        assert figures(tiny(asked, beside, pins=(Pin("x", "mon", 500),))).driving == 0
    driving = {place: figures(tiny(unit, beside, pins=(Pin("x", "mon", 500, place),))).driving for place in "ab"}
    assert driving == {"a": 10, "b": 0}


def test_a_pin_without_its_place_leaves_nothing_unplaced_that_another_place_would_place() -> None:
    """In North School the session of South School at 9:00 can't be reached; pinned to 8:20 alone, it can."""
    unit, beside = service("x", at(500), at(500, "b")), service("y", at(530, "b"))
    result = solved(tiny(unit, beside, pins=(Pin("x", "mon", 500),)))
    assert result.status is Status.OPTIMAL
    assert result.figures is not None
    assert result.figures.unplaced == 0
    assert figures(tiny(unit, beside, pins=(Pin("x", "mon", 500, "a"),))).unplaced == 30


def test_a_pin_without_its_length_leaves_the_shorter_one_open() -> None:
    """A session of an hour in the hall or half an hour in the gym: only the gym leaves time for the next."""
    unit = service("x", at(500, space="hall", minutes=60), at(500, space="gym"))
    result = solved(tiny(unit, service("y", at(530)), pins=(Pin("x", "mon", 500, "a"),)))
    assert result.plan is not None
    assert [(one.unit, one.space, one.minutes) for one in result.plan.sessions] == [
        ("x", "gym", 30),
        ("y", None, 30),
    ]


def test_an_open_pin_keeps_the_place_of_the_week_in_force() -> None:
    current = (Session("x", "mon", 500, "b"),)
    problem = tiny(service("x", at(500), at(500, "b")), pins=(Pin("x", "mon", 500),), current=current)
    assert figures(problem).change == 0


@pytest.mark.parametrize(("in_force", "space"), [(None, "gym"), ("hall", "hall"), ("attic", "gym")])
def test_a_pin_without_a_space_keeps_the_one_of_the_week_in_force(in_force: str | None, space: str) -> None:
    """Spaces of one building cost the same, so any of them makes a best week."""
    current = None if in_force is None else (Session("x", "mon", 500, "a", in_force),)
    starts = (at(500, space="gym"), at(500, space="hall"))
    problem = tiny(service("x", *starts), pins=(Pin("x", "mon", 500),), current=current)
    assert problem.pins == (Pin("x", "mon", 500, "a", space),)
    plan = solved(problem).plan
    assert plan is not None
    assert [one.space for one in plan.sessions] == [space]


def test_what_is_granted_later_leaves_a_pin_where_it_is() -> None:
    """A problem made from this one may have more starts; the pin was completed before."""
    problem = tiny(service("x", at(500)), pins=(Pin("x", "mon", 500),))
    more = replace(problem, services=(service("x", at(500, "b"), at(500)),))
    assert more.pins == (Pin("x", "mon", 500, "a"),)


def test_a_group_covers_one_session_of_each_member() -> None:
    alone = tiny(service("x", at(500)), service("y", at(500)))
    assert figures(alone).unplaced == 30
    group = Group("g", ("x", "y"), 30, (at(500),), "Two together")
    result = solved(replace(alone, groups=(group,)))
    assert result.figures is not None
    assert result.figures.unplaced == 0
    assert [(formed.group, formed.members) for formed in result.groups] == [("g", ("x", "y"))]


def test_a_group_counts_for_each_members_day() -> None:
    group = Group("g", ("x", "y"), 30, (at(500),))
    problem = tiny(service("x", at(600), sessions=2), service("y"), groups=(group,))
    assert figures(problem).unplaced == 30


def test_a_shorter_period_may_shorten_a_session() -> None:
    short = tiny(service("x", at(500, minutes=20)), service("y", at(520)))
    assert figures(short).unplaced == 0
    assert figures(tiny(service("x", at(500)), service("y", at(520)))).unplaced == 30


def test_the_heavier_minutes_are_placed_first() -> None:
    problem = tiny(service("x", at(500), minutes=30), service("y", at(500), minutes=20, weight=2))
    assert figures(problem).unplaced == 30


def test_preparation_of_a_day_is_a_wish_before_driving() -> None:
    # At b at 520 the morning leaves 40 + 170 minutes, at a at 510 30 + 180; only pieces of 40 count.
    day = Day("mon", 480, 720, preparation_minutes=210)
    starts = (at(510), at(520, "b"))
    problem = tiny(service("x", *starts), days=(replace(day, start_place="a"),))
    problem = replace(problem, preparation=Preparation(0, 30))
    assert figures(problem) == GoalFigures(0, 0, 0, 0, 0)
    assert figures(replace(problem, preparation=Preparation(0, 35))).wishes == 30


def test_preparation_of_the_horizon_counts_only_whole_blocks() -> None:
    # Texas Education Code 21.404: 450 minutes of planning in two weeks, each block at least 45.
    # Five blocks of 90 pass; alternating 50 and 40 fails: the 40s don't count.
    days = tuple(Day(f"d{n}", 480, 480 + (90 if n % 2 else 1)) for n in range(10))
    passing = tiny(days=days, preparation=Preparation(450, 45))
    assert figures(passing).wishes == 0
    short = tuple(Day(f"d{n}", 480, 480 + (50 if n % 2 else 40)) for n in range(10))
    assert figures(tiny(days=short, preparation=Preparation(450, 45))).wishes == 450 - 5 * 50


def test_a_long_stretch_is_a_wish() -> None:
    sessions = (service("x", at(500)), service("y", at(530)), service("z", at(560), at(600)))
    problem = tiny(*sessions, longest_stretch=LongestStretch(60, 10))
    result = solved(problem)
    assert result.plan is not None
    assert result.figures is not None
    assert result.figures.wishes == 0
    assert [one.at for one in result.plan.sessions] == [500, 530, 600]
    crowded = tiny(*sessions[:2], service("z", at(560)), longest_stretch=LongestStretch(60, 10))
    assert figures(crowded).wishes == 30


def test_sessions_of_the_week_in_force_stay_unless_driving_comes_first() -> None:
    current = (Session("x", "mon", 560, "a"),)
    problem = tiny(service("x", at(500), at(560)), current=current)
    result = solved(problem)
    assert result.plan is not None
    assert [one.at for one in result.plan.sessions] == [560]
    away = (Session("x", "mon", 560, "b"),)
    staying = tiny(service("x", at(500), at(560, "b")), service("y", at(600)), current=away)
    assert (figures(staying).change, figures(staying).driving) == (0, 10)
    driving = replace(staying, goals=(Goal.UNPLACED, Goal.DRIVING, Goal.CHANGE, Goal.WISHES))
    assert (figures(driving).change, figures(driving).driving) == (1, 0)


def test_sameness_prefers_the_usual_time() -> None:
    goals = (*NO_SAMENESS, Goal.SAMENESS)
    starts = (at(500, pattern_key="Mon"), at(560, pattern_key="Mon"), at(620, pattern_key="Mon"))
    problem = tiny(service("x", *starts, usual=(("Mon", 565),)), goals=goals)
    result = solved(problem)
    assert result.plan is not None
    assert result.figures is not None
    assert [one.at for one in result.plan.sessions] == [560]
    assert result.figures.sameness == 5


def test_sameness_spreads_sessions_over_the_days() -> None:
    days = tuple(Day(name, 480, 720) for name in ("mon", "tue", "wed", "thu"))
    starts = tuple(at(500, day=day.id) for day in days[:3])
    problem = tiny(service("x", *starts, sessions=2), days=days, goals=(*NO_SAMENESS, Goal.SAMENESS))
    result = solved(problem)
    assert result.plan is not None
    assert {one.day for one in result.plan.sessions} == {"mon", "wed"}
    assert result.status is Status.OPTIMAL


def test_pins_that_break_lunch_are_infeasible_in_words() -> None:
    day = Day("mon", 480, 555, "Monday", lunch=Lunch(30, 480, 555))
    problem = tiny(service("x", at(500)), days=(day,), pins=(Pin("x", "mon", 500),))
    result = solved(problem)
    assert result.status is Status.INFEASIBLE
    assert result.plan is None
    assert "Monday" in result.message


@pytest.mark.parametrize("detour", [10, 5])
def test_pins_that_no_drive_joins_are_proved_infeasible_on_any_roads(detour: int) -> None:
    """20 minutes from a to b, 5 or 10 by way of c: no session stands in c, so that no way is quick enough."""
    places, pins = (Place("a"), Place("b"), Place("c")), (Pin("x", "mon", 500), Pin("y", "mon", 540))
    result = solved(
        tiny(service("x", at(500)), service("y", at(540, "b")), pins=pins, **_roads(detour), places=places)
    )
    assert result.status is Status.INFEASIBLE
    assert "can't all be kept on Monday" in result.message


def _roads(detour: int) -> dict[str, Any]:
    far = {"a": {"b": 90, "c": detour // 2}, "b": {"a": 90, "c": detour // 2}}
    return {"drive_minutes": {**far, "c": {"a": detour // 2, "b": detour // 2}}}


def test_pins_that_only_a_visit_between_them_joins_are_kept() -> None:
    """A table in which the way by a third place is quicker: with a session there both pins can be kept."""
    places, pins = (Place("a"), Place("b"), Place("c")), (Pin("x", "mon", 500), Pin("y", "mon", 580, "b"))
    between = service("z", at(540, "c"))
    result = solved(
        tiny(service("x", at(500)), service("y", at(580, "b")), between, pins=pins, places=places, **_roads(10))
    )
    assert result.status is Status.OPTIMAL
    assert result.plan is not None
    assert [one.unit for one in result.plan.sessions] == ["x", "z", "y"]


def test_what_a_detour_might_join_is_not_called_impossible() -> None:
    """Pins on both days take all that is owed of z: no way is found, and nothing is claimed of others."""
    places = (Place("a"), Place("b"), Place("c"))
    pins = (Pin("x", "mon", 500), Pin("y", "mon", 580, "b"), Pin("u", "tue", 500), Pin("v", "tue", 580, "b"))
    units = [service(name, at(500, day=day)) for name, day in (("x", "mon"), ("u", "tue"))]
    units += [service(name, at(580, "b", day=day)) for name, day in (("y", "mon"), ("v", "tue"))]
    between = service("z", at(540, "c"), at(540, "c", day="tue"))
    days = (Day("mon", 480, 720, "Monday"), Day("tue", 480, 720, "Tuesday"))
    result = solved(tiny(*units, between, pins=pins, places=places, days=days, **_roads(10)))
    assert result.status is Status.UNKNOWN
    assert "it isn't proved that there is none" in result.message


def test_pins_too_close_together_are_infeasible_in_words() -> None:
    pins = (Pin("x", "mon", 500), Pin("x", "mon", 600))
    result = solved(tiny(service("x", at(500), at(600), sessions=2, label="Class 4"), pins=pins))
    assert result.status is Status.INFEASIBLE
    assert "Class 4" in result.message


def test_a_proven_plan_holds_breaks_only_where_they_are_counted() -> None:
    day = Day("mon", 480, 720, lunch=Lunch(30, 600, 660))
    result = solved(tiny(service("x", at(500)), service("y", at(560, "b")), days=(day,)))
    assert result.plan is not None
    kinds = [item.kind for item in result.plan.days[0].items]
    assert kinds.count(ItemKind.LUNCH) == 1
    assert kinds.count(ItemKind.DRIVE) == 1
    assert kinds.count(ItemKind.SESSION) == 2


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"goals": (Goal.DRIVING, Goal.UNPLACED)}, "goals"),
        ({"goals": (Goal.UNPLACED, Goal.UNPLACED)}, "goals"),
        ({"drive_minutes": {"a": {}, "b": {"a": 1}}}, "drive_minutes[a][b]"),
        ({"days": ()}, "days"),
        ({"pins": (Pin("x", "mon", 501),)}, "pins[x]"),
        ({"pins": (Pin("nobody", "mon", 500),)}, "pins[nobody]"),
        ({"groups": (Group("g", ("nobody",), 30),)}, "g.members"),
        ({"places": (Place("a"), Place("a"))}, "places"),
    ],
)
def test_a_problem_that_contradicts_itself_names_the_field(changes: dict[str, object], field: str) -> None:
    with pytest.raises(ProblemError) as caught:
        tiny(service("x", at(500)), **changes)
    assert caught.value.field == field
    assert caught.value.remedy

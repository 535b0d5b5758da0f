"""Timing a day that a person arranged: drives, lunch, setting up; the judge must accept what can be driven."""

from dataclasses import replace

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.check import check
from schedule.planner.problem import Block, Day, Lunch, Place, Problem, Service, Session, Start
from schedule.planner.result import ItemKind
from schedule.planner.solve import solve
from schedule.planner.week.layout import build_model
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import state_of
from schedule.weeks.timing import time_week


def problem(*starts: Start, setup: int = 5, blocks: tuple[Block, ...] = ()) -> Problem:
    day = Day("d1", 480, 900, lunch=Lunch(30, 645, 810), blocks=blocks, start_place="N", end_place="N")
    return Problem(
        places=(Place("N", arrive_minutes=5, leave_minutes=3), Place("S", arrive_minutes=5, leave_minutes=3)),
        drive_minutes={"N": {"S": 12}, "S": {"N": 14}},
        days=(day,),
        services=(Service("a", 30, 9, starts, days_apart=0),),
        setup_minutes=setup,
    )


def held(*starts: Start) -> list[Session]:
    return [Session("a", one.day, one.at, one.place, minutes=30) for one in starts]


def test_a_drive_takes_packing_driving_and_signing_in() -> None:
    starts = (Start("d1", 510, "N"), Start("d1", 600, "S"))
    asked = problem(*starts)
    plan = time_week(asked, held(*starts))
    drives = plan.days[0].of_kind(ItemKind.DRIVE)
    assert [(one.place, one.to_place, one.end - one.start, one.drive_minutes) for one in drives] == [
        ("N", "S", 3 + 12 + 5, 12),
        ("S", "N", 3 + 14 + 5, 14),
    ]
    assert check(asked, plan).violations == ()


def test_a_drive_that_does_not_fit_is_said_by_the_judge() -> None:
    # From 9:00 to 9:20 there are 20 minutes: the drive takes all of them, setting up has none.
    starts = (Start("d1", 510, "N"), Start("d1", 560, "S"))
    asked = problem(*starts)
    rules = {one.rule for one in check(asked, time_week(asked, held(*starts))).violations}
    assert "time to set up" in rules
    without = problem(*starts, setup=0)
    assert check(without, time_week(without, held(*starts))).violations == ()


def test_lunch_is_left_out_where_no_gap_holds_it() -> None:
    starts = tuple(Start("d1", at, "N") for at in (640, 680, 720, 760, 800))
    asked = problem(*starts)
    plan = time_week(asked, held(*starts))
    assert plan.days[0].of_kind(ItemKind.LUNCH) == ()
    assert [one.rule for one in check(asked, plan).violations] == ["lunch is kept"]


def test_a_meeting_without_a_place_is_where_the_teacher_is() -> None:
    starts = (Start("d1", 510, "S"),)
    asked = problem(*starts, blocks=(Block(560, 590, None, "Call"),))
    plan = time_week(asked, held(*starts))
    assert [one.place for one in plan.days[0].of_kind(ItemKind.BLOCK)] == ["S"]
    assert check(asked, plan).violations == ()


def test_an_empty_day_still_has_lunch() -> None:
    asked = problem(Start("d1", 510, "N"))
    plan = time_week(asked, [])
    assert len(plan.days[0].of_kind(ItemKind.LUNCH)) == 1
    assert check(asked, plan).violations == ()


def test_a_move_by_hand_holds_wherever_the_search_could_place_it() -> None:
    """Two independent ways to time a day: re-timing by hand and the search's own routes; the judge decides."""
    asked = replace(generate_week(WeekShape(12, 4, 3, 5), 4), pins=())
    result = solve(asked, workers=1)
    assert result.plan is not None
    driving = check(asked, result.plan).figures.driving
    held = refused = 0
    for moving in result.plan.sessions[:4]:
        rest = [one for one in result.plan.sessions if one != moving]
        state = state_of(build_model(asked), time_week(asked, rest))
        assert state is not None
        for start in asked.unit(moving.unit).starts:
            tried = Session(moving.unit, start.day, start.at, start.place, start.space)
            verdict = check(asked, time_week(asked, [*rest, tried]))
            added = added_driving(state, tried)
            assert verdict.holds == (added is not None), (moving, start)
            if added is not None:
                before = sum(route.drive for route in state.routes)
                assert verdict.figures.driving == before + added
            held, refused = held + verdict.holds, refused + (not verdict.holds)
    assert held > 4
    assert refused > 4
    assert check(asked, time_week(asked, result.plan.sessions)).figures.driving == driving


def added_driving(state: WeekState, tried: Session) -> int | None:
    """Minutes at the wheel that the search would add for a session, or ``None`` where it can't place it."""
    day = state.model.problem.day_index(tried.day)
    for number, node in enumerate(state.model.days[day].nodes):
        if (node.unit, node.start) == (tried.unit, tried.at) and state.model.place_ids[node.place] == tried.place:
            option = state.option(day, number)
            return None if option is None else option.route.drive - state.routes[day].drive
    return None

"""What a page needs: re-timing after a move by hand, broken rules in words, legal starts."""

from dataclasses import replace

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.check import check
from schedule.planner.edits import Move, day_timeline, evaluate_edit, place_options, plan_from_sessions
from schedule.planner.problem import Day, Lunch, ProblemError, Session
from schedule.planner.result import ItemKind, Plan
from schedule.planner.solve import solve
from tests.planner.builders import at, service, tiny

DAY = Day("mon", 480, 720, "Monday", lunch=Lunch(30, 540, 680))
PROBLEM = tiny(service("x", at(500), at(600)), service("y", at(540, "b"), at(620, "b")), days=(DAY,))


def planned() -> Plan:
    """The best plan of the little problem."""
    result = solve(PROBLEM, workers=1)
    assert result.plan is not None
    return result.plan


def test_a_legal_move_is_retimed_and_breaks_nothing() -> None:
    plan = planned()
    old = next(one for one in plan.sessions if one.unit == "x")
    other = 600 if old.at == 500 else 500
    free = [one.session for one in place_options(PROBLEM, plan, "x", old)]
    edited = evaluate_edit(PROBLEM, plan, Move(old, replace(old, at=other)))
    assert edited.verdict.holds == any(one.at == other for one in free)
    assert [one.at for one in edited.plan.sessions if one.unit == "x"] == [other]


def test_an_illegal_move_says_which_rules_it_breaks() -> None:
    plan = planned()
    old = next(one for one in plan.sessions if one.unit == "y")
    edited = evaluate_edit(PROBLEM, plan, Move(old, replace(old, at=505)))
    broken = {violation.rule for violation in edited.verdict.violations}
    assert {"one thing at a time", "only at its starts"} <= broken
    assert all(violation.text.endswith(".") for violation in edited.verdict.violations)


def test_taking_a_session_out_leaves_it_unplaced() -> None:
    plan = planned()
    old = next(one for one in plan.sessions if one.unit == "y")
    edited = evaluate_edit(PROBLEM, plan, Move(old))
    assert edited.verdict.holds
    assert edited.verdict.figures.unplaced == 30
    assert edited.added_drive == -10


def test_a_day_without_room_for_lunch_says_so() -> None:
    sessions = [Session("x", "mon", minute, "a", minutes=60) for minute in (500, 560, 620)]
    timed, broken = day_timeline(PROBLEM, "mon", sessions)
    assert "lunch is kept" in {violation.rule for violation in broken}
    assert len(timed.of_kind(ItemKind.SESSION)) == 3


def test_options_are_exactly_the_starts_that_the_judge_lets_pass() -> None:
    problem = generate_week(WeekShape(12, 4, 3, 5), 4)
    result = solve(problem, workers=1)
    assert result.plan is not None
    moving = result.plan.sessions[0]
    options = place_options(problem, result.plan, moving.unit, moving)
    offered = {(one.session.day, one.session.at): one.added_drive for one in options}
    assert (moving.day, moving.at) in offered
    rest = [one for one in result.plan.sessions if one != moving]
    for start in problem.services[[s.id for s in problem.services].index(moving.unit)].starts:
        tried = Session(moving.unit, start.day, start.at, start.place, start.space)
        verdict = check(problem, plan_from_sessions(problem, [*rest, tried]))
        assert verdict.holds == ((start.day, start.at) in offered)
        if verdict.holds:
            added = verdict.figures.driving - check(problem, result.plan).figures.driving
            assert added == offered[start.day, start.at]


def test_an_unknown_service_is_refused() -> None:
    with pytest.raises(ProblemError):
        place_options(PROBLEM, planned(), "nobody")

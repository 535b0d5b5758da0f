"""A rough day made exact: every session that can be held with lunch is held, in the order that drives least."""

from dataclasses import replace

from schedule.planner.assign.pricing import week_of
from schedule.planner.assign.timing import RoughDay, Timing
from schedule.planner.days import Lunch
from schedule.planner.problem import Problem
from tests.planner.assign.builders import day, district, owed, teacher


def a_full_morning(lunch: Lunch) -> Problem:
    """Four sessions at school A, two at B and one at C on the way home, all on one day."""
    ames = replace(teacher("ames", "home c"), days=(day("mon", "home c", end=900, lunch=lunch),))
    asked = [*(owed(f"a{n}", "a") for n in range(4)), owed("b0", "b"), owed("b1", "b"), owed("c0", "c")]
    question = district(*asked, teachers=(ames,))
    question = replace(question, sites=tuple(replace(one, closes=840) for one in question.sites))
    return week_of(question, ames, question.services)


def test_lunch_in_the_middle_moves_what_comes_after_it() -> None:
    """Lunch from 10:30, over by noon; without it the sessions would be back to back until noon.

    35 + 10 + 15 + 10 minutes of driving are the road to A, then back by B and C: no building is come back to.
    """
    found = Timing(a_full_morning(Lunch(30, 630, 720))).week(
        [RoughDay(("a", "b", "c"), ("a0", "a1", "a2", "a3", "b0", "b1", "c0"))]
    )
    assert found is not None
    assert (found.figures.unplaced, found.figures.driving) == (0, 70)


def test_lunch_before_the_first_session() -> None:
    """Lunch must be over by 9:10: it is had first, and everything after it."""
    found = Timing(a_full_morning(Lunch(30, 480, 550))).week(
        [RoughDay(("a", "b", "c"), ("a0", "a1", "a2", "a3", "b0", "b1", "c0"))]
    )
    assert found is not None
    assert (found.figures.unplaced, found.figures.driving) == (0, 70)

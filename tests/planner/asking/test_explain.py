"""Reasons in plain words for what was not placed, whom to ask, and requests that come true."""

from dataclasses import replace

from schedule.planner.problem import Barred, Block, Day, Pin, Problem, Start
from schedule.planner.result import Unplaced
from schedule.planner.solve import solve
from tests.planner.builders import at, service, tiny


def explained(problem: Problem, name: str) -> Unplaced:
    """The entry for one service."""
    result = solve(problem, workers=1)
    return next(one for one in result.unplaced if one.service == name)


def gym() -> Problem:
    """The gym of South School is free only while the teacher is kept at North School until 9:50."""
    barred = Barred("mon", 660, "b", "space-in-use", "the gym is in use by grade 3", "the principal of South")
    worse = Barred("mon", 470, "b", "space-in-use", "the gym is closed", "the caretaker")
    return tiny(
        service("x", at(560), label="Class 1"),
        service("y", at(570, "b"), label="Class 2", barred=(worse, barred)),
        pins=(Pin("x", "mon", 560),),
    )


def test_the_session_in_the_way_is_named() -> None:
    entry = explained(gym(), "y")
    assert entry.sentence == (
        "1 session of 30 minutes of Class 2 could not be placed: its only other start is "
        "Monday at 9:30 at South School, when you are at North School with Class 1 until 9:50."
    )


def test_the_cheapest_request_is_true() -> None:
    problem = gym()
    entry = explained(problem, "y")
    request = entry.request
    assert request is not None
    assert (request.at, request.ask, request.added_drive) == (660, "the principal of South", 10)
    assert entry.ask[0] == "the principal of South"
    y = problem.services[1]
    freed = replace(y, starts=(*y.starts, Start(request.day, request.at, request.place)))
    granted = solve(replace(problem, services=(problem.services[0], freed)), workers=1)
    assert granted.figures is not None
    assert granted.figures.unplaced == 0
    assert granted.figures.driving == request.added_drive


def test_the_drive_before_is_named() -> None:
    problem = tiny(service("x", at(500)), service("y", at(535, "b")), pins=(Pin("x", "mon", 500),))
    reason = explained(problem, "y").reasons[0]
    assert reason.code == "drive-before"
    assert "from North School until 8:50" in reason.text
    assert "before 9:00" in reason.text


def test_the_drive_after_is_named() -> None:
    problem = tiny(service("x", at(535)), service("y", at(500, "b")), pins=(Pin("x", "mon", 535),))
    reason = explained(problem, "y").reasons[0]
    assert reason.code == "drive-after"
    assert "before 9:00" in reason.text


def test_a_block_is_named() -> None:
    day = Day("mon", 480, 720, "Monday", blocks=(Block(500, 560, "a", "Team meeting"),))
    problem = tiny(service("x", at(490), at(520)), days=(day,))
    assert "Team meeting" in explained(problem, "x").sentence


def test_a_day_that_is_used_is_named() -> None:
    entry = explained(tiny(service("x", at(500), at(600), sessions=2)), "x")
    assert {reason.code for reason in entry.reasons} == {"day-used"}


def test_nothing_is_explained_where_all_is_placed() -> None:
    assert solve(tiny(service("x", at(500))), workers=1).unplaced == ()

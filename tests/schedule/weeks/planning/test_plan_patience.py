"""A search that goes on until everything is placed: what counts as its time, what ends it, what it says."""

from dataclasses import replace
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command

from accounts.errors import ApplicationError
from caseload.plans.models import ServiceLine
from jobs.models import Job
from schedule.calendar.models import SpaceFreeTime
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import Result, Status
from schedule.planner.solve import solve
from schedule.weeks.data import GoalFigure
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.weeks import week_detail
from schedule.weeks.services.patience import patience
from schedule.weeks.services.runs import plan_run_start
from schedule.weeks.summary import placing_words
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line


class Hand:
    """A clock that is set by hand."""

    def __init__(self, now: float) -> None:
        self.now = now

    def __call__(self) -> float:
        return self.now


def test_time_that_the_machine_gives_to_others_is_not_counted() -> None:
    passed, worked = Hand(1000.0), Hand(7.0)
    given = patience(lambda: False, 600, passed=passed, worked=worked)
    passed.now, worked.now = 1040.0, 17.0
    assert given.clock() == 10.0
    # Two processors at work count once.
    worked.now = 87.0
    assert given.clock() == 40.0


def test_a_search_ends_after_the_longest_wait_and_when_it_is_told_to() -> None:
    passed, told = Hand(0.0), False
    given = patience(lambda: told, 600, passed=passed, worked=Hand(0.0))
    passed.now = 599.0
    assert not given.stop()
    told = True
    assert given.stop()
    told, passed.now = False, 600.0
    assert given.stop()


def test_a_usual_search_has_its_own_seconds_only() -> None:
    passed = Hand(5.0)
    given = patience(lambda: False, passed=passed, worked=Hand(0.0))
    passed.now = 9000.0
    assert (given.clock(), given.stop(), given.placing_limit) == (9000.0, False, 0.0)


def command(cast: Cast, **options: object) -> str:
    """What the command says on the way."""
    said = StringIO()
    call_command(
        "plan_week", teacher="teacher", monday=MONDAY, time_limit=1, stdout=StringIO(), stderr=said, **options
    )
    return said.getvalue()


def test_the_command_says_what_it_does_and_how_it_ended(cast: Cast) -> None:
    make_ground(cast)
    said = command(cast, until_placed=True)
    assert "This goes on until everything owed is placed" in said
    assert "13 minutes at most" in said
    assert "Everything owed is placed." in said
    assert Job.objects.get().payload["until_placed"] is True


def test_what_has_no_place_is_proved_and_said(cast: Cast) -> None:
    too_little_room(cast)
    said = command(cast, until_placed=True)
    assert "30 owed minutes have no place, and it is proved that no week places more." in said


def cut_before_proof(problem: Problem, **how: Any) -> Result:
    """A search that the clock ended before it was known that no week places more."""
    result = solve(problem, **how)
    stages = (
        replace(one, bound=0, status=Status.FEASIBLE) if one.goal is Goal.UNPLACED else one for one in result.stages
    )
    return replace(result, stages=tuple(stages), status=Status.FEASIBLE)


def too_little_room(cast: Cast) -> None:
    """Two one-to-one services, one time at which the gym is free."""
    make_ground(cast)
    SpaceFreeTime.objects.create(space=cast.gym, days="Mon", start=at("9:20"), end=at("9:50"))
    ServiceLine.objects.filter(pk=cast.line.pk).update(times=1, statement="1 x 30 min/week")
    make_line(cast, "K1", setting="one_to_one", largest_group=1)


def test_a_week_whose_open_minutes_could_have_a_place_is_not_published(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    too_little_room(cast)
    monkeypatch.setattr("schedule.weeks.services.runs.solve", cut_before_proof)
    said = command(cast)
    assert WeekPlan.objects.get().status == WeekPlan.Status.DRAFT
    assert f"The week of {MONDAY} is left a draft and not published: up to 30 owed minutes" in said
    assert "--publish-anyway" in said
    command(cast, publish_anyway=True)
    assert WeekPlan.objects.filter(status=WeekPlan.Status.PUBLISHED).count() == 1


def test_a_week_that_places_all_that_any_week_can_is_published(cast: Cast) -> None:
    too_little_room(cast)
    assert "left a draft" not in command(cast)
    assert WeekPlan.objects.get().status == WeekPlan.Status.PUBLISHED


def test_a_usual_run_says_nothing_of_that(cast: Cast) -> None:
    make_ground(cast)
    assert "until everything" not in command(cast)


def test_one_week_at_a_time(cast: Cast) -> None:
    make_ground(cast)
    with pytest.raises(ApplicationError) as caught:
        plan_run_start(
            actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=date(11), until_placed=True
        )
    assert caught.value.code == "one_week"
    assert not Job.objects.exists()


def test_an_end_without_proof_says_how_long_it_looked(cast: Cast) -> None:
    make_ground(cast)
    command(cast)
    detail = week_detail(cast.teacher, WeekPlan.objects.get())
    figure = GoalFigure(Goal.UNPLACED, "Owed minutes not placed", 30, 0, "feasible")
    words = placing_words(replace(detail, minutes_placed=detail.minutes_owed - 30, goals=(figure,)), 13)
    assert words.startswith("The search was ended after 13 minutes")
    assert "30 owed minutes have no place" in words
    assert "proved" not in words

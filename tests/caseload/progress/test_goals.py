"""Which goals hold on a day, when data were taken on each, and what a goal's row refuses."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from caseload.progress.models import DataPoint, StudentGoal
from caseload.progress.selectors import goals_of, last_taken
from tests.caseload.progress.builders import END, START, make_goal, make_point
from tests.conftest import Cast

DAY = dt.date(2026, 11, 30)


def test_goals_of_a_day_are_those_begun_and_not_ended(cast: Cast) -> None:
    """By student; one that ended early is out from the day after."""
    goal = make_goal(cast.student)
    ended = make_goal(cast.student, ended_on=DAY)
    make_goal(cast.student, start=DAY + dt.timedelta(days=1))
    others = make_goal(cast.mates_student)
    both = [cast.student.pk, cast.mates_student.pk]
    assert goals_of(both, day=DAY) == {cast.student.pk: (goal, ended), cast.mates_student.pk: (others,)}
    assert goals_of(both, day=DAY + dt.timedelta(days=2))[cast.student.pk][0] == goal
    assert ended not in goals_of(both, day=DAY + dt.timedelta(days=1))[cast.student.pk]
    assert goals_of(both, day=END + dt.timedelta(days=1)) == {}
    assert goals_of(both, day=START - dt.timedelta(days=1)) == {}


def test_last_taken_counts_objectives_and_not_what_was_taken_back(cast: Cast) -> None:
    """Data on an objective are data on its goal; a goal without data is not among them."""
    goal, bare = make_goal(cast.student), make_goal(cast.student)
    objective = make_goal(cast.student, parent=goal)
    make_point(goal, DAY, 2, cast.teacher)
    make_point(objective, DAY + dt.timedelta(days=3), 2, cast.teacher)
    undone = {"undone_at": timezone.now(), "undone_by": cast.teacher}
    make_point(goal, DAY + dt.timedelta(days=9), 2, cast.teacher, **undone)
    later = DAY + dt.timedelta(days=3)
    assert last_taken([goal.pk, objective.pk, bare.pk]) == {goal.pk: later, objective.pk: later}
    assert last_taken([goal.pk]) == {goal.pk: later}


def test_who_sees_a_student_sees_the_goals_and_data(cast: Cast) -> None:
    """The caseload's teacher and the coordinator; not another teacher, an office, a stranger."""
    goal = make_goal(cast.student)
    point = make_point(goal, DAY, 2, cast.teacher)
    for viewer in (cast.teacher, cast.coordinator):
        assert list(StudentGoal.objects.visible_to(viewer)) == [goal]
        assert list(DataPoint.objects.visible_to(viewer)) == [point]
    for viewer in (cast.mate, cast.office, cast.substitute, cast.stranger):
        assert not StudentGoal.objects.visible_to(viewer).exists()
        assert not DataPoint.objects.visible_to(viewer).exists()


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"trials": None}, "trials"),
        ({"criterion": 6}, "criterion"),
        ({"measure": "percent", "criterion": 101}, "criterion"),
        ({"measure": "distance"}, "distance_unit"),
        ({"measure": "rubric", "levels": "Alone"}, "levels"),
        ({"measure": "prompt", "criterion": 7}, "criterion"),
        ({"sessions": 4, "sessions_of": 3}, "sessions_of"),
        ({"ended_on": START - dt.timedelta(days=1)}, "ended_on"),
        ({"end": START - dt.timedelta(days=1)}, "__all__"),
    ],
)
def test_what_does_not_go_together_is_refused_at_its_field(cast: Cast, values: dict[str, Any], field: str) -> None:
    """Each with its remedy; nothing else is blamed."""
    row = StudentGoal(
        student=cast.student,
        text="Catch a bounced ball in 4 of 5 trials.",
        **{"measure": "trials", "trials": 5, "criterion": 4, "start": START, "end": END, **values},
    )
    with pytest.raises(ValidationError) as refused:
        row.full_clean()
    assert set(refused.value.message_dict) == {field}


def test_an_objective_stands_under_its_own_students_goal(cast: Cast) -> None:
    """Not under another student's, and not under an objective."""
    goal, others = make_goal(cast.student), make_goal(cast.mates_student)
    objective = make_goal(cast.student, parent=goal)
    objective.full_clean()
    for wrong in (others, objective):
        row = StudentGoal(student=cast.student, text="Hop.", parent=wrong, start=START, end=END)
        with pytest.raises(ValidationError) as refused:
            row.full_clean()
        assert set(refused.value.message_dict) == {"parent"}


@pytest.mark.parametrize(("value", "marks"), [(6, ""), (3, "11011"), (3, "1101"), (3, "11x01")])
def test_trials_done_are_among_those_tried_and_marks_say_the_same(cast: Cast, value: int, marks: str) -> None:
    """What can't be is not kept."""
    row = make_point(make_goal(cast.student), DAY, 3, cast.teacher, marks="11010")
    row.full_clean()
    row.value, row.marks = Decimal(value), marks
    with pytest.raises(ValidationError):
        row.full_clean()

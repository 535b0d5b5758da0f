"""Tables of goals and of past data: read as typed, brought once, refused by row and column."""

import datetime as dt

import pytest

from caseload.progress.models import DataPoint, StudentGoal
from caseload.progress.selectors.goals import goal_words
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit, preview

OWN = [kind for kind in ALL if kind not in {"people", "goal-data"}]  # a teacher may not bring people
BEFORE = OWN[: OWN.index("goals") + 1]


@pytest.fixture
def teacher_goals(cast: Cast) -> Cast:
    """The small district with its goals."""
    for kind in BEFORE:
        commit(cast.teacher, kind, ALL[kind])
    return cast


def problems(cast: Cast, kind: str, text: str) -> list[tuple[int, str]]:
    """Row and column of each problem."""
    return [(one["row"], one["column"]) for one in preview(cast.teacher, kind, text).content["problems"]]


def test_goals_are_read_as_they_are_typed(teacher_goals: Cast) -> None:
    """What a column says counts instead; what can't be read is kept and waits."""
    first, under, unread, filled = StudentGoal.objects.order_by("student__code", "position")
    assert goal_words(first) == "at least 4 of 5 trials, in 3 sessions in a row"
    assert (under.parent, under.last_day) == (first, dt.date(2026, 11, 20))
    assert (unread.text, unread.measure) == ("Will enjoy moving with others", "")
    assert goal_words(filled) == "at least 6 laps, in 2 sessions in a row"


def test_past_data_are_brought_once(teacher_goals: Cast) -> None:
    """The same file again brings nothing new; two sets of one day are two points."""
    commit(teacher_goals.teacher, "goal-data", ALL["goal-data"])
    again = preview(teacher_goals.teacher, "goal-data", ALL["goal-data"])
    assert again.content["tallies"]["goal-data"] == {"new": 0, "changed": 0, "same": 3, "removed": 0}
    points = DataPoint.objects.filter(goal__student__code="K01")
    assert [(int(point.value), point.taken_by_name) for point in points] == [(2, ""), (3, "Bea Lund")]


def test_what_can_not_be_brought_is_said_by_row_and_column(teacher_goals: Cast) -> None:
    """A goal that isn't there, more than was tried, after its end, in the future, not measured yet."""
    head = "Student code,Goal number,Day,Seen,Of trials\n"
    assert problems(teacher_goals, "goal-data", f"{head}K01,9,2026-10-06,3,5\n") == [(2, "Goal number")]
    assert problems(teacher_goals, "goal-data", f"{head}K01,1,2026-10-06,6,5\n") == [(2, "Seen")]
    assert problems(teacher_goals, "goal-data", f"{head}K01,1,2100-10-06,3,5\n")[0][0] == 2
    for row in ("K01,2,2026-11-27,3,5", "K02,1,2026-10-06,3,"):
        assert [number for number, _ in problems(teacher_goals, "goal-data", f"{head}{row}\n")] == [2]
    assert not DataPoint.objects.exists()


def test_an_objective_names_a_goal_of_the_same_student(teacher_goals: Cast) -> None:
    """Else it is said at its column."""
    text = "Student code,Goal number,First day,Reached by,Goal,Under goal number\n"
    wrong = f"{text}K03,2,2026-09-08,2027-05-28,Will walk 3 laps,7\n"
    assert problems(teacher_goals, "goals", wrong) == [(2, "Under goal number")]

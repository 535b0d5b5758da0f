"""The figures of a week as lines of text."""

import datetime as dt
from decimal import Decimal

import pytest

from schedule.weeks.data import GoalFigure, UnplacedView, WeekDetail
from schedule.weeks.summary import goal_words, summary_lines


def week(*, unplaced: tuple[UnplacedView, ...] = ()) -> WeekDetail:
    """A published week with figures and nothing else."""
    moment = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
    return WeekDetail(
        week_id=1,
        teacher_id=1,
        teacher_name="Ola Tarn",
        monday=dt.date(2026, 11, 30),
        last_date=dt.date(2026, 12, 6),
        status="published",
        status_label="In force",
        version=2,
        revision=1,
        name="",
        published_by="",
        published_at=moment,
        created_by="",
        created_at=moment,
        based_on_id=None,
        days=(),
        places=(),
        unplaced=unplaced,
        goals=(GoalFigure("driving", "Drive minutes proved", 183, 171, "feasible"),),
        sessions_placed=41,
        minutes_placed=1320,
        minutes_owed=1380,
        drive_minutes=183,
        miles=Decimal("92.4"),
        broken=(),
        no_longer_fits=(),
        notes=(),
        changes=(),
        students_shown=True,
        may_edit=True,
        can_undo=False,
    )


def test_the_table_holds_what_was_placed_driven_and_proved() -> None:
    text = "\n".join(summary_lines(week()))
    for words in (
        "Week of Monday, November 30, 2026 (in force, version 2)",
        "1,320 of 1,380 owed",
        "92.4",
        "183, bound 171, gap 6.6 %, feasible",
        "Every owed session has its place.",
    ):
        assert words in text


def test_what_found_no_place_says_why_and_whom_to_ask() -> None:
    left = UnplacedView(
        id=1,
        line_id=1,
        code="S12",
        name="Ola Tarn",
        statement="2 x 30 min/week",
        sessions=2,
        minutes=60,
        reasons=("The gym is free in period 2 only.",),
        ask="Mr. Danquah, about the gym",
    )
    lines = summary_lines(week(unplaced=(left,)))
    assert lines[-3].strip() == "S12 (2 x 30 min/week): 2 sessions, 60 minutes."
    assert lines[-2].strip() == "The gym is free in period 2 only."
    assert lines[-1].strip() == "Ask Mr. Danquah, about the gym."
    assert "Ola" not in "".join(lines)


@pytest.mark.parametrize(
    ("goal", "words"),
    [
        (GoalFigure("driving", "", 0, 0, "optimal"), "0, bound 0, gap 0.0 %, optimal"),
        (GoalFigure("change", "", 1200, None, ""), "1,200"),
        (GoalFigure("driving", "", 200, 190, "feasible"), "200, bound 190, gap 5.0 %, feasible"),
    ],
)
def test_a_goal_says_what_is_proved_of_it(goal: GoalFigure, words: str) -> None:
    assert goal_words(goal) == words

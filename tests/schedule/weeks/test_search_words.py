"""The search in words. The sentences are our own, no source; the figures are those that are put in."""

import pytest

from schedule.planner.problem import Goal
from schedule.planner.result import GoalFigures, Stage, Status
from schedule.weeks.search_words import result_words, search_words

PLACED = GoalFigures(unplaced=0, wishes=35, driving=183, change=5, sameness=40)
LACKING = GoalFigures(unplaced=120, wishes=0, driving=90, change=0, sameness=0)


LOOKING = "Everything is placed. Looking for"
LEFT = "120 owed minutes have no place yet."
WHERE = f"{LOOKING} a week with less driving: 183 minutes now"
USUAL = f"{LOOKING} times nearer to the usual ones: 40 minutes away now"
WISHES = f"{LOOKING} a week nearer to your wishes (preparation, breaks): 35 minutes missed now"


@pytest.mark.parametrize(
    ("stage", "figures", "bound", "words"),
    [
        ("first plan", None, None, "Making a first week."),
        ("driving", PLACED, 127, f"{WHERE}; 56 more minutes of it could be saved at most."),
        ("driving", PLACED, None, f"{WHERE}."),
        ("driving", PLACED, 183, "Everything is placed. No week does better in driving."),
        ("unplaced", LACKING, 30, f"{LEFT} Looking for a place for them; 30 of them can't have one."),
        ("unplaced", LACKING, 120, f"{LEFT} It is proved that no week places more of them."),
        ("unplaced", LACKING, None, f"{LEFT} Looking for a place for them."),
        (
            "change",
            PLACED,
            2,
            f"{LOOKING} a week in which fewer sessions move: 5 moved now; 3 more could stay at most.",
        ),
        ("wishes", PLACED, 30, f"{WISHES}; 5 more minutes of them could be met at most."),
        (
            "sameness",
            PLACED,
            36,
            f"{USUAL}; 4 minutes nearer could be reached at most.",
        ),
        ("explain", LACKING, None, f"{LEFT} Working out why, and whom it would help to ask."),
    ],
)
def test_a_stage_is_said_with_what_it_means(
    stage: str, figures: GoalFigures | None, bound: int | None, words: str
) -> None:
    assert search_words(stage, figures, bound) == words


@pytest.mark.parametrize("stage", [*Goal, "search", "one day", "other order", "explain", "first plan"])
def test_no_word_of_the_solver_is_said(stage: str) -> None:
    said = search_words(stage, PLACED, 1).lower()
    assert not {"bound", "gap", "round", "column", "optimal", "feasible", "node"} & set(said.strip(".").split())


def test_a_finished_week_says_in_what_it_can_not_be_better() -> None:
    done = [Stage(goal, PLACED.of(goal), PLACED.of(goal), Status.OPTIMAL) for goal in Goal]
    assert result_words(done, PLACED) == "Everything owed is placed. No week does better."
    some = [Stage(Goal.UNPLACED, 0, 0, Status.OPTIMAL), Stage(Goal.DRIVING, 183, 127, Status.FEASIBLE)]
    assert result_words(some, PLACED) == (
        "Everything owed is placed. No week does better in minutes placed. In driving a better week may exist; the "
        "search ended before all were looked at."
    )

"""What the search for a week is doing and what that means, as a colleague would say it. Pure.

The search itself speaks of stages and bounds; its own line stays on the terminal and in the log.
"""

from collections.abc import Mapping, Sequence

from schedule.calendar.words import listed
from schedule.planner.problem import Goal
from schedule.planner.result import GoalFigures, Stage, Status

_SEEKING: Mapping[Goal, tuple[str, str, str]] = {
    Goal.WISHES: (
        "a week nearer to your wishes (preparation, breaks)", "minutes missed", "more minutes of them could be met",
    ),
    Goal.DRIVING: ("a week with less driving", "minutes", "more minutes of it could be saved"),
    Goal.CHANGE: ("a week in which fewer sessions move", "moved", "more could stay"),
    Goal.SAMENESS: ("times nearer to the usual ones", "minutes away", "minutes nearer could be reached"),
}  # fmt: skip
"""What is looked for, the unit of what the best week so far has, and what the rest of it at most would give."""
_GOALS: Mapping[Goal, str] = {
    Goal.UNPLACED: "minutes placed",
    Goal.WISHES: "your wishes",
    Goal.DRIVING: "driving",
    Goal.CHANGE: "sessions that stay",
    Goal.SAMENESS: "usual times",
}
_DOING: Mapping[str, str] = {
    "first plan": "Looking for better weeks.",
    "search": "Looking for better weeks.",
    "one day": "Working out the shortest way through the day.",
    "other order": "Working out what the other choice would give.",
}


def search_words(stage: str, figures: GoalFigures | None, bound: int | None) -> str:
    """One or two sentences on a stage of the search.

    ``figures`` are the best week's so far, in minutes (sessions for change); ``bound`` is what no week can go
    below in the stage's goal, ``None`` while nothing is known of that.
    """
    if figures is None:
        return "Making a first week."
    placed = _placed(figures)
    if stage == "explain":
        return f"{placed} Working out why, and whom it would help to ask." if figures.unplaced else placed
    if stage in _DOING:
        return f"{placed} {_DOING[stage]}"
    return f"{placed} {_sought(Goal(stage), figures, bound)}"


def _placed(figures: GoalFigures) -> str:
    if figures.unplaced == 0:
        return "Everything is placed."
    return f"{figures.unplaced} owed minutes have no place yet."


def _sought(goal: Goal, figures: GoalFigures, bound: int | None) -> str:
    value = figures.of(goal)
    if goal is Goal.UNPLACED:
        none = f"; {bound} of them can't have one" if bound else ""
        if value and bound is not None and bound >= value:
            return "It is proved that no week places more of them."
        return f"Looking for a place for them{none}." if value else "Still looking."
    what, unit, gain = _SEEKING[goal]
    if bound is not None and bound >= value:
        return f"No week does better in {_GOALS[goal]}."
    most = f"; {value - bound} {gain} at most" if bound is not None else ""
    return f"Looking for {what}: {value} {unit} now{most}."


def result_words(stages: Sequence[Stage], figures: GoalFigures) -> str:
    """What is known of a finished week: in what no other does better, and in what one still might."""
    opening = "Everything owed is placed." if figures.unplaced == 0 else "Some owed minutes are not placed."
    if all(one.status is Status.OPTIMAL for one in stages):
        return f"{opening} No week does better."
    known = [_GOALS[one.goal] for one in stages if one.status is Status.OPTIMAL]
    best = f" No week does better in {listed(known)}." if known else ""
    still = listed([_GOALS[one.goal] for one in stages if one.status is not Status.OPTIMAL])
    return f"{opening}{best} In {still} a better week may exist; the search ended before all were looked at."

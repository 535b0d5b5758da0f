"""A planned week in a few lines of text, for a terminal. Codes only, no names. Pure."""

import datetime as dt
from collections.abc import Iterator

from schedule.planner.problem import Goal
from schedule.weeks.data import GoalFigure, UnplacedView, WeekDetail


def summary_lines(week: WeekDetail) -> tuple[str, ...]:
    """The week's figures as a table, and what could not be placed with its reason."""
    rows = [
        ("Sessions placed", f"{week.sessions_placed:,}"),
        ("Minutes placed", f"{week.minutes_placed:,} of {week.minutes_owed:,} owed"),
        ("Drive minutes", f"{week.drive_minutes:,}"),
        ("Miles", f"{week.miles:,}"),
        *((goal.label, goal_words(goal)) for goal in week.goals),
    ]
    width = max(len(name) for name, _ in rows)
    version = f", version {week.version}" if week.version else ""
    monday = f"{week.monday:%A}, {week.monday:%B} {week.monday.day}, {week.monday.year}"
    head = f"Week of {monday} ({week.status_label.lower()}{version})"
    return (head, *(f"  {name:<{width}}  {value}" for name, value in rows), *_unplaced_lines(week.unplaced))


def placing_words(week: WeekDetail, longest: int) -> str:
    """How a search ended that went on until everything owed was placed, for ``longest`` minutes at most."""
    left = week.minutes_owed - week.minutes_placed
    if not left:
        return "Everything owed is placed."
    [goal] = [one for one in week.goals if one.goal == Goal.UNPLACED]
    if goal.bound == goal.value:
        return f"{left} owed minutes have no place, and it is proved that no week places more."
    return (
        f"The search was ended after {longest} minutes, the longest that it may take. {left} owed minutes have no "
        "place; whether another week places them is not known."
    )


def could_be_placed(week: WeekDetail) -> int:
    """Owed minutes without a place of which it isn't proved that no week places them: at most so many."""
    left = week.minutes_owed - week.minutes_placed
    open_ones = [one.value - (one.bound or 0) for one in week.goals if one.goal == Goal.UNPLACED]
    return min([left, *open_ones])


def draft_words(could: int, monday: dt.date) -> str:
    """Why a planned week wasn't published, and what to do."""
    return (
        f"  The week of {monday} is left a draft and not published: up to {could} owed minutes that have no place "
        "in it could have one in another week. Plan it again with --until-placed or more seconds, look at the "
        "draft, or publish it all the same with --publish-anyway."
    )


def goal_words(goal: GoalFigure) -> str:
    """A goal's value with what is proved of it: `183, bound 171, gap 6.6 %, feasible`."""
    parts = [f"{goal.value:,}"]
    if goal.bound is not None:
        gap = 100 * (goal.value - goal.bound) / goal.value if goal.value else 0
        parts += [f"bound {goal.bound:,}", f"gap {gap:.1f} %"]
    return ", ".join([*parts, *filter(None, [goal.status])])


def _unplaced_lines(unplaced: tuple[UnplacedView, ...]) -> Iterator[str]:
    """One block for each service line with sessions left over."""
    if not unplaced:
        yield "  Every owed session has its place."
        return
    yield "  Not placed:"
    for one in unplaced:
        sessions = "1 session" if one.sessions == 1 else f"{one.sessions} sessions"
        yield f"    {one.code} ({one.statement}): {sessions}, {one.minutes} minutes."
        yield from (f"      {reason}" for reason in one.reasons)
        if one.ask:
            yield f"      Ask {one.ask}."

"""A planned week led to the lunches of colleagues with whom its teacher wants lunch."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from accounts.models import Person
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import Itinerary, Result
from schedule.planner.solve import solve
from schedule.planner.together.lunch import lunch_week
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.others.lunches import lunches_wanted

PARTS = 4
"""Each week that is tried for a lunch has this part of the work that the week itself has; all of them have as much
as that week, at most."""


@dataclass(frozen=True, slots=True)
class LunchSearch:
    """How a week led to lunches is sought. ``seconds_left``: of the clock."""

    seed: int
    effort: float
    other: tuple[Goal, ...]
    seconds_left: Callable[[], float]
    stop: Callable[[], bool]


def week_with_lunches(
    teacher: Person, monday: dt.date, loaded: WeekInput, result: Result, search: LunchSearch
) -> tuple[Result, tuple[str, ...]]:
    """The week with as much lunch together as is worth its driving, and what is said of each; or as it was."""
    wanted = lunches_wanted(teacher, monday)
    if result.plan is None or not wanted.wishes:
        return result, ()
    spent = [0.0]

    def late() -> bool:
        return spent[0] >= search.effort or search.seconds_left() < 1 or search.stop()

    def ask(problem: Problem) -> Result:
        found = _planned(problem, result.plan, search)
        spent[0] += found.work
        return found

    week = lunch_week(loaded.problem, result, wanted.offers(), ask, late=late)
    return week.result, tuple(wanted.told(week, loaded.problem))


def _planned(problem: Problem, begun: Itinerary | None, search: LunchSearch) -> Result:
    effort = max(1.0, search.effort / PARTS)
    return solve(
        problem,
        seed=search.seed,
        effort=effort,
        time_limit=min(3 * effort, max(1.0, search.seconds_left())),
        other=search.other,
        stop=search.stop,
        begun=begun,
    )

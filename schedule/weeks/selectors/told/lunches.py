"""With whom each day's lunch is had: worked out from two weeks, as a wish for common lunch says."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from itertools import product

from accounts.models import Person
from schedule.calendar.selectors.covers import covers_between
from schedule.calendar.selectors.happened import days_away
from schedule.calendar.words import listed
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.others.lunches import LunchesWanted, LunchHeld, is_wanted, lunches_held, lunches_wanted

type LunchTitles = Mapping[dt.date, str]
"""``Lunch with Ada Vey`` by date; days on which it isn't had together are left out."""


def lunch_titles(week: WeekPlan) -> LunchTitles:
    """Whose lunch is at the same minute in the same school as a week's; one query where nothing is wanted.

    Beside others' weeks in force; a draft also beside the drafts of those who have none. Who is away that day isn't
    at lunch.
    """
    wanted = lunches_wanted(week.teacher, week.monday, drafts=week.status == WeekPlan.Status.DRAFT)
    if not wanted.held:
        return {}
    names = {one.pk: one for wish in wanted.wishes for one in wish.mates}
    present = _present(_met(lunches_held([week.pk]), wanted), names)
    return {date: f"Lunch with {listed(there)}" for date, there in present.items() if there}


def _present(found: Mapping[dt.date, list[int]], names: Mapping[int, Person]) -> dict[dt.date, list[str]]:
    """Without those who aren't there that day."""
    away = {pk: _away(names[pk]) for several in found.values() for pk in several}
    return {date: [str(names[pk]) for pk in several if not away[pk](date)] for date, several in found.items()}


def _met(mine: Iterable[LunchHeld], wanted: LunchesWanted) -> dict[dt.date, list[int]]:
    """By date, whose wanted lunch is at the own."""
    found: dict[dt.date, list[int]] = defaultdict(list)
    for one, other in product(mine, wanted.held):
        if _is_one(one, other) and any(is_wanted(wish, other) for wish in wanted.wishes):
            found[other.date].append(other.teacher)
    return found


def _is_one(mine: LunchHeld, other: LunchHeld) -> bool:
    return (mine.date, mine.at, mine.building) == (other.date, other.at, other.building)


def _away(mate: Person) -> Callable[[dt.date], bool]:
    """Whether somebody is away on a date, or somebody stands in then."""
    away = days_away(mate)

    def is_away(date: dt.date) -> bool:
        return date in away or covers_between([mate.pk], date, date).whole_day(date)

    return is_away

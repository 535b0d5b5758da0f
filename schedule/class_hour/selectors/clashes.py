"""Equipment that a week would want while others want it: said when planning, by the rule of the load list."""

import datetime as dt

from accounts.models import Person
from schedule.class_hour.data import DayClashes
from schedule.class_hour.loading import load_of_day
from schedule.class_hour.selectors.hours import Hour, hours_of_week
from schedule.class_hour.selectors.load import (
    Lines,
    Stocks,
    clashes_told,
    mates_with_needs,
    stops_of,
    uses_of,
)
from schedule.stations.selectors.taking_along import station_needs
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.weeks import week_in_force


def week_clashes(viewer: Person, week: WeekPlan) -> tuple[DayClashes, ...]:
    """By day what a version of a week wants of a closet at the moment at which others' weeks in force want it."""
    teacher, stocks = week.teacher, Stocks(week.teacher)
    mates = _mates(teacher, week.monday)
    found = []
    for date, hours in hours_of_week(viewer, week).items():
        stops = stops_of(hours, station_needs(teacher, date))
        own = uses_of(teacher.pk, stops, load_of_day(stops, stocks.counts(teacher.pk)))
        if not own:
            continue
        lines = Lines(stocks, {one.session.building_id: one.session.building_name for one in hours})
        others = {mate: stops_of(days.get(date, ()), station_needs(mate, date)) for mate, days in mates.items()}
        told = clashes_told(teacher, own, others, stocks, lines)
        found += [DayClashes(date, told)] if told else []
    return tuple(found)


def _mates(teacher: Person, monday: dt.date) -> dict[Person, dict[dt.date, tuple[Hour, ...]]]:
    """Others' weeks in force, each as its teacher sees it: nothing but equipment is told of it."""
    weeks = {mate: week_in_force(mate, mate, monday) for mate in mates_with_needs(teacher)}
    return {mate: hours_of_week(mate, week) for mate, week in weeks.items() if week is not None}

"""When earlier weeks held a session."""

from collections.abc import Mapping

from schedule.calendar.laid_out import DayFacts
from schedule.calendar.selectors.school_days import BuildingCalendar
from schedule.weeks.data import SessionView
from schedule.weeks.models import WeekPlan
from schedule.weeks.pattern import kind_of
from schedule.weeks.versions.history import standing_pattern, weeks_before

type Usual = Mapping[int, Mapping[str, set[int]]]


def usual_times(week: WeekPlan, calendars: Mapping[int, BuildingCalendar]) -> Usual:
    """Of each service line: kind of day and minutes in the published weeks that the planner compares with."""
    weeks = weeks_before(week.teacher, week.monday, {})
    found: dict[int, dict[str, set[int]]] = {}
    for one in standing_pattern(weeks, week.monday, calendars, lambda session: map(str, session.lines)):
        key = kind_of(one, lambda building, date: calendars[building].facts(date))
        found.setdefault(int(one.unit), {}).setdefault(key, set()).add(one.at)
    return found


def is_usual(session: SessionView, usual: Usual, calendars: Mapping[int, BuildingCalendar]) -> bool | None:
    """Whether a session stands when earlier weeks held it; None where they say nothing."""
    calendar = calendars.get(session.building_id)
    facts = DayFacts(session.date, open=False) if calendar is None else calendar.facts(session.date)
    key = facts.kind_of(session.date, session.cycle_day)
    known = [usual[one.line_id] for one in session.attendees if one.line_id in usual]
    return any(session.start_minute in times.get(key, ()) for times in known) if known else None

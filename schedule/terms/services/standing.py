"""A standing timetable as rows."""

import datetime as dt
from collections.abc import Iterable, Sequence

from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import time_of
from schedule.planner.term.term import StandingSession as Stands
from schedule.planner.term.term import StandingTimetable as Standing
from schedule.terms.models import TermPlan
from schedule.terms.services.loading import LoadedWeek
from schedule.terms.words import day_of_key
from schedule.weeks.models import TimetableAttendee, TimetableSession, TimetableVersion
from schedule.weeks.planning.make_up_services import is_make_up


def standing_add(
    term: TermPlan, weeks: Sequence[LoadedWeek], standing: Standing, since: dt.date | None = None
) -> TimetableVersion:
    """A draft of a standing timetable for a term's dates, or those from ``since``; call it inside a transaction."""
    run = term.run
    timetable = TimetableVersion(
        district=run.district,
        teacher=run.teacher,
        first_day=since or run.first_date,
        last_day=run.last_date,
        created_by=run.requested_by,
    )
    timetable.full_clean()
    timetable.save()
    attending: list[tuple[TimetableSession, tuple[int, ...]]] = []
    for one in standing.sessions:
        if is_make_up(one.unit):  # It is held once, and is no part of any timetable.
            continue
        week = next((week for week in weeks if week.week.problem.has_unit(one.unit)), None)
        if week is not None and not is_make_up(one.unit):
            row, lines = _row(timetable, week, one)
            row.full_clean()
            row.save()
            attending.append((row, lines))
    _attend(attending)
    return timetable


def _row(timetable: TimetableVersion, week: LoadedWeek, one: Stands) -> tuple[TimetableSession, tuple[int, ...]]:
    """One session, from the first week that has it, and its service lines then."""
    loaded, name = week.loaded, week.ids.in_week.get(one.unit, one.unit)
    info, unit = loaded.info(name), loaded.problem.unit(name)
    weekday, cycle_day = day_of_key(one.pattern_key)
    row = TimetableSession(
        timetable=timetable,
        planner_key=one.unit,
        weekday=weekday,
        cycle_day=cycle_day,
        start=time_of(one.at),
        end=time_of(one.at + unit.minutes),
        building=loaded.buildings[one.place],
        space_id=loaded.spaces.get((one.place, one.space or "")),
        school_class_id=info.school_class,
        setting=info.setting,
    )
    return row, info.lines


def _attend(sessions: Iterable[tuple[TimetableSession, tuple[int, ...]]]) -> None:
    pairs = [(row, line) for row, lines in sessions for line in lines]
    students = dict(
        ServiceLine.objects.filter(pk__in={line for _, line in pairs}).values_list("pk", "plan__student_id")
    )
    TimetableAttendee.objects.bulk_create(
        TimetableAttendee(session=row, service_line_id=line, student_id=students[line]) for row, line in pairs
    )

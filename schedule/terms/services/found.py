"""What planning a term has found, as it is kept: a content of each dated week, judged, and a summary of all."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from accounts.errors import ApplicationError
from schedule.planner.check import check
from schedule.planner.term.following import once_each
from schedule.planner.term.term import PlannedWeek, StandingTimetable, TermResult
from schedule.planner.week.explain import explain_unplaced
from schedule.terms.changing import Changed, moves_between
from schedule.terms.sameness import sameness, stands_in
from schedule.terms.services.loading import LoadedTerm, LoadedWeek
from schedule.terms.summary import exception_words, later_summary, minutes_summary, way_summary, week_summary
from schedule.terms.unit_ids import itinerary_in_week, unit_ids_of
from schedule.weeks.models import TimetableVersion
from schedule.weeks.planning.make_up_services import is_make_up
from schedule.weeks.planning.outcome import content_of, sessions_of_plan
from schedule.weeks.planning.told import left_told
from schedule.weeks.versions.content import WeekContent


@dataclass(slots=True)
class PlannedTerm:
    """What a run has found: contents of the weeks, and the planner's answer.

    ``changed``: the ways to change the timetable in force (``based_on``), the one taken first; empty without one.
    """

    loaded: LoadedTerm
    result: TermResult
    contents: Mapping[dt.date, WeekContent]
    based_on: TimetableVersion | None = None
    changed: tuple[Changed, ...] = ()


def term_contents(loaded: LoadedTerm, result: TermResult) -> dict[dt.date, WeekContent]:
    """Each dated week as it is kept. Raises ``ApplicationError`` where one breaks a rule."""
    planned = {week.id: week for week in result.weeks}
    return {week.monday: _content(week, planned[week.week.id]) for week in loaded.weeks if week.week.id in planned}


def _content(week: LoadedWeek, planned: PlannedWeek) -> WeekContent:
    """A dated week as it is kept; what departs from the standing timetable stands in its notes."""
    loaded, plan = week.loaded, itinerary_in_week(planned.itinerary, week.ids)
    verdict = check(loaded.problem, plan)
    if not verdict.holds:
        # A fault of the program: the plan is not kept, and the sentences (codes only) say which rule it broke.
        broken = " ".join(violation.text for violation in verdict.violations[:3])
        raise ApplicationError(f"A week of the plan breaks a rule and was not kept: {broken}", code="judge")
    told = left_told(loaded, explain_unplaced(loaded.problem, plan), {})
    notes = tuple(dict.fromkeys(exception_words(one) for one in planned.departures))
    sessions = sessions_of_plan(loaded, plan, week.in_force)
    return content_of(loaded, sessions, plan, replace(told, notes=notes))


def _names_of(loaded: LoadedTerm) -> Mapping[str, str]:
    """What the term's units are called, with marked codes."""
    problems = [one.week.problem for one in loaded.weeks]
    return {unit: problem.name_of_unit(unit) for problem in problems for unit in unit_ids_of(problem)}


def _least_driving(result: TermResult) -> int | None:
    """What no weeks that place as much drive less than, if it is known of every week."""
    known = all(week.least_driving or not week.figures.driving for week in result.weeks)
    return result.bound if known else None


def all_that_stands(result: TermResult) -> StandingTimetable:
    """The sessions of every timetable of the term, once each."""
    timetables = (result.standing, *(one.standing for one in result.later))
    return once_each(session for one in timetables for session in one.sessions)


def _later(found: PlannedTerm) -> list[Mapping[str, Any]]:
    """The timetables that follow the first, each with what moves then; no make-up, and nothing that has ended."""
    before, told, names = found.result.standing, list[Mapping[str, Any]](), _names_of(found.loaded)
    for one in found.result.later:
        weeks = [week.week for week in found.loaded.weeks if week.week.id >= one.since]
        owed = StandingTimetable(
            tuple(stands for stands in before.sessions if any(week.problem.has_unit(stands.unit) for week in weeks))
        )
        moves = (move for move in moves_between(weeks, owed, one.standing) if not is_make_up(move.unit))
        told.append(later_summary(one, moves, names))
        before = one.standing
    return told


def term_summary(found: PlannedTerm) -> Mapping[str, Any]:
    """What the pages tell of the term beside its weeks; ids and codes only."""
    result, planned = found.result, {week.id: week for week in found.result.weeks}
    held = [
        (one.week.problem, planned[one.week.id].itinerary.sessions)
        for one in found.loaded.weeks
        if one.week.id in planned
    ]
    weeks = [
        week_summary(planned[one.week.id], one.kind, regular=one.regular, content=found.contents[one.monday])
        for one in found.loaded.weeks
        if one.week.id in planned
    ]
    return {
        "sessions": result.sessions,
        "open": result.open,
        "kept": result.kept,
        "drive_minutes": result.drive_minutes,
        "least_driving": _least_driving(result),
        "could_be_placed": max(0, result.unplaced - result.bound_unplaced),
        "stopped": result.stopped,
        "message": result.message,
        "ways": [way_summary(one, _names_of(found.loaded)) for one in found.changed],
        "weeks": weeks,
        "minutes": minutes_summary(found.loaded.minutes.lines),
        "shared": list(found.loaded.minutes.notes),
        "later": _later(found),
        "sameness": sameness(held, all_that_stands(result)).as_json(),
        "standing": [
            [one.unit, one.pattern_key, one.at, one.place, count]
            for one, count in stands_in(held, all_that_stands(result)).items()
        ],
    }

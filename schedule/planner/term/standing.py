"""Standing timetables made of planned weeks."""

from collections import Counter

from schedule.planner.problem import Problem, Session
from schedule.planner.result import Itinerary
from schedule.planner.term.expected import expected_in
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek


def with_rest(week: TermWeek, standing: StandingTimetable, plan: Itinerary) -> StandingTimetable:
    """The timetable, and after it what a plan of the week holds beyond what would be expected of the week."""
    problem = week.problem
    expected = expected_in(week, standing)
    known = {(one.session.unit, one.session.day, one.session.at) for one in expected if one.session is not None}
    left = Counter({service.id: service.sessions for service in problem.services})
    for one in expected:
        left.subtract(problem.members(one.standing.unit))
    more: list[StandingSession] = []
    for session in plan.sessions:
        members = problem.members(session.unit)
        if (session.unit, session.day, session.at) not in known and all(left[member] > 0 for member in members):
            left.subtract(members)
            more.append(standing_session(problem, session))
    return StandingTimetable((*standing.sessions, *more))


def standing_session(problem: Problem, session: Session) -> StandingSession:
    """A dated session as one that stands: by the kind of its day. ``StopIteration`` if it is at no start."""
    key = next(
        start.pattern_key or ""
        for start in problem.starts_of(session.unit)
        if (start.day, start.at, start.place) == (session.day, session.at, session.place)
    )
    return StandingSession(session.unit, key, session.at, session.place, session.space)

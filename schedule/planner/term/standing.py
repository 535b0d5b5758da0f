"""A session of a planned week as one that stands."""

from schedule.planner.problem import Problem, Session
from schedule.planner.term.term import StandingSession


def standing_session(problem: Problem, session: Session) -> StandingSession:
    """A dated session as one that stands: by the kind of its day. ``StopIteration`` if it is at no start."""
    key = next(
        start.pattern_key or ""
        for start in problem.starts_of(session.unit)
        if (start.day, start.at, start.place) == (session.day, session.at, session.place)
    )
    return StandingSession(session.unit, key, session.at, session.place, session.space)

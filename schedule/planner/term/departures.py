"""Where a dated week departs from the standing timetable, and why, in words."""

from collections.abc import Iterable, Sequence

from schedule.planner.problem import Problem, Session
from schedule.planner.result import Itinerary
from schedule.planner.term.expected import Expected
from schedule.planner.term.term import Departure, DepartureReason, StandingSession, TermWeek
from schedule.planner.times import clock

type Moment = tuple[str, int, str, str]


def departures_of(
    week: TermWeek, expected: Sequence[Expected], plan: Itinerary, *, saving: bool
) -> tuple[Departure, ...]:
    """Each expected session (``expected_in``) that the week doesn't keep, then what it holds beside the timetable.

    ``saving``: the week was allowed to leave usual times for less driving, else only to make room.
    """
    spare = _beside(week.problem, expected, plan)
    found = [_departure(week, one, spare, saving=saving) for one in not_kept(week.problem, expected, plan)]
    return (*found, *(_extra(week, session) for session in spare))


def not_kept(problem: Problem, expected: Iterable[Expected], plan: Itinerary) -> list[Expected]:
    """The expected sessions that a plan doesn't hold: each member of the unit then, there, in whatever company."""
    held = {moment for session in plan.sessions for moment in moments_of(problem, session)}
    return [
        one
        for one in expected
        if one.session is None or not one.open or not held.issuperset(moments_of(problem, one.session))
    ]


def moments_of(problem: Problem, session: Session) -> set[Moment]:
    """When and where each member of a session is."""
    return {(session.day, session.at, session.place, member) for member in problem.members(session.unit)}


def _beside(problem: Problem, expected: Sequence[Expected], plan: Itinerary) -> list[Session]:
    """The sessions of a plan of which a member isn't expected then and there."""
    standing = {
        moment for one in expected if one.session is not None for moment in moments_of(problem, one.session)
    }
    return [session for session in plan.sessions if not standing.issuperset(moments_of(problem, session))]


def _departure(week: TermWeek, one: Expected, spare: list[Session], *, saving: bool) -> Departure:
    """The departure, its session taken out of ``spare``: one of the same unit, else one with all its members."""
    problem, mine = week.problem, set(week.problem.members(one.standing.unit))
    same = [session for session in spare if session.unit == one.standing.unit]
    held = next(iter([*same, *(s for s in spare if mine.issubset(problem.members(s.unit)))]), None)
    if held is not None:
        spare.remove(held)
    why, because = _why(week, one, saving=saving)
    name = problem.name_of_unit(one.standing.unit)
    place = problem.name_of_place(one.standing.place)
    usually = f"{one.standing.pattern_key} {clock(one.standing.at)} at {place}"
    words = f"{name}, {usually}: {because}; {_where(problem, held)}."
    return Departure(week.id, one.standing.unit, why, words, one.standing, held)


def _where(problem: Problem, held: Session | None) -> str:
    if held is None:
        return "not held this week"
    return f"held {problem.name_of_day(held.day)} {clock(held.at)} at {problem.name_of_place(held.place)}"


def _extra(week: TermWeek, session: Session) -> Departure:
    name = week.problem.name_of_unit(session.unit)
    words = f"{name}: {_where(week.problem, session)}, which is no time of the standing timetable."
    return Departure(week.id, session.unit, DepartureReason.NOT_STANDING, words, None, session)


def _why(week: TermWeek, one: Expected, *, saving: bool) -> tuple[DepartureReason, str]:
    if one.blocked:
        return DepartureReason.BLOCKED, "a fixed block or the end of the contract day is in the way"
    if one.session is None:
        return _why_no_start(week, one.standing)
    if saving:
        return DepartureReason.SAVES_DRIVING, "another time saves driving"
    return DepartureReason.MADE_ROOM, "another session needs that time"


def _why_no_start(week: TermWeek, session: StandingSession) -> tuple[DepartureReason, str]:
    unusual = [day for day in week.unusual if (day.place, day.pattern_key) == (session.place, session.pattern_key)]
    for day in unusual:
        return (DepartureReason.CLOSED if day.closed else DepartureReason.SHORTENED), day.words
    return DepartureReason.TAKEN, _bar(week.problem, session) or "it can't begin then in this week"


def _bar(problem: Problem, session: StandingSession) -> str:
    """The one rule that is in the way on the days of its kind, or nothing."""
    days = {start.day for start in problem.starts_of(session.unit) if start.pattern_key == session.pattern_key}
    services = {service.id: service for service in problem.services}
    for member in problem.members(session.unit):
        for bar in services[member].barred:
            if bar.day in days and (bar.at, bar.place) == (session.at, session.place):
                return bar.text
    return ""

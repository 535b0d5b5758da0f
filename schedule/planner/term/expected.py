"""Which sessions of the standing timetable a week would hold, and at which of its starts.

A standing session comes in a week if a day of its kind does. Of a unit no more come than are owed, those first
whose start exists, then in the timetable's order.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from schedule.planner.problem import Problem, Session, Start
from schedule.planner.term.alike import units_of
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek


@dataclass(frozen=True, slots=True)
class Expected:
    """A standing session that a week would hold. ``session`` is where; ``None`` where no start of it exists.

    ``blocked``: a start exists, but a fixed block or the end of the contract day is in its way.
    """

    standing: StandingSession
    session: Session | None
    blocked: bool = False

    @property
    def open(self) -> bool:
        """Whether it can be held, for itself, at its standing time."""
        return self.session is not None and not self.blocked


def expected_in(week: TermWeek, standing: StandingTimetable) -> tuple[Expected, ...]:
    """The standing sessions that the week would hold, in the timetable's order."""
    problem = week.problem
    return first_of(problem, [coming_in(week, one) for one in standing.sessions if problem.has_unit(one.unit)])


def first_of(problem: Problem, coming: Iterable[Iterable[Expected]]) -> tuple[Expected, ...]:
    """Of what each standing session comes to in a week, as many as are owed."""
    left = Counter({service.id: service.sessions for service in problem.services})
    numbered = [(number, one) for number, found in enumerate(coming) for one in found]
    found: list[tuple[int, Expected]] = []
    for number, one in sorted(numbered, key=lambda pair: (not pair[1].open, pair[0])):
        members = problem.members(one.standing.unit)
        if all(left[member] > 0 for member in members):
            left.subtract(members)
            found.append((number, one))
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0]))


def is_unusual(week: TermWeek, session: StandingSession) -> bool:
    """Whether the day of a session is closed or on other bells in that week."""
    return any((day.place, day.pattern_key) == (session.place, session.pattern_key) for day in week.unusual)


def barred_in(week: TermWeek, standing: StandingTimetable) -> int:
    """Sessions that the week would hold and can't begin at their time, though their day is as usual."""
    return sum(not one.open and not is_unusual(week, one.standing) for one in expected_in(week, standing))


def against(week: TermWeek, standing: StandingTimetable) -> Problem:
    """The week's problem with the open sessions of the timetable as the week in force, and its times as usual."""
    current = tuple(one.session for one in expected_in(week, standing) if one.open and one.session is not None)
    usual: dict[str, list[tuple[str, int]]] = {}
    for session in standing.sessions:
        if week.problem.has_unit(session.unit):
            for member in week.problem.members(session.unit):
                usual.setdefault(member, []).append((session.pattern_key, session.at))
    services = tuple(
        replace(service, usual=tuple(sorted(set(usual.get(service.id, ()))))) for service in week.problem.services
    )
    return replace(week.problem, services=services, current=current)


def standing_session(problem: Problem, session: Session) -> StandingSession:
    """A dated session as one that stands: by the kind of its day. ``StopIteration`` if it is at no start."""
    key = next(
        start.pattern_key or ""
        for start in problem.starts_of(session.unit)
        if (start.day, start.at, start.place) == (session.day, session.at, session.place)
    )
    return StandingSession(session.unit, key, session.at, session.place, session.space)


def coming_in(week: TermWeek, session: StandingSession) -> list[Expected]:
    """One for each day on which the session would stand; one without a start where its day is closed."""
    problem = week.problem
    starts = _starts_at(problem, session)
    if starts:
        return [
            Expected(
                session,
                Session(session.unit, start.day, start.at, start.place, start.space, start.minutes),
                _is_blocked(problem, session.unit, start),
            )
            for start in starts
        ]
    return [Expected(session, None)] if (session.place, session.pattern_key) in days_coming(week) else []


def _starts_at(problem: Problem, session: StandingSession) -> list[Start]:
    """The unit's starts at the standing time, one a day, in the standing space where that is free."""
    found: dict[str, Start] = {}
    for start in problem.starts_of(session.unit):
        if (start.pattern_key, start.at, start.place) != (session.pattern_key, session.at, session.place):
            continue
        if start.day not in found or start.space == session.space:
            found[start.day] = start
    return [found[day.id] for day in problem.days if day.id in found]


def _is_blocked(problem: Problem, unit: str, start: Start) -> bool:
    day, end = problem.day(start.day), start.at + problem.minutes_of(unit, start)
    in_the_way = any(block.start < end and start.at < block.end for block in day.blocks)
    return in_the_way or start.at < day.start or end > day.end


def days_coming(week: TermWeek) -> set[tuple[str, str]]:
    """The kinds of day that come in a week, open or not, place by place: by all units' starts, and unusual days."""
    units = units_of(week.problem)
    starts = [(start.place, start.pattern_key or "") for unit in units for start in unit.starts]
    windows = [(window.place, window.pattern_key or "") for unit in units for window in unit.windows]
    return {*starts, *windows, *((day.place, day.pattern_key) for day in week.unusual)}

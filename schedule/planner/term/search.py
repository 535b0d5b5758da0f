"""A timetable completed: sessions put in, one after the other, where they cost least over all weeks of a term.

The template of consistent routing (Groer, Golden and Wasil 2009) weighed by all weeks that follow it. What comes of
it is where the search (``template``) begins.
"""

from schedule.planner.term.expected import expected_in
from schedule.planner.term.shared import TermState
from schedule.planner.term.term import StandingSession, StandingTimetable

type Candidates = dict[str, tuple[StandingSession, ...]]
"""By unit: every way in which it could stand."""

NO_LIMIT = 10**9


def candidates_of(state: TermState) -> Candidates:
    """Every standing session that some week could hold, those pinned in every week left out."""
    found: dict[str, set[StandingSession]] = {}
    for kind in state.kinds:
        for session in kind.nodes:
            found.setdefault(session.unit, set()).add(session)
    return {unit: tuple(sorted(sessions)) for unit, sessions in sorted(found.items())}


def complete(state: TermState) -> None:
    """Let more sessions stand until every kind of week has as many as it owes, or nothing more fits."""
    candidates = candidates_of(state)
    for number, kind in enumerate(state.kinds):
        for service, owed in enumerate(kind.model.owed):
            unit = kind.model.problem.services[service].id
            for _ in range(owed):
                standing = set(state.sessions)
                mine = [one for one in candidates.get(unit, ()) if one in kind.nodes and one not in standing]
                enough = state.states[number].missing(service) <= 0 or _stands_often(state, number, unit, owed)
                if enough or not mine:
                    break
                state.put(min(mine, key=lambda one: (state.added(one), one)))


def _stands_often(state: TermState, number: int, unit: str, owed: int) -> bool:
    """Whether as many sessions of a unit stand on days of such a week as it owes, closed days counted."""
    week = state.kinds[number].week
    standing = StandingTimetable(tuple(one for one in state.sessions if one.unit == unit))
    return len(expected_in(week, standing)) >= owed

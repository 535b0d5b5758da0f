"""A timetable without what no week needs: who meets once a week stands at one time, wherever that is as good.

A student can't be taken on Mondays until March. On Wednesdays until then and on Mondays from then on is one
timetable in which every session is at a usual time; and it is a change that nobody has to make. Wednesdays
throughout is better.
"""

from collections import Counter
from collections.abc import Iterable

from schedule.planner.term.expected import expected_in
from schedule.planner.term.search import NO_LIMIT
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.term import StandingSession, StandingTimetable


def without_spare(state: TermState) -> TermState:
    """The timetable without sessions of units that stand more often than any week owes them.

    One is left out only where every week expects as many without it, as many of them open, and all cost no more.
    """
    owed = _owed(state.kinds)
    for one in state.sessions.copy():
        if sum(other.unit == one.unit for other in state.sessions) <= owed.get(one.unit, 0):
            continue
        fewer = state.copy()
        fewer.take_out([one])
        if _expects_as_many(fewer.sessions, state) and fewer.cost(NO_LIMIT) <= state.cost(NO_LIMIT):
            state = fewer
    return state


def _owed(kinds: Iterable[AlikeWeeks]) -> Counter[str]:
    """How often a week owes each unit at most."""
    found = Counter[str]()
    for kind in kinds:
        problem = kind.week.problem
        sessions = {service.id: service.sessions for service in problem.services}
        units = {one.unit for one in kind.nodes}
        found |= Counter({unit: min(sessions[one] for one in problem.members(unit)) for unit in units})
    return found


def _expects_as_many(sessions: Iterable[StandingSession], state: TermState) -> bool:
    standing, before = StandingTimetable(tuple(sessions)), state.timetable()
    return all(_counts(kind, standing) == _counts(kind, before) for kind in state.kinds)


def _counts(kind: AlikeWeeks, standing: StandingTimetable) -> tuple[int, int]:
    """Sessions that such a week would hold, and those with a start; of a group one for each of its services."""
    problem = kind.week.problem
    expected = [(len(problem.members(one.standing.unit)), one.open) for one in expected_in(kind.week, standing)]
    return sum(count for count, _ in expected), sum(count for count, is_open in expected if is_open)

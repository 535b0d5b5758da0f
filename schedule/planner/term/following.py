"""The timetable that follows another: from the week in which a service begins or ends, what a week of then holds.

One timetable holds every service of the term, also one that begins later. Where a week of all of them can't keep
it, or leaving a usual time is worth it in each week to come, the same exception would be said week after week. It
is a change for good then, said once, with the fewest moves from what stood before.

Where days rotate no week is like all others: one in which Day 3 comes on a Tuesday says nothing of a Thursday. So a
session moves for good only if no ordinary week from then on can keep it, whatever falls on which weekday.
"""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from schedule.planner.problem import Problem, Session
from schedule.planner.result import Itinerary
from schedule.planner.term.departures import not_kept
from schedule.planner.term.expected import expected_in, standing_session
from schedule.planner.term.kinds import Found
from schedule.planner.term.plain import one_layout, plain_week
from schedule.planner.term.term import LaterTimetable, StandingSession, StandingTimetable, TermWeek

FEWEST_WEEKS = 2
"""What lasts for fewer weeks is an exception, and no timetable."""

type Nearest = Callable[[TermWeek, StandingTimetable], Found]


def stretches(weeks: Sequence[TermWeek]) -> list[Sequence[TermWeek]]:
    """The weeks from one beginning or end of a service to the next; a short stretch goes with the one before.

    A service that is owed in fewer weeks than a timetable lasts begins and ends nothing.
    """
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for number, week in enumerate(weeks):
        for service in week.problem.services:
            first.setdefault(service.id, number)
            last[service.id] = number
    lasting = [one for one in first if last[one] - first[one] + 1 >= FEWEST_WEEKS]
    borders = {first[one] for one in lasting} | {last[one] + 1 for one in lasting}
    found = [0]
    for border in sorted(borders):
        if min(border - found[-1], len(weeks) - border) >= FEWEST_WEEKS:
            found.append(border)
    return [weeks[a:b] for a, b in pairwise([*found, len(weeks)])]


def timetables_of(
    weeks: Sequence[TermWeek], standing: StandingTimetable, nearest: Nearest
) -> Iterator[LaterTimetable]:
    """The timetable of each stretch of weeks, each as near as can be to the one before; the same where it holds.

    ``nearest``: the week that leaves fewest usual times.
    """
    if not one_layout(weeks):
        yield from _where_days_rotate(weeks, standing, nearest)
        return
    for mine in stretches(weeks):
        week = plain_week(mine)
        found = nearest(week, standing)
        standing = _followed(week, standing, found.plan)
        yield LaterTimetable(mine[0].id, standing, found.proved)


def _where_days_rotate(
    weeks: Sequence[TermWeek], standing: StandingTimetable, nearest: Nearest
) -> Iterator[LaterTimetable]:
    """What no ordinary week of a stretch keeps gives way, as one week after the other has it."""
    for mine in stretches(weeks):
        ordinary = [week for week in mine if not week.unusual]
        found = [nearest(week, standing) for week in ordinary]
        before = standing
        standing = _without_lost(ordinary, before, found, nearest)
        gone = set(before.sessions) - set(standing.sessions)
        least = (_has_to_leave(week, before, one) for week, one in zip(ordinary, found, strict=True))
        yield LaterTimetable(mine[0].id, standing, len(gone) <= max(least, default=0))


def _without_lost(
    ordinary: Sequence[TermWeek], standing: StandingTimetable, found: Sequence[Found], nearest: Nearest
) -> StandingTimetable:
    """The timetable in which what none of these weeks keeps has moved, or is gone where it finds no other place."""
    lost = _never_kept(ordinary, standing, found)
    for week in ordinary if lost else ():
        standing = _followed(week, standing, nearest(week, standing).plan, lost)
    come = {one.standing for week in ordinary for one in expected_in(week, standing)}
    return StandingTimetable(tuple(one for one in standing.sessions if one not in lost or one in come))


def _has_to_leave(week: TermWeek, standing: StandingTimetable, found: Found) -> int:
    """Sessions that the week can't keep, as far as that is proved; 0 where groups count for several."""
    members = week.problem.members
    if not found.proved or any(len(members(group.id)) > 1 for group in week.problem.groups):
        return 0
    return found.figures.change + sum(not one.open for one in expected_in(week, standing))


def _never_kept(
    weeks: Sequence[TermWeek], standing: StandingTimetable, found: Sequence[Found]
) -> set[StandingSession]:
    """What comes in some of these weeks and isn't kept in any."""
    comes, kept = set[StandingSession](), set[StandingSession]()
    for week, one in zip(weeks, found, strict=True):
        expected = expected_in(week, standing)
        mine = {other.standing for other in expected}
        comes |= mine
        kept |= mine - {other.standing for other in not_kept(week.problem, expected, one.plan)}
    return comes - kept


def changes_only(timetables: Iterable[LaterTimetable]) -> tuple[LaterTimetable, ...]:
    """Those that differ from the one before, the first among them."""
    found: list[LaterTimetable] = []
    for one in timetables:
        if not found or found[-1].standing != one.standing:
            found.append(one)
    return tuple(found)


def standing_in(week: str, standing: StandingTimetable, later: Iterable[LaterTimetable]) -> StandingTimetable:
    """What stands in the week of that id: the last timetable that began by then. Ids are dates in ISO form."""
    return [standing, *(one.standing for one in later if one.since <= week)][-1]


def _followed(
    week: TermWeek, standing: StandingTimetable, plan: Itinerary, may_go: Container[StandingSession] | None = None
) -> StandingTimetable:
    """The timetable after a plain week, the same one where nothing in it moves.

    What finds no other place in that week stands as before, and is missed each week. Spaces are left to each week.
    ``may_go``: the sessions that may move for good; what others do instead is that week's own matter.
    """
    before = {_bare(one) for one in standing.sessions}
    after = {_bare(one): None for one in with_week(week, standing, plan).sessions}
    new = [one for one in after if one not in before]
    gone = [one for one in standing.sessions if _bare(one) not in after]
    moved = _moved(week.problem, gone, new)
    if may_go is not None:
        moved, new = _for_good(moved, new, may_go)
    return StandingTimetable((*(one for one in standing.sessions if one not in moved), *new))


def _for_good(
    moved: Mapping[StandingSession, StandingSession],
    new: Iterable[StandingSession],
    may_go: Container[StandingSession],
) -> tuple[dict[StandingSession, StandingSession], list[StandingSession]]:
    """What may move, and what is new without what others do instead."""
    undone = {id(instead) for one, instead in moved.items() if one not in may_go}
    kept = {one: instead for one, instead in moved.items() if one in may_go}
    return kept, [one for one in new if id(one) not in undone]


def _moved(
    problem: Problem, gone: Iterable[StandingSession], new: Iterable[StandingSession]
) -> dict[StandingSession, StandingSession]:
    """What holds everybody of a session that is gone, each new one once."""
    spare, found = list(new), dict[StandingSession, StandingSession]()
    for one in gone:
        instead = _instead(problem, one, spare)
        if instead is not None:
            spare.remove(instead)
            found[one] = instead
    return found


def _instead(problem: Problem, one: StandingSession, spare: Iterable[StandingSession]) -> StandingSession | None:
    """The new session that holds everybody of one that is gone."""
    mine = set(problem.members(one.unit))
    return next((other for other in spare if mine <= set(problem.members(other.unit))), None)


def _bare(one: StandingSession) -> StandingSession:
    return replace(one, space=None)


def with_week(week: TermWeek, standing: StandingTimetable, plan: Itinerary) -> StandingTimetable:
    """The timetable with what a week moves and adds; who is joined by another stands with them from then on."""
    problem, expected = week.problem, expected_in(week, standing)
    lost = {one.standing for one in not_kept(problem, expected, plan)}
    held = {one.standing: _moments(problem, one.session) for one in expected if one.standing not in lost}
    new = _beside(problem, plan.sessions, set().union(*held.values()))
    gone = lost | _within(held, [_moments(problem, one) for one in new])
    kept = (one for one in standing.sessions if one not in gone)
    return once_each([*kept, *(standing_session(problem, one) for one in new)])


type _Moments = set[tuple[str, int, str, str]]


def _beside(problem: Problem, sessions: Iterable[Session], covered: _Moments) -> list[Session]:
    """The sessions with somebody who isn't expected then and there."""
    return [one for one in sessions if not _moments(problem, one) <= covered]


def _within(held: Mapping[StandingSession, _Moments], taken: Sequence[_Moments]) -> set[StandingSession]:
    """The standing sessions that others take in whole, at their own moment."""
    return {one for one, moments in held.items() if any(moments <= others for others in taken)}


def once_each(sessions: Iterable[StandingSession]) -> StandingTimetable:
    """A timetable of these; of two of a unit at one moment of one school the first."""
    found: dict[tuple[str, str, int, str], StandingSession] = {}
    for one in sessions:
        found.setdefault((one.unit, one.pattern_key, one.at, one.place), one)
    return StandingTimetable(tuple(found.values()))


def _moments(problem: Problem, session: Session | None) -> _Moments:
    """When and where each service of a session is."""
    if session is None:
        return set()
    return {(session.day, session.at, session.place, member) for member in problem.members(session.unit)}

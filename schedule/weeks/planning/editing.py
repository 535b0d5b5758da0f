"""A version of a week made ready to be edited, tried and judged, without writing anything."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence

from accounts.errors import ApplicationError
from schedule.planner.check import day_violations
from schedule.planner.result import Itinerary
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.make_up_services import MakeUp, make_ups_of
from schedule.weeks.planning.outcome import Told, content_of, plan_of_content, planner_sessions
from schedule.weeks.planning.rest.reading import rest_of_draft
from schedule.weeks.timing import retime_days
from schedule.weeks.versions.content import SessionContent, WeekContent
from schedule.weeks.versions.history import content_in_force

GONE_BY = (
    "This draft plans the rest of the week only: a session that had begun by then, is logged, or falls out on its "
    "day stays as it is. Change the rest, or the week in force once this draft is published."
)


def settled_owed(content: WeekContent) -> dict[int, tuple[int, int]]:
    """Sessions and minutes a line as the week was planned with: those held and those left, make-ups apart."""
    found: dict[int, tuple[int, int]] = {}
    for session in content.sessions:
        for line in () if session.makes_up else session.lines:
            count, _ = found.get(line, (0, 0))
            found[line] = count + 1, session.end - session.start
    for one in content.unplaced:
        count, minutes = found.get(one.line, (0, 0))
        found[one.line] = count + one.sessions, minutes or one.minutes // max(1, one.sessions)
    return found


def edit_input(
    week: WeekPlan,
    content: WeekContent,
    more: Iterable[MakeUp] = (),
    pins: tuple[SessionContent, ...] = (),
    leeway: int = 0,
) -> WeekInput:
    """The problem that a week is edited and judged against: what it owes is settled, all else as it is now.

    ``more`` are make-ups that may be added to those that it holds, ``pins`` sessions that stay,
    ``leeway`` minutes outside the contract day in which starts are sought too.
    """
    found = rest_of_draft(week, content)
    rest, in_force = found if found is not None else (None, content_in_force(week.teacher, week.monday))
    keep = {one.building for one in content.sessions} | ({rest.place} if rest is not None else set())
    content = content if rest is None else rest.left
    return load_week(
        week.teacher,
        week.monday,
        Base(
            in_force=in_force,
            pins=pins,
            owed=settled_owed(content),
            make_ups=make_ups_of(content.sessions) + Counter(more),
            keep_groups=tuple({one.key for one in content.sessions if one.key.startswith("group-")}),
            keep_buildings=tuple(one for one in keep if one is not None),
            rest=rest,
            between=_first_to_last(content) if in_force is None else None,
            leeway=leeway,
        ),
    )


def _first_to_last(content: WeekContent) -> tuple[dt.date, dt.date] | None:
    """The dates that a first week was planned for: every planned day holds something, if only lunch."""
    dates = {one.date for one in content.sessions} | {one.date for one in content.items}
    return (min(dates), max(dates)) if dates else None


def rearranged_plan(
    loaded: WeekInput, content: WeekContent, sessions: Sequence[SessionContent], touched: frozenset[str]
) -> Itinerary:
    """The itinerary with these sessions.

    The touched days are timed again, and those whose stored times no longer hold (a drive has become longer).
    """
    sessions = _sessions_left(loaded, sessions)
    stored = plan_of_content(loaded, content)
    stale = {day.day for day in stored.days if day_violations(loaded.problem, day)}
    return retime_days(loaded.problem, stored, planner_sessions(loaded, sessions), touched | stale)


def rearranged(
    loaded: WeekInput, content: WeekContent, sessions: Sequence[SessionContent], touched: frozenset[str]
) -> WeekContent:
    """The week's content with these sessions: drives, lunch, preparation, figures and broken rules worked out."""
    plan = rearranged_plan(loaded, content, sessions, touched)
    sessions = _sessions_left(loaded, sessions)
    units = loaded.units.unit_of_line()
    told = Told(
        reasons={units[one.line]: one.reasons for one in content.unplaced if one.line in units},
        asks={units[one.line]: one.ask for one in content.unplaced if one.line in units},
    )
    found = content_of(loaded, sessions, plan, told)
    return found if loaded.rest is None else loaded.rest.joined(found)


def _sessions_left(loaded: WeekInput, sessions: Sequence[SessionContent]) -> Sequence[SessionContent]:
    """Those of the rest that is planned; raises ``ApplicationError`` where one of the others was changed."""
    if loaded.rest is None:
        return sessions
    kept, given = loaded.rest.kept, {one.uid: (one.date, one.start, one.space) for one in sessions}
    if any(given.get(one.uid) != (one.date, one.start, one.space) for one in kept.sessions):
        raise ApplicationError(GONE_BY, code="gone_by")
    return [one for one in sessions if kept.session(one.uid) is None]


def with_session(content: WeekContent, changed: SessionContent) -> list[SessionContent]:
    """The sessions with one of them changed."""
    return [changed if one.uid == changed.uid else one for one in content.sessions]

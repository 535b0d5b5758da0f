"""Services that a week owes and that its version knows nothing of: they came, or changed, after it was made."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.selectors import line_on, versions_by_line
from schedule.weeks.models import SessionAttendee, UnplacedSession, WeekPlan
from schedule.weeks.planning.assemble import Base
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.leaving import gone_among
from schedule.weeks.versions.history import content_in_force


@dataclass(frozen=True, slots=True)
class UnplannedService:
    """Sessions of one service that are owed in the week and stand nowhere in it."""

    name: str
    statement: str
    sessions: int


def week_gaps(viewer: Person, week: WeekPlan, today: dt.date) -> tuple[UnplannedService, ...]:
    """What a week in force that isn't over leaves out without saying so; nothing for who can't change it."""
    if not viewer.has_perm("week.change") or week.status != WeekPlan.Status.PUBLISHED or week.last_date < today:
        return ()
    lines = ServiceLine.objects.visible_to(viewer).filter(provider=week.teacher)
    known = _sessions_known(week)
    rows = lines.owed_between(week.monday, week.last_date).select_related("plan__student")
    missing = [line for line in rows.order_by("plan__student__last_name", "pk") if _is_missing(line, known)]
    owed = _owed_sessions(week) if missing else {}
    left = {line.pk: owed.get(line.pk, 0) - known.get(line.pk, _Known()).sessions for line in missing}
    return tuple(
        UnplannedService(line.plan.student.full_name, line.statement, left[line.pk])
        for line in missing
        if left[line.pk] > 0
    )


@dataclass(slots=True)
class _Known:
    """Sessions of a line that a week holds.

    `has_changed`: all of them were planned under another version, or the student is gone from some of them.
    """

    sessions: int = 0
    has_changed: bool = False


def _is_missing(line: ServiceLine, known: Mapping[int, _Known]) -> bool:
    """What the week was made with it has placed, or says that it hasn't."""
    return line.pk not in known or known[line.pk].has_changed


def _sessions_known(week: WeekPlan) -> dict[int, _Known]:
    """By line: what the week holds or says that it couldn't place, each by the version in force on its date."""
    attending = SessionAttendee.objects.filter(session__week=week, session__makes_up=False)
    gone = gone_among(attending)
    held = list(attending.values_list("service_line_id", "session__date", "session__uid"))
    waiting = UnplacedSession.objects.filter(week=week).values_list("service_line_id", flat=True)
    own = {*waiting, *(line for line, *_ in held)}
    versions = versions_by_line(own)
    found: dict[int, _Known] = {line: _Known() for line in own}
    for line, day, uid in held:
        now = line_on(line, day, versions)
        one = found.setdefault(now, _Known(has_changed=now not in own))
        if (uid, line) in gone.left | gone.handed_over:
            one.has_changed = True
        else:
            one.sessions += 1
    return found


def _owed_sessions(week: WeekPlan) -> dict[int, int]:
    """Sessions that the week owes on each line; nothing where it can't be planned anymore."""
    in_force = content_in_force(week.teacher, week.monday)
    try:
        loaded = load_week(week.teacher, week.monday, Base(in_force=in_force))
    except ApplicationError:
        return {}
    return {pk: line.owed.sessions for pk, line in loaded.lines.items()}

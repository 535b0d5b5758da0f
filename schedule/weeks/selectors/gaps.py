"""Services that a week owes and that its version knows nothing of: they came, or changed, after it was made."""

import datetime as dt
from dataclasses import dataclass

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.weeks.models import SessionAttendee, UnplacedSession, WeekPlan
from schedule.weeks.planning.assemble import Base
from schedule.weeks.planning.load import load_week
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
    known = SessionAttendee.objects.filter(session__week=week).values("service_line")
    waiting = UnplacedSession.objects.filter(week=week).values("service_line")
    missing = list(
        lines.owed_between(week.monday, week.last_date)
        .exclude(pk__in=known)
        .exclude(pk__in=waiting)
        .select_related("plan__student")
        .order_by("plan__student__last_name", "pk")
    )
    if not missing:
        return ()
    owed = _owed_sessions(week)
    return tuple(
        UnplannedService(line.plan.student.full_name, line.statement, owed[line.pk])
        for line in missing
        if owed.get(line.pk)
    )


def _owed_sessions(week: WeekPlan) -> dict[int, int]:
    """Sessions that the week owes on each line; nothing where it can't be planned anymore."""
    in_force = content_in_force(week.teacher, week.monday)
    try:
        loaded = load_week(week.teacher, week.monday, Base(in_force=in_force))
    except ApplicationError:
        return {}
    return {pk: line.owed.sessions for pk, line in loaded.lines.items()}

"""A week in force against what it owes now: services that came, or changed, after its version was made."""

import datetime as dt
import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.selectors import line_on, versions_by_line
from schedule.weeks.models import SessionAttendee, UnplacedSession, WeekPlan
from schedule.weeks.planning.assemble import Base
from schedule.weeks.planning.load import sessions_owed
from schedule.weeks.planning.quotas import BY_PERIOD, Owed
from schedule.weeks.selectors.leaving import gone_among
from schedule.weeks.versions.content import WeekContent, sessions_read
from schedule.weeks.versions.history import drafts_waiting


@dataclass(frozen=True, slots=True)
class UnplannedService:
    """Sessions of one service that are owed in the week and stand nowhere in it."""

    name: str
    statement: str
    sessions: int


@dataclass(frozen=True, slots=True)
class SpareSessions:
    """More sessions of one service in the week than it owes by the terms in force."""

    line: ServiceLine
    planned: int
    owed: int

    @property
    def spare(self) -> int:
        """How many too many."""
        return self.planned - self.owed


@dataclass(frozen=True, slots=True)
class WeekAgainstOwed:
    """What a week leaves out without saying so, and what it holds beyond what is owed."""

    left_out: tuple[UnplannedService, ...] = ()
    beyond: tuple[SpareSessions, ...] = ()


def week_against_owed(viewer: Person, week: WeekPlan, today: dt.date) -> WeekAgainstOwed:
    """A week in force that isn't over, against what it owes now; nothing for who can't change it."""
    if not viewer.has_perm("week.change") or week.status != WeekPlan.Status.PUBLISHED or week.last_date < today:
        return WeekAgainstOwed()
    found = _compared(viewer, week, today)
    left_out = (
        UnplannedService(one.line.plan.student.full_name, one.line.statement, -one.spare)
        for one in found
        if one.spare < 0
    )
    return WeekAgainstOwed(tuple(left_out), tuple(one for one in found if one.spare > 0))


def _compared(viewer: Person, week: WeekPlan, today: dt.date) -> list[SpareSessions]:
    """The services in question, each with what is planned and owed; none where the week can't be planned."""
    lines = ServiceLine.objects.visible_to(viewer).filter(provider=week.teacher)
    known = _sessions_known(week)
    rows = lines.owed_between(week.monday, week.last_date).select_related("plan__student")
    asked = [line for line in rows.order_by("plan__student__last_name", "pk") if _is_to_be_asked(line, known)]
    owed = _owed_sessions(week, asked, today) if asked else {}
    planned = {line.pk: known.get(line.pk, _Known()).sessions for line in asked}
    return [SpareSessions(line, planned[line.pk], owed[line.pk]) for line in asked if line.pk in owed]


@dataclass(slots=True)
class _Known:
    """Sessions of a line that a week holds.

    `has_changed`: all of them were planned under another version, or the student is gone from some of them.
    """

    sessions: int = 0
    has_changed: bool = False


def _is_to_be_asked(line: ServiceLine, known: Mapping[int, _Known]) -> bool:
    """What the week was made with it has placed, or says that it hasn't, unless the terms were corrected since."""
    return line.pk not in known or known[line.pk].has_changed or known[line.pk].sessions > _most_a_week(line)


def _most_a_week(line: ServiceLine) -> float:
    """Sessions that a line owes of a week at most; periods of several weeks can put all of theirs into one."""
    return line.times if line.unit == ServiceLine.Unit.WEEK and line.times else math.inf


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


def _owed_sessions(week: WeekPlan, asked: Sequence[ServiceLine], today: dt.date) -> dict[int, int]:
    """Sessions that the week owes on each line; nothing where it can't be planned, or a line not counted.

    What is owed by the month or longer counts as placed in weeks to come that wait to be published: a term has
    shared it out, and publishes them one by one.
    """
    in_force = WeekContent(sessions_read([week.pk])[week.pk])
    by_period = any(line.unit in BY_PERIOD for line in asked)
    this_week = today - dt.timedelta(days=today.weekday())
    waiting = drafts_waiting(week.teacher, week.monday, this_week) if by_period else {}
    base = Base(planned=waiting, in_force=in_force)
    try:
        owed = sessions_owed(week.teacher, week.monday, {line.pk for line in asked}, base)
    except ApplicationError:
        return {}
    return {line.pk: owed[line.pk].sessions if line.pk in owed else 0 for line in asked if not _problem(owed, line)}


def _problem(owed: Mapping[int, Owed], line: ServiceLine) -> bool:
    """Whether nobody can say what a line owes."""
    return line.pk in owed and bool(owed[line.pk].problem)


@dataclass(frozen=True, slots=True)
class SpareService:
    """A service of which some published weeks hold more sessions than its terms ever owe of a week."""

    line: ServiceLine
    planned: Mapping[dt.date, int]

    @property
    def most(self) -> int:
        """Sessions that a week owes at most."""
        return self.line.times or 0

    @property
    def spare(self) -> int:
        """How many too many at least, in all of those weeks."""
        return sum(count - self.most for count in self.planned.values())


def services_beyond(viewer: Person, teacher: Person, today: dt.date) -> list[SpareService]:
    """In published weeks from this one on, services by the week; a short week may owe fewer still.

    A fixed number of queries, and no week is loaded for it.
    """
    monday = today - dt.timedelta(days=today.weekday())
    attending = SessionAttendee.objects.filter(
        session__week__teacher=teacher,
        session__week__status=WeekPlan.Status.PUBLISHED,
        session__week__monday__gte=monday,
        session__makes_up=False,
    )
    counts = _counts_by_week(attending)
    rows = ServiceLine.objects.visible_to(viewer).filter(provider=teacher, pk__in=counts)
    found = []
    for line in rows.select_related("plan__student").order_by("plan__student__code", "start", "pk"):
        planned = {week: count for week, count in counts[line.pk].items() if count > _most_a_week(line)}
        found += [SpareService(line, planned)] if planned else []
    return found


def _counts_by_week(attending: QuerySet[SessionAttendee]) -> dict[int, dict[dt.date, int]]:
    """Sessions of each line in each week, each by the version in force on its date; without who is gone."""
    gone = gone_among(attending)
    off = gone.left | gone.handed_over
    names = ("service_line", "session__date", "session__uid", "session__week__monday")
    held = [one for one in attending.values_list(*names) if (one[2], one[0]) not in off]
    versions = versions_by_line({line for line, *_ in held})
    counts = Counter((line_on(line, day, versions), week) for line, day, _, week in held)
    found: dict[int, dict[dt.date, int]] = defaultdict(dict)
    for (line, week), count in sorted(counts.items()):
        found[line][week] = count
    return dict(found)

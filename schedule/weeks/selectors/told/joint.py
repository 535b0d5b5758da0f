"""What a week says of joint sessions: which another teacher gives as well, and which aren't at the same time."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from django.db.models import Q

from accounts.models import Person
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.starts import spoken
from schedule.calendar.words import listed
from schedule.joint.agreed import AgreedByService, GivenTogether
from schedule.joint.models import JointService
from schedule.joint.selectors import given_together
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.planning.others.elsewhere import IN_FORCE, Elsewhere, held_by_others
from schedule.weeks.planning.others.joint import is_agreed, is_beside
from schedule.weeks.planning.others.under_way import drafts_under_way
from schedule.weeks.selectors.told.mates import Mates, mates_of

OPEN = {WeekPlan.Status.DRAFT}

type Beside = Mapping[str, tuple[str, ...]]
"""By a session's uid, who else gives it at the same time in the same place: ``Ada Vey, who is away``."""


@dataclass(frozen=True, slots=True)
class JointApart:
    """Sessions of a student that should be given together in a week, and aren't.

    ``missing``: how many. ``theirs``: when ``teacher`` has the student then.
    """

    student: int
    code: str
    teacher: str
    missing: int
    theirs: tuple[Elsewhere, ...]

    def words(self, who: str) -> str:
        """A sentence, with the student in the reader's words."""
        times = listed([f"{one.date:%A} {spoken(one.span)}" for one in self.theirs])
        should = "1 session is" if self.missing == 1 else f"{self.missing} sessions are"
        return (
            f"{who}: {should} no longer at the same time as {self.teacher} in the same place. {self.teacher} has "
            f"{times}."
        )


@dataclass(frozen=True, slots=True)
class JointSeen:
    """Who gives sessions as well, and what should be at the same time and isn't.

    ``otherwise``: of ``beside`` those on whose day something happened; what is only logged doesn't count.
    """

    beside: Beside = field(default_factory=dict)
    otherwise: Beside = field(default_factory=dict)
    apart: tuple[JointApart, ...] = ()


def joint_seen(week: WeekPlan) -> JointSeen:
    """A version of a week beside the weeks in force of others; one query where nothing is given together.

    A draft also beside the drafts that others are at work on, since both may come into force.
    """
    read = _read(week.teacher, Q(session__week=week), week.monday, week.last_date)
    drafts = drafts_under_way(week.teacher, [week.monday]) if read.agreed and week.status in OPEN else []
    if not drafts:
        beside = read.beside()
        return JointSeen(beside.words(), beside.words(otherwise=True), tuple(read.apart()))
    draft = read.with_theirs(week, Q(session__week__in=drafts))
    held = {one.teacher for one in draft.theirs}
    missing = {(one.student, one.teacher) for one in draft.apart()}
    apart = (one for one in read.apart() if one.teacher not in held or (one.student, one.teacher) in missing)
    beside = read.beside()
    return JointSeen({**draft.beside().words(), **beside.words()}, beside.words(otherwise=True), tuple(apart))


def joint_between(teacher: Person, first: dt.date, last: dt.date) -> Beside:
    """The same of a teacher's weeks in force between two dates."""
    return _read(teacher, IN_FORCE & Q(session__week__teacher=teacher), first, last).beside().words()


def joint_of(sessions: Collection[PlannedSession]) -> Beside:
    """The same of some sessions of weeks in force; one query where none of them is given together."""
    attending = SessionAttendee.objects.filter(session__in=[one.pk for one in sessions])
    services = attending.values("service_line__service")
    if not JointService.objects.filter(Q(service__in=services) | Q(partner__in=services)).exists():
        return {}
    dates = [one.date for one in sessions]
    teachers = {one.week.teacher for one in sessions}
    return {uid: who for one in teachers for uid, who in joint_between(one, min(dates), max(dates)).items()}


def _read(teacher: Person, mine: Q, first: dt.date, last: dt.date) -> "_Read":
    """Sessions of joint services, one's own (a condition on attendances) and those of others in force."""
    attending = SessionAttendee.objects.filter(mine, session__date__range=(first, last))
    services = attending.values("service_line__service")
    agreed = given_together(Q(service__in=services) | Q(partner__in=services), first, last)
    if not agreed:
        return _Read(agreed, (), ())
    joint = Q(service_line__service__in=agreed)
    rows = attending.filter(joint).select_related("session", "service_line", "student")
    theirs = held_by_others(teacher, joint, first, last)
    return _Read(agreed, tuple(rows.order_by("session__date", "session__start")), theirs)


@dataclass(frozen=True, slots=True)
class _Pair:
    """A session by its uid, what another teacher holds beside it, and the services that may be given together."""

    uid: str
    other: Elsewhere
    services: frozenset[int]


@dataclass(frozen=True, slots=True)
class _Beside:
    """Sessions with those of others that stand beside them, and what the day has made of these."""

    pairs: Sequence[_Pair]
    mates: Mates

    def words(self, *, otherwise: bool = False) -> dict[str, tuple[str, ...]]:
        """By uid, each other teacher once; `otherwise`: only those on whose day something happened."""
        found: dict[str, dict[str, None]] = defaultdict(dict)
        for one in self.pairs:
            if not otherwise or self.mates.differs(one.other):
                found[one.uid][self.mates.words(one.other, one.services)] = None
        return {uid: tuple(names) for uid, names in found.items()}


@dataclass(frozen=True, slots=True)
class _Read:
    agreed: AgreedByService
    rows: Sequence[SessionAttendee]
    theirs: Sequence[Elsewhere]

    def with_theirs(self, week: WeekPlan, weeks: Q) -> "_Read":
        """The same beside other versions of others' weeks."""
        joint = Q(service_line__service__in=self.agreed)
        return replace(self, theirs=held_by_others(week.teacher, joint, week.monday, week.last_date, weeks))

    def beside(self) -> "_Beside":
        found: list[_Pair] = []
        for row in self.rows:
            agreed = self.agreed.get(row.service_line.service_id, ())
            found += [
                _Pair(str(row.session.uid), other, frozenset(one.partner for one in agreed))
                for other in self.theirs
                if _stands_beside(row, agreed, other)
            ]
        return _Beside(tuple(found), mates_of(one.other for one in found))

    def apart(self) -> Iterator[JointApart]:
        """Each agreement of which a session is missing."""
        for service in sorted({row.service_line.service_id for row in self.rows}):
            mine = [row for row in self.rows if row.service_line.service_id == service]
            for agreed in self.agreed.get(service, ()):
                yield from self._missing(agreed, [row for row in mine if agreed.holds_on(row.session.date)])

    def _missing(self, agreed: GivenTogether, mine: Sequence[SessionAttendee]) -> Iterator[JointApart]:
        theirs = [one for one in self.theirs if is_agreed([agreed], one)]
        alone = [one for one in theirs if not any(_stands_beside(row, [agreed], one) for row in mine)]
        joint = [row for row in mine if any(_stands_beside(row, [agreed], one) for one in theirs)]
        missing = agreed.most(len(mine), len(theirs)) - len(joint)
        if missing > 0:
            student = mine[0].student
            yield JointApart(student.pk, student.code, theirs[0].teacher, missing, tuple(alone))


def _stands_beside(row: SessionAttendee, agreed: Sequence[GivenTogether], other: Elsewhere) -> bool:
    held = row.session
    span = minutes_of(held.start), minutes_of(held.end)
    same = other.date == held.date and is_beside(other, span, held.building_id, held.space_id)
    return same and is_agreed(agreed, other)

"""Who has left: teachers after their last day of work, and students and services that are gone from a session.

Only ids and days are read, no table with a student's name: a building's feed asks, too.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from accounts.dates import day_words
from accounts.idempotency.shared import is_sharing, shared
from accounts.models import Person, Substitution
from accounts.models.sql_once import SqlOnce
from caseload.plans.enrollment.selectors import stays_by_student
from caseload.plans.enrollments import Stay
from caseload.plans.models import Enrollment, ServiceLine, Student
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from travel.places.models import Building

type Pair = tuple[UUID, int]


def days_after_leaving(teacher: Person, dates: Iterable[dt.date]) -> frozenset[dt.date]:
    """Those of the dates after the teacher's last day on which nobody stands in."""
    after = {date for date in dates if teacher.has_left(date)}
    if not after:
        return frozenset()
    covers = Substitution.objects.whole_days().filter(
        teacher=teacher, last_date__gte=min(after), first_date__lte=max(after)
    )
    spans = list(covers.values_list("first_date", "last_date"))
    return frozenset(date for date in after if not any(first <= date <= last for first, last in spans))


def after_closing(building: Building, date: dt.date) -> bool:
    """Whether a building has closed for good by a date."""
    return building.last_day is not None and date > building.last_day


def teacher_gone(teacher: str, date: str) -> Q:
    """The same as a condition on rows, by the paths of the teacher and of the date."""
    covered = Substitution.objects.whole_days().filter(
        teacher=OuterRef(teacher), first_date__lte=OuterRef(date), last_date__gte=OuterRef(date)
    )
    return Q(**{f"{teacher}__last_day__isnull": False, f"{teacher}__last_day__lt": F(date)}) & Q(~Exists(covered))


@dataclass(frozen=True, slots=True)
class Gone:
    """Who isn't in planned sessions anymore by their dates, as pairs of a session's uid and a service line.

    `left`: students who have left the district, moved to another school, or whose program there is over.
    `handed_over`: services that another teacher gives by then; they stand in the week of the one before until it is
    planned again. `attending`: everyone in the sessions of these pairs.
    """

    left: frozenset[Pair] = frozenset()
    handed_over: frozenset[Pair] = frozenset()
    attending: Mapping[UUID, frozenset[int]] = field(default_factory=dict)

    @property
    def sessions_left(self) -> frozenset[str]:
        """Sessions, by their uid, whose students have all left."""
        return self._without(self.left)

    @property
    def sessions_handed_over(self) -> frozenset[str]:
        """Sessions, by their uid, in which nobody is anymore and of which somebody was handed over."""
        return self._without(self.left | self.handed_over) - self.sessions_left

    @property
    def sessions(self) -> frozenset[str]:
        """Sessions, by their uid, that are off for good."""
        return self._without(self.left | self.handed_over)

    def is_absent(self, uid: UUID, line: int) -> bool:
        """Whether a session goes on without one who was planned in it."""
        pairs = self.left | self.handed_over
        return (uid, line) in pairs and any((uid, one) not in pairs for one in self.attending[uid])

    def _without(self, pairs: Set[Pair]) -> frozenset[str]:
        return frozenset(
            str(uid) for uid, lines in self.attending.items() if all((uid, line) in pairs for line in lines)
        )


def gone_among(rows: QuerySet[SessionAttendee]) -> Gone:
    """Who of these isn't in their session anymore. One query where nothing has changed, four at most."""
    return _gone(_touched(rows))


def _gone(values: Iterable[tuple[Any, ...]]) -> Gone:
    found = frozenset(_Touched(*each) for each in values)
    left, handed_over = _left(found), _handed_over(found)
    touched = {uid for uid, _ in left | handed_over}
    if not touched:
        return Gone()
    attending: dict[UUID, set[int]] = defaultdict(set)
    everyone = SessionAttendee.objects.filter(session__uid__in=touched).order_by()
    for uid, line in everyone.values_list("session__uid", "service_line"):
        attending[uid].add(line)
    return Gone(left, handed_over, {uid: frozenset(lines) for uid, lines in attending.items()})


def gone_in(rows: Iterable[PlannedSession]) -> Gone:
    """Who of these sessions isn't in them anymore."""
    wanted = [row.pk for row in rows]
    return _gone(TOUCHED_IN(wanted)) if wanted else Gone()


def gone_from(uids: Iterable[UUID]) -> Gone:
    """Who of the sessions with these uids isn't in them anymore."""
    wanted = frozenset(uids)
    if not wanted:
        return Gone()
    return shared(("gone", wanted), lambda: _gone(TOUCHED(wanted)))


def gone_on(days: Iterable[tuple[int, dt.date]], uids: Iterable[UUID]) -> Gone:
    """The same; `days` are these sessions' weeks and dates. For several sendings, a date is looked at once."""
    if not is_sharing():
        return gone_from(uids)
    return gone_from({uid for week, date in days for uid in _uids_on(week, date)})


def _uids_on(week: int, date: dt.date) -> frozenset[UUID]:
    rows = PlannedSession.objects.filter(week=week, date=date)
    return shared(("sessions", week, date), lambda: frozenset(rows.values_list("uid", flat=True)))


def gone_of_student(student: Student) -> Gone:
    """Who isn't in a student's sessions of published weeks anymore."""
    published = SessionAttendee.objects.filter(session__week__status=WeekPlan.Status.PUBLISHED)
    return gone_among(published.filter(student=student))


def sessions_off_told(before: Gone, after: Gone) -> list[str]:
    """In sentences, which published sessions a change takes off, and which go on without somebody. Two queries."""
    off = after.sessions - before.sessions
    pairs = (after.left | after.handed_over) - (before.left | before.handed_over)
    without = {str(uid) for uid, _ in pairs} - after.sessions
    told = [
        _sessions_told(off, "wouldn't take place anymore"),
        _sessions_told(without, "would go on without the student"),
    ]
    return [text for text in told if text]


def _sessions_told(uids: Collection[str], what: str) -> str:
    """How many sessions, what of them, and when each is; empty where there are none."""
    rows = PlannedSession.objects.filter(uid__in=uids, week__status=WeekPlan.Status.PUBLISHED)
    days = [f"{day_words(one.date)} at {one.start:%-I:%M %p}" for one in rows.order_by("date", "start")]
    count = "1 published session" if len(days) == 1 else f"{len(days)} published sessions"
    return f"{count} {what}: {'; '.join(days)}." if days else ""


@dataclass(frozen=True, slots=True)
class _Touched:
    """One in a session of whom something has changed by its date."""

    uid: UUID
    line: int
    service: int
    student: int
    teacher: int
    building: int
    date: dt.date
    another: bool

    @property
    def pair(self) -> Pair:
        return self.uid, self.line


def _touched(rows: QuerySet[SessionAttendee]) -> QuerySet[SessionAttendee, tuple[Any, ...]]:
    """What `_Touched` holds, of those whose enrollment somewhere has ended, or whose service another teacher gives.

    Or has given.
    """
    others = ServiceLine.objects.filter(service=OuterRef("service_line__service"))
    others = others.filter(start__lte=OuterRef("session__date"))
    another = Exists(others.exclude(provider=OuterRef("session__week__teacher")))
    ended = Enrollment.objects.filter(student=OuterRef("student"), last_day__lt=OuterRef("session__date"))
    found = rows.alias(another=another).filter(Exists(ended) | Q(another=True)).order_by()
    found = found.annotate(school=Coalesce("session__students_from", "session__building"))
    names = (
        "session__uid", "service_line", "service_line__service", "student", "session__week__teacher",
        "school", "session__date",
    )  # fmt: skip
    return found.values_list(*names, another)


TOUCHED = SqlOnce(lambda uids: _touched(SessionAttendee.objects.filter(session__uid__in=uids)))
TOUCHED_IN = SqlOnce(lambda sessions: _touched(SessionAttendee.objects.filter(session__in=sessions)))


def _left(found: Collection[_Touched]) -> frozenset[Pair]:
    stays = stays_by_student({one.student for one in found}) if found else {}
    return frozenset(one.pair for one in found if _has_left(stays.get(one.student, ()), one.building, one.date))


def _handed_over(found: Collection[_Touched]) -> frozenset[Pair]:
    services = {one.service for one in found if one.another}
    versions: dict[int, list[_Given]] = defaultdict(list)
    lines = ServiceLine.objects.filter(service__in=services).order_by() if services else ServiceLine.objects.none()
    for service, provider, start, end in lines.values_list("service_id", "provider_id", "start", "end"):
        versions[service].append(_Given(provider, start, end))
    return frozenset(one.pair for one in found if _is_anothers(versions[one.service], one.teacher, one.date))


class _Given(NamedTuple):
    """Who gives a service from when to when."""

    provider_id: int
    start: dt.date
    end: dt.date


def _is_anothers(versions: Iterable[_Given], teacher: int, date: dt.date) -> bool:
    """Whether a service on a date is that of a teacher who took it over: the one who planned it gave it before."""
    before = any(line.provider_id == teacher and line.start <= date for line in versions)
    return before and any(line.provider_id != teacher and line.start <= date <= line.end for line in versions)


def _has_left(stays: Sequence[Stay], building: int, date: dt.date) -> bool:
    """Whether a student was at a building and isn't on a date. Nothing is said of who was never there by record."""
    there = [stay for stay in stays if stay.building_id == building]
    gone = max((stay.ends for stay in stays), default=dt.date.max) < date
    return gone or (any(stay.ends < date for stay in there) and not any(date in stay for stay in there))

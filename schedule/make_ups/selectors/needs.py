"""Minutes that wait to be made up, service by service and group by group, and what is booked of them."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import QuerySet

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE
from caseload.delivery.in_force import in_force
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.rows import LedgerRow, LineLedger, StudentLedger
from caseload.delivery.selectors.log import settings_of
from caseload.ledger.defaults import LEAST_MINUTES
from caseload.ledger.terms import Rules
from caseload.plans.models import ServiceLine, Student
from caseload.plans.selectors import line_on, versions_by_line
from schedule.calendar.selectors.school_days import minutes_of
from schedule.log.selectors.ledger import ledgers_of
from schedule.make_ups.minutes import (
    BookedMinutes,
    Lengths,
    OpenMinutes,
    less_booked,
    open_minutes,
)
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.planning.load import district_of_teacher
from schedule.weeks.planning.quotas import USUAL_SESSION
from schedule.weeks.selectors.scope import teacher_require
from travel.places.models import Building


@dataclass(frozen=True, slots=True)
class Booked:
    """A make-up that is in a week and isn't over. `in_force`: the week is published."""

    week_id: int
    uid: str
    line: int
    date: dt.date
    start: dt.time
    minutes: int
    in_force: bool
    makes_up_for: dt.date | None = None


@dataclass(frozen=True, slots=True)
class MakeUpNeed:
    """A service line with minutes to make up, oldest first, and the make-ups that are booked already.

    `spare` are booked minutes beyond all that is open: they are for what is still to come. `least` is the
    district's shortest session.
    """

    line: ServiceLine
    open: tuple[OpenMinutes, ...]
    booked: tuple[Booked, ...] = ()
    spare: int = 0
    least: int = LEAST_MINUTES

    @property
    def student(self) -> Student:
        """Whose they are."""
        return self.line.plan.student

    @property
    def minutes(self) -> int:
        """Open minutes in all."""
        return sum(one.minutes for one in self.open)

    @property
    def due(self) -> dt.date | None:
        """The earliest date by which some of them should be made up."""
        return min((one.due for one in self.open), default=None)

    @property
    def usual(self) -> int:
        """Minutes of a usual session."""
        return self.line.minutes or USUAL_SESSION

    @property
    def lengths(self) -> Lengths:
        """What decides how long its make-ups can be."""
        return Lengths(self.usual, self.least)

    @property
    def too_few(self) -> bool:
        """Whether what is open is too little for a session of its own: it is given after one, and logged."""
        return 0 < self.minutes < self.lengths.shortest_alone

    @property
    def is_plannable(self) -> bool:
        """Whether some of it can be placed as a session."""
        return bool(self.open) and not self.too_few


@dataclass(frozen=True, slots=True)
class GroupNeed:
    """A session that several students missed and that is owed to each: it can be given again to all of them."""

    session: str
    missed: dt.date
    members: tuple[MakeUpNeed, ...]

    @property
    def minutes(self) -> int:
        """The longest that one of them has open of it."""
        return max(self.item_of(one).minutes for one in self.members)

    @property
    def due(self) -> dt.date:
        """The earliest date by which one of them should have it."""
        return min(self.item_of(one).due for one in self.members)

    @property
    def usual(self) -> int:
        """Minutes of a usual session."""
        return max(one.usual for one in self.members)

    @property
    def building(self) -> Building:
        """Where they are."""
        return self.members[0].student.building

    def item_of(self, member: MakeUpNeed) -> OpenMinutes:
        """What a member has open of the session."""
        return next(one for one in member.open if one.session == self.session)


def group_needs(needs: Iterable[MakeUpNeed]) -> tuple[GroupNeed, ...]:
    """Sessions that two students or more missed together and have open still, the earliest date first."""
    found: dict[tuple[str, dt.date], list[MakeUpNeed]] = defaultdict(list)
    for need in needs:
        for one in need.open:
            if one.session and one.missed is not None:
                found[one.session, one.missed].append(need)
    groups = (GroupNeed(session, day, tuple(who)) for (session, day), who in found.items() if len(who) > 1)
    return tuple(sorted(groups, key=lambda one: (one.due, one.missed, one.session)))


def booked_sessions(needs: Iterable[MakeUpNeed]) -> list[tuple[list[MakeUpNeed], Booked]]:
    """Each booked make-up once, by date, with everyone for whom it is."""
    found: dict[str, tuple[list[MakeUpNeed], Booked]] = {}
    for need in needs:
        for one in need.booked:
            found.setdefault(one.uid, ([], one))[0].append(need)
    return sorted(found.values(), key=lambda one: (one[1].date, one[1].start, one[1].uid))


def line_to_make_up(viewer: Person, line_id: int, today: dt.date) -> ServiceLine:
    """A service line whose make-ups the viewer may book; raises `ApplicationError` (404) for any other.

    Of a service that has changed it is the version that holds today, whichever is named.
    """
    now = line_on(line_id, today, versions_by_line([line_id]))
    rows = ServiceLine.objects.visible_to(viewer).filter(pk=now)
    line = rows.select_related("plan__student__building__district", "plan__student__district", "provider").first()
    if line is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    teacher_require(viewer, line.provider)
    return line


def make_up_need(viewer: Person, line: ServiceLine, today: dt.date) -> MakeUpNeed:
    """What one line has open today; nothing where the ledger can't be worked out."""
    line = line_to_make_up(viewer, line.pk, today)
    found = _needs([line], today)
    return found.get(line.pk, MakeUpNeed(line, ()))


def make_up_needs(
    viewer: Person, teacher: Person, today: dt.date, ahead: Mapping[int, Sequence[OpenMinutes]] | None = None
) -> tuple[MakeUpNeed, ...]:
    """Every line of a teacher that has open minutes or a make-up booked, most urgent first.

    `ahead` are minutes by line that are to be made up although they aren't missed yet. The number of queries is
    fixed. Raises `ApplicationError` (404) for a teacher who isn't the viewer's to plan.
    """
    teacher_require(viewer, teacher)
    rows = ServiceLine.objects.filter(provider=teacher, plan__student__district=teacher.district)
    rows = rows.owed_between(today - dt.timedelta(days=366), today)
    lines = list(rows.select_related("plan__student__building__district", "provider"))
    more = ahead or {}
    needs = (replace(one, open=(*one.open, *more.get(one.line.pk, ()))) for one in _needs(lines, today).values())
    found = [one for one in needs if one.open or one.booked]
    return tuple(sorted(found, key=lambda one: (one.due or dt.date.max, -one.minutes, one.student.code)))


def _needs(lines: list[ServiceLine], today: dt.date) -> dict[int, MakeUpNeed]:
    if not lines:
        return {}
    district = district_of_teacher(lines[0].provider)
    students = {line.plan.student_id: line.plan.student for line in lines}
    ledgers = ledgers_of(district, list(students.values()), today)
    wanted = {line.pk: line for line in lines}
    own = [(student, one) for student in ledgers for one in student.lines if one.line.pk in wanted]
    return needs_from(own, wanted, today)


def needs_from(
    ledgers: Sequence[tuple[StudentLedger, LineLedger]], lines: Mapping[int, ServiceLine], today: dt.date
) -> dict[int, MakeUpNeed]:
    """What each of some lines of one district has open, from their ledgers; by the line's id."""
    first = next(iter(lines.values()), None)
    if first is None:
        return {}
    settings = settings_of(district_of_teacher(first.provider))
    booked = booked_make_ups({version.pk for _, one in ledgers for version in one.versions}, today)
    found: dict[int, MakeUpNeed] = {}
    for student, one in ledgers:
        mine = tuple(make_up for version in one.versions for make_up in booked.get(version.pk, ()))
        every = _open(one, student.rules, settings.make_up_days)
        given = [BookedMinutes(make_up.minutes, make_up.makes_up_for) for make_up in mine]
        left, spare = less_booked(every, given)
        found[one.line.pk] = MakeUpNeed(lines[one.line.pk], left, mine, spare, settings.least_minutes)
    return found


def _open(one: LineLedger, rules: Rules, days: int) -> tuple[OpenMinutes, ...]:
    if one.ledger is None:
        return ()
    records = [row.record for row in (*one.earlier, *one.rows)]
    found = open_minutes(one.ledger.all_periods, records, rules, make_up_days=days, last=last_day_of(one))
    sessions = {row.record.id: _session_of(row) for row in (*one.earlier, *one.rows)}
    return tuple(replace(open_, session=sessions.get(open_.record, "")) for open_ in found)


def last_day_of(one: LineLedger) -> dt.date:
    """The last day of a service, whichever of its versions is in force then."""
    return max(in_force(version)[1] for version in one.versions)


def _session_of(row: LedgerRow) -> str:
    """The uid of the planned session that a row stands for; empty where none was planned."""
    uid = row.planned.uid if row.planned is not None else row.entry.uid if row.entry is not None else None
    return str(uid) if uid is not None else ""


def booked_make_ups(lines: Collection[int], today: dt.date) -> Mapping[int, list[Booked]]:
    """Make-ups by line that stand in a published week, or in a draft where none is, and have no log yet.

    Two queries. A past one without a log still counts: nobody knows yet whether it took place.
    """
    rows = (
        SessionAttendee.objects.filter(
            service_line__in=lines,
            session__makes_up=True,
            session__week__status__in=[WeekPlan.Status.PUBLISHED, WeekPlan.Status.DRAFT],
        )
        .exclude(session__uid__in=_logged_uids(lines))
        .select_related("session__week")
        .order_by("session__date", "session__start", "-session__week__created_at")
    )
    attending = list(rows)
    published = _published_weeks(one.session.week for one in attending)
    found: dict[int, dict[str, Booked]] = defaultdict(dict)
    for one in attending:
        session, week = one.session, one.session.week
        in_force_now = week.status == WeekPlan.Status.PUBLISHED
        if not in_force_now and ((week.teacher_id, week.monday) in published or session.date <= today):
            continue
        minutes = minutes_of(session.end) - minutes_of(session.start)
        line, uid = one.service_line_id, str(session.uid)
        for_day = session.makes_up_for
        booked = Booked(week.pk, uid, line, session.date, session.start, minutes, in_force_now, for_day)
        found[line].setdefault(uid, booked)
    return {line: list(by_uid.values()) for line, by_uid in found.items()}


def _logged_uids(lines: Collection[int]) -> QuerySet[DeliveryVersion, uuid.UUID | None]:
    """Make-ups whose log says what happened."""
    rows = DeliveryVersion.objects.current().filter(
        entry__service_line__in=lines,
        entry__makes_up=True,
        entry__session_uid__isnull=False,
        delivered_minutes__isnull=False,
    )
    return rows.values_list("entry__session_uid", flat=True)


def _published_weeks(weeks: Iterable[WeekPlan]) -> set[tuple[int, dt.date]]:
    """Of the weeks that these are versions of, those with a version in force."""
    wanted = {(week.teacher_id, week.monday) for week in weeks}
    rows = WeekPlan.objects.filter(
        teacher__in={teacher for teacher, _ in wanted},
        monday__in={monday for _, monday in wanted},
        status=WeekPlan.Status.PUBLISHED,
    )
    return set(rows.values_list("teacher_id", "monday"))


def make_up_session(viewer: Person, week: WeekPlan, uid: str) -> PlannedSession:
    """A make-up of a week; raises `ApplicationError` (404) for any other session."""
    row = PlannedSession.objects.visible_to(viewer).filter(week=week, uid=uid, makes_up=True).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row

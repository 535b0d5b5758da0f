"""Minutes that wait to be made up, and where in the coming weeks they fit."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import QuerySet

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.rows import LineLedger, StudentLedger, in_force
from caseload.delivery.selectors.log import settings_of
from caseload.ledger.terms import Rules
from caseload.plans.models import ServiceLine, Student
from schedule.calendar.selectors.school_days import minutes_of
from schedule.log.selectors.ledger import ledgers_of
from schedule.make_ups.minutes import (
    BookedMinutes,
    MakeUpSlot,
    OpenMinutes,
    Wanted,
    days_to_avoid,
    joined_open,
    less_booked,
    open_minutes,
    piece_lengths,
    rank_slots,
    shortest_alone,
    without_short_rests,
)
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.planning.load import district_of_teacher, monday_of
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.planning.quotas import USUAL_SESSION
from schedule.weeks.selectors.scope import teacher_require

MOST_WEEKS = 6
"""Weeks that are looked at for one make-up; common practice, no source."""

SCHOOL_DAYS = 5
MOST_SLOTS = 200
SKIPPED = frozenset({"no_school_days", "no_services", "no_school_year"})


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


@dataclass(frozen=True, slots=True)
class MakeUpNeed:
    """A service line with minutes to make up, oldest first, and the make-ups that are booked already.

    `spare` are booked minutes beyond all that is open: they are for what is still to come.
    """

    line: ServiceLine
    open: tuple[OpenMinutes, ...]
    booked: tuple[Booked, ...] = ()
    spare: int = 0

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
    def too_few(self) -> bool:
        """Whether what is open is too little for a session of its own: it is given after one, and logged."""
        return 0 < self.minutes < shortest_alone(self.usual)

    def wanted(self) -> list[Wanted]:
        """The open minutes as they are to be placed."""
        open_ = joined_open(self.open, self.usual)
        return [Wanted(self.line.pk, self.student.marked_code, one.minutes, one.due) for one in open_]


@dataclass(frozen=True, slots=True)
class MakeUpSlots:
    """Where the minutes of one line fit; `notes` say which weeks could not be looked at and why."""

    need: MakeUpNeed
    until: dt.date
    slots: tuple[MakeUpSlot, ...]
    notes: tuple[str, ...]
    left_out: int = 0


def line_to_make_up(viewer: Person, line_id: int) -> ServiceLine:
    """A service line whose make-ups the viewer may book; raises `ApplicationError` (404) for any other."""
    rows = ServiceLine.objects.visible_to(viewer).filter(pk=line_id)
    line = rows.select_related("plan__student__building__district", "plan__student__district", "provider").first()
    if line is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    teacher_require(viewer, line.provider)
    return line


def make_up_need(viewer: Person, line: ServiceLine, today: dt.date) -> MakeUpNeed:
    """What one line has open today; nothing where the ledger can't be worked out."""
    line = line_to_make_up(viewer, line.pk)
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


def _slots_in(week: MakeUpWeek, line: ServiceLine, pieces: Iterable[MakeUp], first: dt.date) -> list[MakeUpSlot]:
    """Every slot of a week from a date on."""
    avoid = avoided_days(week, line)
    return [one.slot for piece in pieces for one in week.places(piece, first, avoid)]


def make_up_slots(viewer: Person, line: ServiceLine, today: dt.date, until: dt.date | None = None) -> MakeUpSlots:
    """Slots from tomorrow on for what a line has open, best first (schedule.make_ups.minutes ranks them).

    Up to `until`, or the due date (two weeks at least), and never further than `MOST_WEEKS`.
    """
    need = make_up_need(viewer, line, today)
    furthest = monday_of(today) + dt.timedelta(weeks=MOST_WEEKS, days=-1)
    last = min(until or max(need.due or today, today + dt.timedelta(days=14)), furthest, in_force(line)[1])
    if need.due is None or need.too_few:
        return MakeUpSlots(need, last, (), ())
    pieces = [MakeUp(line.pk, minutes) for minutes in piece_lengths(need.minutes, need.usual)]
    slots: list[MakeUpSlot] = []
    notes: list[str] = []
    tomorrow = today + dt.timedelta(days=1)
    for monday in _mondays(tomorrow, last):
        week = open_week(line.provider, monday, pieces, notes)
        found = _slots_in(week, line, pieces, tomorrow) if week is not None else ()
        slots += [slot for slot in found if slot.date <= last]
    ranked = rank_slots(without_short_rests(slots, need.minutes, need.usual), need.due)
    return MakeUpSlots(need, last, ranked[:MOST_SLOTS], tuple(notes), max(len(ranked) - MOST_SLOTS, 0))


def open_week(teacher: Person, monday: dt.date, pieces: Iterable[MakeUp], notes: list[str]) -> MakeUpWeek | None:
    """The week to try make-ups in; None, with a sentence in `notes`, where it has nothing to teach."""
    try:
        return MakeUpWeek(teacher, monday, pieces)
    except ApplicationError as error:
        if error.code not in SKIPPED:
            raise
        notes.append(error.message)
        return None


def avoided_days(week: MakeUpWeek, line: ServiceLine) -> frozenset[dt.date]:
    """Days of a week on which the line's own rule (days apart) keeps a make-up away."""
    days = {
        ServiceLine.Unit.DAY: 1,
        ServiceLine.Unit.WEEK: SCHOOL_DAYS,
        ServiceLine.Unit.CYCLE: line.cycle_days or SCHOOL_DAYS,
    }
    daily = line.times is not None and line.times >= days.get(ServiceLine.Unit(line.unit), line.times + 1)
    return days_to_avoid(line.days_apart, week.dates_of(line.pk), daily=daily)


def _mondays(first: dt.date, last: dt.date) -> list[dt.date]:
    monday = monday_of(first)
    count = max((monday_of(last) - monday).days // 7 + 1, 0)
    return [monday + dt.timedelta(weeks=number) for number in range(count)]


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
    days = settings_of(district_of_teacher(first.provider)).make_up_days
    booked = booked_make_ups(lines, today)
    found: dict[int, MakeUpNeed] = {}
    for student, one in ledgers:
        mine = tuple(make_up for version in one.versions for make_up in booked.get(version.pk, ()))
        every = _open(one, student.rules, days)
        left, spare = less_booked(every, [BookedMinutes(make_up.minutes) for make_up in mine])
        found[one.line.pk] = MakeUpNeed(lines[one.line.pk], left, mine, spare)
    return found


def _open(one: LineLedger, rules: Rules, days: int) -> tuple[OpenMinutes, ...]:
    if one.ledger is None:
        return ()
    rows = (row.record for row in one.rows)
    return open_minutes(
        one.ledger.periods, rules=rules, sessions=rows, make_up_days=days, last=in_force(one.line)[1]
    )


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
        booked = Booked(week.pk, uid, line, session.date, session.start, minutes, in_force_now)
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

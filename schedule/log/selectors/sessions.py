"""Sessions of published weeks as the log sees them: what was planned, what is logged, what waits for its log."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from caseload.care.selectors import care_of
from caseload.care.written import Care, ask_first_among
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.rows import LoggedEntry
from caseload.delivery.selectors.log import entries_of_sessions
from caseload.plans.names import student_names, students_seen
from schedule.calendar.selectors.school_days import minutes_of
from schedule.log.missed_as import MISSED_AS
from schedule.weeks.day_truth import off_words, short_words
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.covered import covered_now
from schedule.weeks.selectors.day_shapes import AsHeld, as_held
from schedule.weeks.selectors.leaving import Gone, gone_on
from schedule.weeks.selectors.told.joint import Beside, joint_of
from travel.places.models import Building


@dataclass(frozen=True, slots=True)
class LogAttendee:
    """A student's service line in a session, with its entry if it is logged (or was, and was withdrawn).

    `care`: supports and cautions; a student without any written down has an empty one.
    """

    line_id: int
    student_id: int
    code: str
    name: str
    entry: LoggedEntry | None
    care: Care

    @property
    def is_logged(self) -> bool:
        """Whether the log says what happened."""
        return self.entry is not None and self.entry.delivered is not None


@dataclass(frozen=True, slots=True)
class Known:
    """What a page has read already of the sessions that it asks for, by the same selectors.

    What each comes to by its uid, who isn't in them anymore, and everyone's supports, cautions and names; the
    sessions themselves, with all that is read of them here, if the viewer logs all that were read.
    """

    held: Mapping[uuid.UUID, AsHeld]
    gone: Gone
    care: Mapping[int, Care]
    names: Mapping[int, str]
    rows: Sequence[PlannedSession] | None = None

    def has(self, sessions: Iterable[PlannedSession]) -> bool:
        """Whether these are among the sessions that were read."""
        return all(row.uid in self.held for row in sessions)


@dataclass(frozen=True, slots=True)
class LogSession:
    """A session of a published week. Times are local to the building; `is_over` by its clock.

    `off`: why it is off for good, as a clause; empty if it isn't. Nobody in it waits for a log then. `falls_out`:
    why it isn't held on its day, and is to be logged as missed for the reason `missed_as`, a code. `changed`: how
    it is held otherwise, `left` its minutes then. `together`: the teachers who give it at the same time.
    `students_from`: their school, where they come to another building.
    """

    uid: uuid.UUID
    teacher_id: int
    date: dt.date
    start: dt.time
    end: dt.time
    minutes: int
    building_id: int
    building_name: str
    space_name: str
    class_name: str
    setting: str
    setting_label: str
    makes_up: bool
    makes_up_for: dt.date | None
    attendees: tuple[LogAttendee, ...]
    is_over: bool
    is_future: bool
    off: str = ""
    falls_out: str = ""
    missed_as: str = ""
    changed: str = ""
    left: int | None = None
    together: tuple[str, ...] = ()
    students_from: str = ""

    @property
    def waiting(self) -> tuple[LogAttendee, ...]:
        """Those without a log."""
        return () if self.off else tuple(one for one in self.attendees if not one.is_logged)

    @property
    def uid_text(self) -> str:
        """Its uid, for addresses."""
        return str(self.uid)

    @property
    def entry_ids(self) -> tuple[int, ...]:
        """Ids of the entries of its students."""
        return tuple(one.entry.id for one in self.attendees if one.entry is not None)

    @property
    def ask_first(self) -> str:
        """Whom to ask before an activity; empty where nobody in it has a caution."""
        return ask_first_among(one.care for one in self.attendees)

    @property
    def is_logged(self) -> bool:
        """Whether everyone in it has a log."""
        return all(one.is_logged for one in self.attendees)


def sessions_to_log(viewer: Person, teacher: Person | None = None) -> QuerySet[PlannedSession]:
    """Sessions of published weeks that the viewer logs: the own, the district's, those of covered days, and mates'.

    A substitute sees them while the substitution lasts, and only the days that it holds; an office sees none.
    """
    rows = PlannedSession.objects.filter(
        week__status=WeekPlan.Status.PUBLISHED, week__in=WeekPlan.objects.visible_to(viewer)
    )
    if teacher is not None:
        rows = rows.filter(week__teacher=teacher)
    if viewer.role == Person.Role.SUBSTITUTE:
        return rows.filter(covered_now(viewer, today_of(viewer)))
    return rows if viewer.is_coordinator else rows.filter(_own_and_mates(viewer))


def _own_and_mates(viewer: Person) -> Q:
    """The viewer's own, and on the team's days those of mates who share their log."""
    found = Q(week__teacher=viewer)
    for one in viewer.mates:
        if one.logs:
            found |= Q(week__teacher=one.person_id, date__range=(one.first_day, one.last_day))
    return found


def session_to_log(viewer: Person, uid: uuid.UUID, now: dt.datetime | None = None) -> LogSession:
    """A session that the viewer logs; raises `ApplicationError` (404) for any other."""
    found = session_if_logged(viewer, uid, now)
    if found is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return found


def session_written(viewer: Person, uid: uuid.UUID, now: dt.datetime | None = None) -> LogSession:
    """The same to write its log: students are called by their codes, and nobody's care is read."""
    found = log_sessions(viewer, sessions_to_log(viewer).filter(uid=uid), now, told=False)
    if not found:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return found[0]


def session_if_logged(viewer: Person, uid: uuid.UUID, now: dt.datetime | None = None) -> LogSession | None:
    """A session that the viewer logs; None for any other."""
    found = log_sessions(viewer, sessions_to_log(viewer).filter(uid=uid), now)
    return found[0] if found else None


def day_sessions(
    viewer: Person, teacher: Person, date: dt.date, now: dt.datetime | None = None, known: Known | None = None
) -> tuple[LogSession, ...]:
    """A teacher's sessions on a date, in time order, each with what is logged."""
    return log_sessions(viewer, sessions_to_log(viewer, teacher).filter(date=date), now, known)


def unlogged_sessions(
    viewer: Person, teacher: Person, until: dt.date, now: dt.datetime | None = None
) -> tuple[LogSession, ...]:
    """A teacher's sessions up to a date (included) that are over and wait for their log, oldest first."""
    rows = sessions_to_log(viewer, teacher).filter(date__lte=until).filter(Exists(_waiting()))
    return tuple(one for one in log_sessions(viewer, rows, now) if one.is_over and one.waiting)


def sessions_of_day(
    viewer: Person,
    date: dt.date,
    *,
    teacher: Person | None = None,
    building: Building | None = None,
    now: dt.datetime | None = None,
) -> tuple[LogSession, ...]:
    """Sessions of a date, of a teacher, of a building or of both, in time order."""
    rows = sessions_to_log(viewer, teacher).filter(date=date)
    return log_sessions(viewer, rows if building is None else rows.filter(building=building), now)


def _waiting() -> QuerySet[SessionAttendee]:
    """Lines of the outer session without a log."""
    logged = DeliveryVersion.objects.filter(
        entry__service_line=OuterRef("service_line"),
        number=F("entry__version"),
        delivered_minutes__isnull=False,
    )
    # Two questions rather than one with "or": each has its index.
    by_uid = logged.filter(entry__session_uid=OuterRef("session__uid"))
    by_spot = logged.filter(entry__date=OuterRef("session__date"), entry__start=OuterRef("session__start"))
    return SessionAttendee.objects.filter(session=OuterRef("pk")).exclude(Exists(by_uid)).exclude(Exists(by_spot))


def log_sessions(
    viewer: Person,
    rows: QuerySet[PlannedSession],
    now: dt.datetime | None = None,
    known: Known | None = None,
    *,
    told: bool = True,
) -> tuple[LogSession, ...]:
    """Planned sessions with their attendees and entries. The number of queries doesn't grow with theirs.

    Not `told`: without names and care.
    """
    moment = now or timezone.now()
    sessions = _read(rows, known)
    known = known if known is not None and known.has(sessions) else None
    gone = known.gone if known is not None else _gone(sessions)
    held = known.held if known is not None else as_held([row.week.teacher for row in sessions], sessions, gone)
    attendees = _attendees(viewer, sessions, gone, known, told=told)
    joint = _joint(sessions, known, told=told)
    found = (_log_session(row, attendees.get(row.pk, ()), held[row.uid], moment) for row in sessions)
    return tuple(replace(one, together=joint.get(str(one.uid), ())) for one in found)


def _joint(sessions: Sequence[PlannedSession], known: Known | None, *, told: bool) -> Beside:
    """With whom they are given; a page that has read the sessions has said so already."""
    return joint_of(sessions) if told and known is None and sessions else {}


def _read(rows: QuerySet[PlannedSession], known: Known | None) -> list[PlannedSession]:
    if known is not None and known.rows is not None:
        return sorted(known.rows, key=_in_order)
    found = rows.select_related("building__district", "students_from", "space", "school_class", "week__teacher")
    return list(found.order_by("date", "start", "pk"))


def _in_order(row: PlannedSession) -> tuple[dt.date, dt.time, int]:
    return row.date, row.start, row.pk


def _attendees(
    viewer: Person, sessions: Iterable[PlannedSession], gone: Gone, known: Known | None, *, told: bool
) -> Mapping[int, tuple[LogAttendee, ...]]:
    """Who is in each session; who was planned in it and is gone by its date, only with an entry."""
    held = {row.pk: row for row in sessions}
    everyone = ATTENDING(list(held))
    read = _care_and_names if told else _seen_by_code
    care, names = (known.care, known.names) if known is not None else read(viewer, everyone)
    attending = [one for one in everyone if one.student_id in care]
    entries = entries_of_sessions({row.uid for row in held.values()})
    # A later version of a week may have lost the uid that the entry was made under.
    spots = _entries_by_spot(held.values(), attending, entries)
    found: dict[int, list[LogAttendee]] = defaultdict(list)
    for one in attending:
        session = held[one.session_id]
        entry = entries.get((one.service_line_id, session.uid))
        entry = entry or spots.get((one.service_line_id, session.date, session.start))
        who = (one.student.code, names[one.student_id])
        found[one.session_id].append(
            LogAttendee(one.service_line_id, one.student_id, *who, entry, care[one.student_id])
        )
    return {key: _there(held[key].uid, people, gone) for key, people in found.items()}


def _gone(sessions: Iterable[PlannedSession]) -> Gone:
    rows = list(sessions)
    return gone_on({(row.week_id, row.date) for row in rows}, [row.uid for row in rows])


def _seen_by_code(
    viewer: Person, everyone: Iterable[SessionAttendee]
) -> tuple[Mapping[int, Care], Mapping[int, str]]:
    """Whom the viewer may see, as `care_of` has it."""
    codes = {one.student_id: one.student.code for one in everyone}
    return dict.fromkeys(students_seen(viewer, codes), Care(told=False)), codes


def _care_and_names(
    viewer: Person, everyone: Iterable[SessionAttendee]
) -> tuple[Mapping[int, Care], Mapping[int, str]]:
    names = student_names(viewer).full
    return care_of(viewer, {one.student_id for one in everyone}, names=names), names


def _there(uid: uuid.UUID, people: Iterable[LogAttendee], gone: Gone) -> tuple[LogAttendee, ...]:
    return tuple(one for one in people if one.entry is not None or not gone.is_absent(uid, one.line_id))


def _entries_by_spot(
    sessions: Iterable[PlannedSession],
    attending: Iterable[SessionAttendee],
    entries: Mapping[tuple[int, uuid.UUID], LoggedEntry],
) -> Mapping[tuple[int, dt.date, dt.time | None], LoggedEntry]:
    """Entries of the same lines on the same days under other uids, by line, date and time."""
    uids = {row.pk: row.uid for row in sessions}
    dates = {row.date for row in sessions}
    missing = {
        one.service_line_id for one in attending if (one.service_line_id, uids[one.session_id]) not in entries
    }
    rows = AT_SPOTS(missing, dates) if missing else []
    others = entries_of_sessions({uid for uid in rows if uid is not None}) if missing else {}
    return {(one.line_id, one.date, one.start): one for one in others.values()}


ATTENDING = SqlOnce(
    lambda sessions: (
        SessionAttendee.objects.filter(session__in=sessions)
        .select_related("student")
        .order_by("student__last_name", "student__first_name", "student__code")
    )
)
AT_SPOTS = SqlOnce(
    lambda lines, dates: (
        DeliveryVersion.objects.filter(entry__service_line__in=lines, entry__date__in=dates)
        .current()
        .order_by()
        .values_list("entry__session_uid", flat=True)
    )
)


def _log_session(
    row: PlannedSession, attendees: tuple[LogAttendee, ...], held: AsHeld, now: dt.datetime
) -> LogSession:
    local = now.astimezone(ZoneInfo(row.building.zone))
    names = row.school_names
    why = off_words(held.off, names) if held.off is not None else ""
    return LogSession(
        uid=row.uid,
        teacher_id=row.week.teacher_id,
        date=row.date,
        start=row.start,
        end=row.end,
        minutes=minutes_of(row.end) - minutes_of(row.start),
        building_id=row.building_id,
        building_name=row.building.name,
        space_name=row.space.name if row.space else "",
        students_from=row.students_from.name if row.students_from else "",
        class_name=row.school_class.name if row.school_class else "",
        setting=row.setting,
        setting_label=row.get_setting_display(),
        makes_up=row.makes_up,
        makes_up_for=row.makes_up_for,
        attendees=attendees,
        is_over=(row.date, row.end) <= (local.date(), local.time()),
        is_future=row.date > local.date(),
        off=why if held.for_good else "",
        falls_out="" if held.for_good else why,
        missed_as=MISSED_AS.get(held.off.why, "") if held.off is not None else "",
        changed=short_words(held.short, names) if held.short is not None else "",
        left=held.short.minutes if held.short is not None else None,
    )

"""Writes of the log by planned sessions: a whole session, and every session of a day at once."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.idempotency.services import told_later
from accounts.idempotency.shared import shared
from accounts.models import District, Person
from accounts.selectors import today_in, today_of
from accounts.services import NOT_THERE, permission_require
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.selectors.log import stored_client_ids
from caseload.delivery.services.log import WRITE, deliveries_log
from caseload.delivery.told import AS_PLANNED, LogItem, Outcome
from caseload.ledger.changes import changes_told
from caseload.ledger.figures import MinuteFigures
from caseload.plans.models import DATED, ServiceLine, Student
from schedule.log.foreseen import figures_told
from schedule.log.selectors.figures import figures_by_service
from schedule.log.selectors.ledger import ledgers_of
from schedule.log.selectors.sessions import LogAttendee, LogSession, session_written, sessions_of_day
from schedule.weeks.models import PlannedSession
from schedule.weeks.selectors.leaving import gone_of_student, sessions_off_told
from travel.places.models import Building

NOT_IN_SESSION = "This service isn't part of the session. Reload the page."
NOTHING_TO_MARK = "Nothing of this day falls out and waits. What happened is said under “Something happened”."
LOGGED = "This session is logged already. Correct its entries instead."
NOT_HELD = (
    "This session doesn't take place: {why}. Plan the week again; minutes that were given all the same are logged "
    "with the student's minutes."
)
TAKEN_BACK = "What this tap logged has been taken back. Reload the page and log it again."

MOST_FORESEEN = 500
TOO_MANY = (
    "Figures of up to {count:,} students change with it: too many to add up here. Make the district's report "
    "before and after."
)

type OutcomeOf = Callable[[int], Outcome]


@dataclass(frozen=True, slots=True)
class DayMarked:
    """What was logged as missed: sessions and entries made. What was logged before stayed as it was."""

    sessions: int
    entries: tuple[DeliveryEntry, ...]


def session_log(
    *,
    actor: Person,
    session: PlannedSession | LogSession | uuid.UUID,
    client_id: uuid.UUID,
    exceptions: Mapping[int, Outcome] | None = None,
    default: Outcome = AS_PLANNED,
    given_by: str | None = None,
    given_under: str | None = None,
    noted_at: dt.datetime | None = None,
    now: dt.datetime | None = None,
) -> list[DeliveryEntry]:
    """Log a session of a published week for everyone in it: as planned, but for `exceptions` by service line id.

    `session` is one or its uid.
    `given_by` and `given_under` hold for everyone whose outcome doesn't say it (`caseload.delivery.told.Outcome`).
    `noted_at` (aware) is when it was noted, if it is sent later; it counts from when it is stored all the same.

    Students who were logged before stay as they are; an exception for one of those is refused (code
    ``already_logged``), and so is a session in which nobody waits for a log, and one that is off for good (code
    ``not_held``). The same client id sent twice is
    stored once, and refused once what it logged was taken back (code ``taken_back``). Raises as
    `caseload.delivery.services.log.deliveries_log` does.
    """
    permission_require(actor, WRITE)
    found = session_written(actor, session if isinstance(session, uuid.UUID) else session.uid, now)
    told = exceptions or {}
    if set(told) - {one.line_id for one in found.attendees}:
        raise ValidationError({"exceptions": NOT_IN_SESSION})
    noted = told_later(noted_at, now)
    items = _items(
        [found],
        client_id,
        lambda line: replace(told.get(line, default).given(given_by, given_under), noted_at=noted),
    )
    if found.off and not items:
        raise ApplicationError(NOT_HELD.format(why=found.off), code="not_held")
    if not items or set(told) - {item.service_line.pk for item in items}:
        raise ApplicationError(LOGGED, code="already_logged")
    return deliveries_log(actor=actor, items=items, action="session_log", sending=client_id, now=now)


def day_mark(
    *,
    actor: Person,
    date: dt.date,
    client_id: uuid.UUID,
    teacher: Person | None = None,
    building: Building | None = None,
    note: str = "",
    now: dt.datetime | None = None,
) -> DayMarked:
    """Log the sessions of a day that don't take place and wait for their log, each missed for what it falls out by.

    The teacher's, the building's, the teacher's in that building, or all that the actor logs. What makes them fall
    out stands in the calendar or was said to have happened: nothing is decided here. Nothing to log is refused
    (code ``nothing_to_mark``).
    """
    permission_require(actor, WRITE)
    _day_require(actor, teacher, building)
    out: dict[str, list[LogSession]] = defaultdict(list)
    for one in sessions_of_day(actor, date, teacher=_whose(actor, teacher), building=building, now=now):
        if one.falls_out and one.missed_as:
            out[one.missed_as].append(one)
    with transaction.atomic():
        marked = [
            sessions_mark(actor=actor, sessions=those, reason=reason, client_id=client_id, note=note, now=now)
            for reason, those in out.items()
        ]
    entries = tuple(entry for one in marked for entry in one.entries)
    if not entries:
        raise ApplicationError(NOTHING_TO_MARK, code="nothing_to_mark")
    return DayMarked(sum(one.sessions for one in marked), entries)


def _whose(actor: Person, teacher: Person | None) -> Person | None:
    """A mate's sessions only where the mate is named."""
    return actor if teacher is None and actor.mates else teacher


def sessions_mark(
    *,
    actor: Person,
    sessions: Sequence[LogSession],
    reason: str,
    client_id: uuid.UUID,
    sending: uuid.UUID | None = None,
    note: str = "",
    now: dt.datetime | None = None,
) -> DayMarked:
    """Mark everyone in these sessions who waits for a log as missed for one reason; nobody in them is no fault.

    `sending` is what they are found again by, the client id where none is given.
    Raises as `caseload.delivery.services.log.deliveries_log` does.
    """
    permission_require(actor, WRITE)
    outcome = Outcome(reason=reason, note=note)
    items = _items(sessions, client_id, lambda line: outcome)
    if not items:
        return DayMarked(0, ())
    entries = deliveries_log(actor=actor, items=items, action="day_mark", sending=sending or client_id, now=now)
    return DayMarked(len({item.session_uid for item in items}), tuple(entries))


def rules_effects(*, actor: Person, act: Callable[[], object]) -> list[str]:
    """What a change of the district's rules would change of its figures up to today, in sentences; saves nothing.

    Raises what `act` raises.
    """
    if actor.district is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    students = list(Student.objects.filter(district=actor.district).select_related("building__district"))
    large = len(students) > MOST_FORESEEN
    with transaction.atomic():
        before = {} if large else _figures(actor.district, students)
        act()
        after = {} if large else _figures(actor.district, students)
        transaction.set_rollback(True)
    return [TOO_MANY.format(count=len(students))] if large else figures_told(before, after)


def _figures(district: District, students: Sequence[Student]) -> dict[int, MinuteFigures]:
    """Up to today, by service line."""
    found = ledgers_of(district, students, today_in(district))
    return {one.line.pk: one.figures for student in found for one in student.lines}


def entry_client_id(client_id: uuid.UUID, session_uid: uuid.UUID, line_id: int) -> uuid.UUID:
    """The client id of one entry among those that were sent together under one client id."""
    return uuid.uuid5(client_id, f"{session_uid}/{line_id}")


def _day_require(actor: Person, teacher: Person | None, building: Building | None) -> None:
    if building is not None and not Building.objects.changeable_by(actor).filter(pk=building.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if teacher is not None and teacher.district_id != actor.district_id:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _wanted(
    pairs: Sequence[tuple[LogSession, LogAttendee]], ids: Mapping[tuple[uuid.UUID, int], uuid.UUID]
) -> list[tuple[LogSession, int]]:
    """Session and line of those who wait for a log, or whom these very ids logged."""
    stored = stored_client_ids(ids.values())
    found = []
    for session, one in pairs:
        logged_by_it = stored.get(ids[session.uid, one.line_id])
        if logged_by_it is False:
            raise ApplicationError(TAKEN_BACK, code="taken_back")
        if logged_by_it or not one.is_logged:
            found.append((session, one.line_id))
    return found


def _items(sessions: Iterable[LogSession], client_id: uuid.UUID, outcome_of: OutcomeOf) -> list[LogItem]:
    """Those who wait for a log, and those whom this very sending logged before."""
    pairs = [(session, one) for session in sessions for one in session.attendees if not session.off or one.entry]
    ids = {
        (session.uid, one.line_id): entry_client_id(client_id, session.uid, one.line_id) for session, one in pairs
    }
    wanted = _wanted(pairs, ids)
    lines = _lines({line for _, line in wanted})
    return [
        LogItem(
            client_id=ids[session.uid, line],
            service_line=lines[line],
            date=session.date,
            planned_minutes=session.minutes,
            outcome=outcome_of(line),
            start=session.start,
            session_uid=session.uid,
            makes_up=session.makes_up,
            makes_up_for=session.makes_up_for,
            setting=session.setting,
            provider_id=session.teacher_id,
        )
        for session, line in wanted
    ]


def _lines(ids: Collection[int]) -> Mapping[int, ServiceLine]:
    """Service lines by id, with what dates them."""
    wanted = frozenset(ids)
    rows = ServiceLine.objects.select_related("plan__student__district", "plan__student__building__district")
    return shared(("lines", wanted), lambda: rows.prefetch_related(*DATED).in_bulk(wanted))


# ---- before a service changes ----------------------------------------------------------------------------


def plan_effects_foreseen(actor: Person, student: Student, act: Callable[[], object]) -> list[str]:
    """What an act would change of a student's minutes, period by period, in sentences; nothing of it is saved.

    Owed in all and delivered of each period of the school year, open up to today, and the published sessions that
    go off. Raises what `act` raises.
    """
    if not Student.objects.changeable_by(actor).filter(pk=student.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    today = today_of(actor)
    with transaction.atomic():
        before, stood = figures_by_service(student, today), gone_of_student(student)
        act()
        after, stands = figures_by_service(student, today), gone_of_student(student)
        off = sessions_off_told(stood, stands)
        lines = ServiceLine.objects.filter(plan__student=student).order_by("start")
        names = dict(lines.values_list("service", "statement"))
        transaction.set_rollback(True)
    return changes_told(before, after, names) + off

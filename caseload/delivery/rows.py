"""Rows of plans and of the delivery log as the ledger's core takes them, and its answer for one student.

Nothing here reads the database: schedule.log.selectors.ledger loads, with a number of queries that doesn't depend
on how many students are asked for.
"""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum, auto
from itertools import chain

from caseload.delivery.in_force import counted_together, frequency_of, in_force, is_in_force, runs_in_force
from caseload.ledger.compensatory import CompensatoryAccount
from caseload.ledger.figures import MinuteFigures, figures_of, figures_together
from caseload.ledger.ledger import build_ledger, periods_known
from caseload.ledger.owed import CountedPeriod, period_holding, periods_of
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    Rules,
    SessionRecord,
    Span,
    Terms,
)
from caseload.plans.frequency import FrequencyError
from caseload.plans.models import ServiceLine, Student


@dataclass(frozen=True, slots=True)
class PlannedDate:
    """A session of a published week for one service line, as the floor above knows it."""

    uid: uuid.UUID
    line_id: int
    student_id: int
    date: dt.date
    start: dt.time
    minutes: int
    makes_up: bool = False
    provider_id: int | None = None


@dataclass(frozen=True, slots=True)
class LoggedEntry:
    """An entry of the log with the version that counts. `delivered` is None where the log was withdrawn.

    `effect` is what the district's table says of its reason, `decision` what the team decided about it.
    """

    id: int
    line_id: int
    student_id: int
    uid: uuid.UUID | None
    date: dt.date
    start: dt.time | None
    planned_minutes: int
    delivered: int | None
    reason: str = ""
    reason_words: str = ""
    decision: Effect | None = None
    makes_up: bool = False
    makes_up_for: dt.date | None = None
    revision: int = 1
    has_note: bool = False
    compensatory: int | None = None
    provider_id: int | None = None
    given_by: str = ""
    given_under: str = ""


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """A session in a line's ledger: planned, logged or both. `line_id` is the line that it stood under."""

    record: SessionRecord
    line_id: int
    planned: PlannedDate | None = None
    entry: LoggedEntry | None = None

    @property
    def start(self) -> dt.time | None:
        """Local time, if it is known."""
        if self.entry is not None and self.record.delivered is not None:
            return self.entry.start
        return self.planned.start if self.planned else None

    @property
    def provider_id(self) -> int | None:
        """Whose session it was: as it was logged, else whose published week holds it."""
        if self.entry is not None and self.record.delivered is not None:
            return self.entry.provider_id
        return self.planned.provider_id if self.planned is not None else None

    @property
    def words(self) -> str:
        """Why minutes were missed, as the district says it."""
        return self.entry.reason_words if self.entry is not None and self.record.missed else ""


type _Spot = tuple[int, dt.date, dt.time | None]


def join_log(planned: Iterable[PlannedDate], logged: Iterable[LoggedEntry]) -> list[LedgerRow]:
    """Planned sessions with their entries, and entries without a planned session.

    An entry belongs to the session with its uid; where a later version of the week lost that, to the session of
    the same line at the same date and time. A withdrawn entry leaves its session unlogged.
    """
    sessions = list(planned)
    by_uid, rest = _by_session({(one.line_id, one.uid) for one in sessions}, logged)
    rows = []
    for session in sessions:
        found = by_uid.get((session.line_id, session.uid))
        spot = rest.get((session.line_id, session.date, session.start))
        if found is None and spot:
            found = spot.pop()
        rows.append(_session_row(session, found))
    alone = (entry for entries in rest.values() for entry in entries if entry.delivered is not None)
    return rows + [LedgerRow(_entry_record(entry), entry.line_id, None, entry) for entry in alone]


def _by_session(
    known: Collection[tuple[int, uuid.UUID]], logged: Iterable[LoggedEntry]
) -> tuple[dict[tuple[int, uuid.UUID], LoggedEntry], dict[_Spot, list[LoggedEntry]]]:
    """Entries by the planned session that they name, and the others by line, date and time."""
    by_uid: dict[tuple[int, uuid.UUID], LoggedEntry] = {}
    rest: dict[_Spot, list[LoggedEntry]] = defaultdict(list)
    for entry in logged:
        if entry.uid is not None and (entry.line_id, entry.uid) in known:
            by_uid[entry.line_id, entry.uid] = entry
        else:
            rest[entry.line_id, entry.date, entry.start].append(entry)
    return by_uid, rest


def _session_row(session: PlannedDate, entry: LoggedEntry | None) -> LedgerRow:
    if entry is None or entry.delivered is None:
        name = f"planned-{session.line_id}-{session.uid}"
        record = SessionRecord(name, session.date, session.minutes, makes_up=session.makes_up)
    else:
        record = _entry_record(entry)
    return LedgerRow(record, session.line_id, session, entry)


def _entry_record(entry: LoggedEntry) -> SessionRecord:
    return SessionRecord(
        f"entry-{entry.id}",
        entry.date,
        entry.planned_minutes,
        entry.delivered,
        entry.reason,
        entry.decision,
        entry.makes_up,
        entry.makes_up_for,
    )


@dataclass(frozen=True, slots=True)
class LineLedger:
    """One service with its ledger, or the `problem` that keeps it from having one.

    `line` is the version in force on the ledger's date, else the latest that has begun; `versions` are all of them,
    oldest first. `rows` are the sessions of the school year that count, `outside` those on days that no period of
    the service holds, `earlier` those that count in the years before.
    """

    line: ServiceLine
    versions: tuple[ServiceLine, ...]
    counts_from: dt.date
    rows: tuple[LedgerRow, ...] = ()
    outside: tuple[LedgerRow, ...] = ()
    earlier: tuple[LedgerRow, ...] = ()
    ledger: Ledger | None = None
    calendar: LedgerCalendar | None = None
    problem: str = ""

    @property
    def figures(self) -> MinuteFigures:
        """Its figures; nothing at all where there is a problem."""
        return figures_of(self.ledger) if self.ledger is not None else MinuteFigures()

    @property
    def line_ids(self) -> frozenset[int]:
        """All its versions."""
        return frozenset(one.pk for one in self.versions)

    @property
    def has_something(self) -> bool:
        """Whether it says anything of the school year asked for, or has an opening balance."""
        return bool(self.rows or self.outside or self.figures.opening)

    @property
    def is_consultation(self) -> bool:
        """Consultation counts apart from direct service."""
        return self.line.service_type == ServiceLine.Type.CONSULTATION


@dataclass(frozen=True, slots=True)
class PlanChange:
    """A change of dates or minutes of a plan or service, from the audit: the ledger follows it back in time."""

    at: dt.datetime
    by: str
    what: str


@dataclass(frozen=True, slots=True)
class StudentLedger:
    """A student's services up to a date (included), in the school year that holds it."""

    student: Student
    as_of: dt.date
    year: Span | None
    rules: Rules
    lines: tuple[LineLedger, ...]
    changes: tuple[PlanChange, ...] = field(default=())
    compensatory: tuple[CompensatoryAccount, ...] = ()

    @property
    def direct(self) -> MinuteFigures:
        """Direct services together."""
        return figures_together(one.figures for one in self.lines if not one.is_consultation)

    @property
    def consultation(self) -> MinuteFigures:
        """Consultation, apart from direct service."""
        return figures_together(one.figures for one in self.lines if one.is_consultation)


class _Where(Enum):
    """Where a session counts: in the school year, in one before it, or nowhere in the year."""

    NOW = auto()
    EARLIER = auto()
    OUTSIDE = auto()


def version_on(versions: Sequence[ServiceLine], day: dt.date) -> ServiceLine:
    """The version of a service in force on a date; else the latest that has begun, else the first."""
    begun = [one for one in versions if in_force(one)[0] <= day]
    return next((one for one in begun if is_in_force(one, day)), begun[-1] if begun else versions[0])


def _terms_of(line: ServiceLine, versions: Sequence[ServiceLine], counts_from: dt.date) -> list[Terms]:
    """A version's terms, once for each run of days on which the student is enrolled."""
    how, plan = frequency_of(line), str(line.plan_id)
    together = counted_together(line, versions)
    begins, ends = together[0].start, together[-1].end
    return [
        Terms(str(line.pk), how, max(first, counts_from), last, begins, plan, line.extended_year, ends)
        for first, last in runs_in_force(line) or (in_force(line),)
    ]


def build_line_ledger(
    versions: Sequence[ServiceLine],
    rows: Sequence[LedgerRow],
    calendar: LedgerCalendar,
    rules: Rules,
    counts_from: dt.date,
    as_of: dt.date,
    earlier: Sequence[LedgerCalendar] = (),
) -> LineLedger:
    """The ledger of one service, its versions oldest first, from the sessions under them.

    `earlier` are the calendars of the school years before, whose open minutes are opening balances. What can't be
    computed is in `problem`.
    """
    current, every = version_on(versions, as_of), tuple(versions)
    try:
        core = _core_line(current, every, counts_from)
        mine, known = periods_of(core, calendar), periods_known(core, calendar, earlier)
        parted = _parted(rows, mine, known, calendar.year.first)
        records = _records([*parted[_Where.EARLIER], *parted[_Where.NOW]], known)
        ledger = build_ledger(core, calendar, rules, records, as_of, earlier)
    except (FrequencyError, LedgerError) as error:
        now = [row for row in rows if row.record.day >= calendar.year.first]
        return LineLedger(current, every, counts_from, outside=_in_order(now), problem=str(error))
    return LineLedger(
        current,
        every,
        core.first,
        _in_order(parted[_Where.NOW]),
        _in_order(parted[_Where.OUTSIDE]),
        _in_order(parted[_Where.EARLIER]),
        ledger,
        calendar,
    )


def _core_line(current: ServiceLine, versions: Sequence[ServiceLine], counts_from: dt.date) -> LedgerLine:
    """A service as the core takes it."""
    return LedgerLine(
        str(current.pk),
        tuple(chain.from_iterable(_terms_of(one, versions, counts_from) for one in versions)),
        current.service_type == ServiceLine.Type.CONSULTATION,
        current.plan.is_provisional,
    )


def _records(rows: Iterable[LedgerRow], known: Sequence[CountedPeriod]) -> list[SessionRecord]:
    """The sessions that count in some period, and the make-ups."""
    return [row.record for row in rows if row.record.makes_up or period_holding(known, row.record.day)]


def _parted(
    rows: Iterable[LedgerRow], mine: Sequence[CountedPeriod], known: Sequence[CountedPeriod], year_first: dt.date
) -> Mapping[_Where, list[LedgerRow]]:
    """Sessions by where they count."""
    found: dict[_Where, list[LedgerRow]] = {where: [] for where in _Where}
    for row in rows:
        found[_where(row, mine, known, year_first)].append(row)
    return found


def _where(
    row: LedgerRow, mine: Sequence[CountedPeriod], known: Sequence[CountedPeriod], year_first: dt.date
) -> _Where:
    """Make-ups count on their day; what lies in no period of a year before is no longer listed."""
    day, is_now = row.record.day, row.record.day >= year_first
    if row.record.makes_up:
        return _Where.NOW if is_now else _Where.EARLIER
    if period_holding(mine, day):
        return _Where.NOW
    return _Where.EARLIER if period_holding(known, day) or not is_now else _Where.OUTSIDE


def _in_order(rows: Iterable[LedgerRow]) -> tuple[LedgerRow, ...]:
    return tuple(sorted(rows, key=lambda row: (row.record.day, row.start or dt.time(), row.record.id)))


def by_service(lines: Iterable[ServiceLine]) -> dict[int, list[ServiceLine]]:
    """The versions of each service, oldest first, by the service's id."""
    found: dict[int, list[ServiceLine]] = defaultdict(list)
    for line in sorted(lines, key=lambda one: (one.start, one.pk)):
        found[line.service_id].append(line)
    return found


def under_versions[R: (PlannedDate, LoggedEntry)](rows: Iterable[R], lines: Iterable[ServiceLine]) -> list[R]:
    """Each row under the version of its service that is in force on its date.

    A session that was planned before its service changed follows the terms of its day, as does its log entry.
    """
    versions = by_service(lines)
    services = {line.pk: line.service_id for several in versions.values() for line in several}
    return [_under_version(row, versions.get(services.get(row.line_id, 0), ())) for row in rows]


def _under_version[R: (PlannedDate, LoggedEntry)](row: R, versions: Sequence[ServiceLine]) -> R:
    found = next((one for one in versions if is_in_force(one, row.date)), None)
    return row if found is None or found.pk == row.line_id else replace(row, line_id=found.pk)


def rows_by_service(rows: Iterable[LedgerRow], lines: Sequence[ServiceLine]) -> Mapping[int, list[LedgerRow]]:
    """Rows by the service that was owed on their day.

    A plan that was changed back to an earlier date leaves sessions under a line that was no longer owed then, nor
    any other version of its service: they count for the service that took its place (same type, the same setting
    if there is one).
    """
    by_id = {line.pk: line for line in lines}
    found: dict[int, list[LedgerRow]] = defaultdict(list)
    for row in rows:
        own = by_id.get(row.line_id)
        if own is not None:
            found[_owed_line(own, row, lines).service_id].append(row)
    return found


def _owed_line(own: ServiceLine, row: LedgerRow, lines: Sequence[ServiceLine]) -> ServiceLine:
    if is_in_force(own, row.record.day):
        return own
    others = [line for line in lines if line.service_type == own.service_type and is_in_force(line, row.record.day)]
    same = [line for line in others if line.setting == own.setting]
    return next(iter(same or others), own)

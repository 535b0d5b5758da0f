"""The auditor's file: its columns with what each means, and the cells of one version of one session. Pure.

One row for each version that was ever stored, the earliest first, and one for each planned session that nobody
logged. Students stand by their codes.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

type Value = str | int | dt.date | dt.time | dt.datetime | None

IN_WEEK, AT_SCHOOL = "published week", "student's school on that date"


@dataclass(frozen=True, slots=True)
class AuditDecision:
    """What the plan's team decided about a version's reason."""

    words: str
    by: str
    on: dt.date


@dataclass(frozen=True, slots=True)
class AuditRow:
    """A version of a session's log; without a version the session is planned and not logged.

    Times are local to the building, `logged_at` is UTC. `closed_on`: the month is closed since then, or was then.
    """

    entry: int | None
    student: str
    date: dt.date
    start: dt.time | None
    planned: int
    place: str
    place_from: str
    space: str
    service: str
    service_type: str
    setting: str
    provider: str
    makes_up: bool = False
    makes_up_for: dt.date | None = None
    version: int | None = None
    counts: bool = False
    delivered: int | None = None
    reason: str = ""
    effect: str = ""
    note: str = ""
    given_by: str = ""
    given_under: str = ""
    logged_by: str = ""
    logged_at: dt.datetime | None = None
    decision: AuditDecision | None = None
    closed_on: dt.date | None = None
    amends: bool = False

    @property
    def end(self) -> dt.time | None:
        """Start and planned minutes; None where the start isn't known, or a midnight lies between."""
        if self.start is None:
            return None
        end = dt.datetime.combine(self.date, self.start) + dt.timedelta(minutes=self.planned)
        return end.time() if end.date() == self.date else None

    @property
    def state(self) -> str:
        """What the row says happened."""
        if self.version is None:
            return "not logged"
        return "log taken back" if self.delivered is None else "logged"

    @property
    def missed(self) -> int | None:
        """Planned less delivered; None where nothing is logged."""
        return max(self.planned - self.delivered, 0) if self.delivered is not None else None


@dataclass(frozen=True, slots=True)
class AuditColumn:
    """A column: its name, what it means, and its cell."""

    name: str
    meaning: str
    cell: Callable[[AuditRow], Value]


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _decided(row: AuditRow, name: str) -> Value:
    value: Value = getattr(row.decision, name) if row.decision is not None else ""
    return value


COLUMNS = (
    AuditColumn(
        "Entry", "The log's entry; its versions share the number. Empty: nothing was logged.", lambda r: r.entry
    ),
    AuditColumn("Student", "The student's code in this district.", lambda r: r.student),
    AuditColumn("Date", "Of the session, local to the school.", lambda r: r.date),
    AuditColumn("Start", "Local time; empty where it isn't known.", lambda r: r.start),
    AuditColumn("End", "Start and planned minutes; empty without a start.", lambda r: r.end),
    AuditColumn("Place", "The school or building of the session.", lambda r: r.place),
    AuditColumn(
        "Place from",
        "Where the place is known from: the published week that held the session, or, where none did, the school "
        "at which the student was on that date.",
        lambda r: r.place_from,
    ),
    AuditColumn("Space", "Gym or room, where a published week names one.", lambda r: r.space),
    AuditColumn("Service", "As the plan writes it.", lambda r: r.service),
    AuditColumn("Service type", "Direct service, or consultation.", lambda r: r.service_type),
    AuditColumn("Setting", "As it was at the session.", lambda r: r.setting),
    AuditColumn(
        "Provider",
        "The teacher whose session it was: as it was logged, else whose published week holds it, whoever has the "
        "service since.",
        lambda r: r.provider,
    ),
    AuditColumn(
        "Given by",
        "Who gave it, as this version says, where it wasn't the provider: a substitute or an assistant.",
        lambda r: r.given_by,
    ),
    AuditColumn("Given under", "Under whom an assistant gave it, as this version says.", lambda r: r.given_under),
    AuditColumn("Make-up", "Whether it makes up minutes that were owed before.", lambda r: _yes(r.makes_up)),
    AuditColumn("Makes up", "The date of the session that it makes up, if it names one.", lambda r: r.makes_up_for),
    AuditColumn("Planned minutes", "Planned for the session; 0 where nobody planned it.", lambda r: r.planned),
    AuditColumn("State", "Logged, log taken back, or not logged.", lambda r: r.state),
    AuditColumn("Version", "1 for what was logged first; each correction is the next one.", lambda r: r.version),
    AuditColumn("Counts", "Whether this version is the one that counts.", lambda r: _yes(r.counts)),
    AuditColumn(
        "Delivered minutes", "As this version says; empty where the log was taken back.", lambda r: r.delivered
    ),
    AuditColumn("Missed minutes", "Planned less delivered.", lambda r: r.missed),
    AuditColumn("Reason", "Why minutes were missed.", lambda r: r.reason),
    AuditColumn(
        "District's table", "What the district's table did with this reason on that date.", lambda r: r.effect
    ),
    AuditColumn(
        "Team's decision", "The latest one about this reason, if there is one.", lambda r: _decided(r, "words")
    ),
    AuditColumn("Decided by", "The team, with its meeting if there was one.", lambda r: _decided(r, "by")),
    AuditColumn("Decided on", "The day of the decision.", lambda r: _decided(r, "on")),
    AuditColumn("Note", "As it was written.", lambda r: r.note),
    AuditColumn("Logged by", "Who wrote this version.", lambda r: r.logged_by),
    AuditColumn("Logged at (UTC)", "When this version was stored, by the server's clock.", lambda r: r.logged_at),
    AuditColumn("Month closed", "Since when the month is closed; empty where it isn't.", lambda r: r.closed_on),
    AuditColumn(
        "Amendment", "Whether this version was stored after the month was closed.", lambda r: _yes(r.amends)
    ),
)


def cells_of(row: AuditRow) -> tuple[Value, ...]:
    """A row in the order of `COLUMNS`."""
    return tuple(column.cell(row) for column in COLUMNS)

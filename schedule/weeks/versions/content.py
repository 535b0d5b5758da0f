"""What a version of a week holds, apart from its row: read, kept for undo. Ids only, no names.

``schedule.weeks.services.content`` writes it.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, NamedTuple
from uuid import UUID

from caseload.plans.selectors import line_on, versions_by_line
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, UnplacedSession, WeekPlan


@dataclass(frozen=True, slots=True)
class SessionContent:
    """A session; minutes after midnight, ids of rows. ``lines`` are those served in it.

    ``students_from``: the students' own school, where it is held in another building.
    """

    uid: str
    date: dt.date
    start: int
    end: int
    building: int
    key: str
    setting: str
    lines: tuple[int, ...]
    space: int | None = None
    school_class: int | None = None
    period: str = ""
    cycle_day: str = ""
    pinned: bool = False
    makes_up: bool = False
    makes_up_for: dt.date | None = None
    students_from: int | None = None


@dataclass(frozen=True, slots=True)
class ItemContent:
    """What fills a day between sessions; ``kind`` as in ``DayItem``, ``miles`` a decimal number as text."""

    date: dt.date
    kind: str
    start: int
    end: int
    origin: int | None = None
    building: int | None = None
    drive_minutes: int = 0
    miles: str = "0"
    source: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class UnplacedContent:
    """Owed sessions of a line without a place."""

    line: int
    sessions: int
    minutes: int
    reasons: tuple[str, ...] = ()
    ask: str = ""


@dataclass(frozen=True, slots=True)
class WeekContent:
    """Everything that a version of a week holds."""

    sessions: tuple[SessionContent, ...] = ()
    items: tuple[ItemContent, ...] = ()
    unplaced: tuple[UnplacedContent, ...] = ()
    figures: Mapping[str, Any] | None = None

    def session(self, uid: str) -> SessionContent | None:
        """The session of that uid."""
        return next((one for one in self.sessions if one.uid == uid), None)


def sessions_read(weeks: Collection[int]) -> dict[int, tuple[SessionContent, ...]]:
    """The sessions of several versions of weeks, by the version's id (three queries).

    A line is the version of its service that is in force on the session's date.
    """
    found: dict[int, list[SessionContent]] = {week: [] for week in weeks}
    attending: dict[int, list[int]] = defaultdict(list)
    among = SessionAttendee.objects.filter(session__week__in=found).order_by()
    for session, line in among.values_list("session_id", "service_line_id"):
        attending[session].append(line)
    versions = versions_by_line({line for lines in attending.values() for line in lines})
    for row in PlannedSession.objects.filter(week__in=found).values_list(*READ):
        one = _SessionRow(*row)
        lines = (line_on(line, one.date, versions) for line in attending[one.pk])
        found[one.week_id].append(_session(one, tuple(sorted(lines))))
    return {week: tuple(sessions) for week, sessions in found.items()}


def content_read(week: WeekPlan) -> WeekContent:
    """A version's content from its rows."""
    return WeekContent(
        sessions_read([week.pk])[week.pk],
        tuple(_item(row) for row in DayItem.objects.filter(week=week)),
        _unplaced(week),
        week.figures,
    )


def _unplaced(week: WeekPlan) -> tuple[UnplacedContent, ...]:
    """What found no place; under the version of the week's last day where its own is over before the week."""
    rows = list(UnplacedSession.objects.filter(week=week).select_related("service_line"))
    versions = versions_by_line({row.service_line_id for row in rows})
    found = []
    for row in rows:
        over = row.service_line.end < week.monday
        line = line_on(row.service_line_id, week.last_date, versions) if over else row.service_line_id
        found.append(UnplacedContent(line, row.sessions, row.minutes, tuple(row.reasons), row.ask))
    return tuple(found)


READ = (
    "pk", "week_id", "uid", "date", "start", "end", "building_id", "planner_key", "setting", "space_id",
    "school_class_id", "period", "cycle_day", "pinned", "makes_up", "makes_up_for",
    "students_from_id",
)  # fmt: skip


class _SessionRow(NamedTuple):
    """What is read of a session, in the order of `READ`: twelve weeks hold hundreds, too many for whole rows."""

    pk: int
    week_id: int
    uid: UUID
    date: dt.date
    start: dt.time
    end: dt.time
    building_id: int
    planner_key: str
    setting: str
    space_id: int | None
    school_class_id: int | None
    period: str
    cycle_day: str
    pinned: bool
    makes_up: bool
    makes_up_for: dt.date | None
    students_from_id: int | None


def _session(row: _SessionRow, lines: tuple[int, ...]) -> SessionContent:
    return SessionContent(
        uid=str(row.uid),
        date=row.date,
        start=minutes_of(row.start),
        end=minutes_of(row.end),
        building=row.building_id,
        key=row.planner_key,
        setting=row.setting,
        lines=lines,
        space=row.space_id,
        school_class=row.school_class_id,
        period=row.period,
        cycle_day=row.cycle_day,
        pinned=row.pinned,
        makes_up=row.makes_up,
        makes_up_for=row.makes_up_for,
        students_from=row.students_from_id,
    )


def _item(row: DayItem) -> ItemContent:
    return ItemContent(
        date=row.date,
        kind=row.kind,
        start=minutes_of(row.start),
        end=minutes_of(row.end),
        origin=row.origin_id,
        building=row.building_id,
        drive_minutes=row.drive_minutes,
        miles=str(row.miles),
        source=row.source,
        title=row.title,
    )


def lines_become(content: WeekContent, others: Mapping[int, int | None]) -> WeekContent:
    """The content with other lines in the place of some; what stood under a line that becomes None is left out."""

    def named(line: int) -> int | None:
        return others.get(line, line)

    sessions = [
        replace(one, lines=tuple(sorted({new for line in one.lines if (new := named(line)) is not None})))
        for one in content.sessions
    ]
    unplaced = [(one, named(one.line)) for one in content.unplaced]
    return replace(
        content,
        sessions=tuple(
            new for old, new in zip(content.sessions, sessions, strict=True) if new.lines or not old.lines
        ),
        unplaced=tuple(replace(one, line=line) for one, line in unplaced if line is not None),
    )


def lines_in(content: WeekContent) -> set[int]:
    """Every line that the content names."""
    return {line for one in content.sessions for line in one.lines} | {one.line for one in content.unplaced}


def content_to_json(content: WeekContent) -> dict[str, Any]:
    """The content as JSON values, dates as text."""
    plain = asdict(content)
    for one in [*plain["sessions"], *plain["items"]]:
        one["date"] = one["date"].isoformat()
    for one in plain["sessions"]:
        one["makes_up_for"] = one["makes_up_for"] and one["makes_up_for"].isoformat()
    return plain


def content_from_json(plain: Mapping[str, Any]) -> WeekContent:
    """A content from what `content_to_json` wrote."""
    return WeekContent(
        tuple(_session_from_json(one) for one in plain["sessions"]),
        tuple(ItemContent(**{**one, "date": dt.date.fromisoformat(one["date"])}) for one in plain["items"]),
        tuple(UnplacedContent(**{**one, "reasons": tuple(one["reasons"])}) for one in plain["unplaced"]),
        plain["figures"],
    )


def _session_from_json(plain: Mapping[str, Any]) -> SessionContent:
    missed = plain.get("makes_up_for")
    return SessionContent(
        **{
            **plain,
            "date": dt.date.fromisoformat(plain["date"]),
            "lines": tuple(plain["lines"]),
            "makes_up_for": dt.date.fromisoformat(missed) if missed else None,
        }
    )

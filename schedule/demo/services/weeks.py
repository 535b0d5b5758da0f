"""The weeks behind the demo: sessions as a table lists them, published one week after the other."""

import csv
import datetime as dt
import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from accounts.models import Person
from schedule.calendar.selectors.school_days import minutes_of
from schedule.make_ups.services.drafts import draft_new
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.load import lines_of, load_week, monday_of
from schedule.weeks.planning.make_up_services import MakeUp, make_up_key
from schedule.weeks.planning.outcome import Told, content_of, dated, planner_sessions
from schedule.weeks.planning.units import group_key
from schedule.weeks.services.weeks import week_publish
from schedule.weeks.timing import time_week
from schedule.weeks.versions.content import SessionContent, WeekContent

PUBLISHED_AT = dt.time(15, 10)
"""Of that day: local time."""


@dataclass(frozen=True, slots=True)
class PastSession:
    """One row of the table: when and where, with whom, and by which statements of their plans."""

    date: dt.date
    start: int
    minutes: int
    building: str
    space: str
    students: tuple[str, ...]
    statements: tuple[str, ...]
    makes_up: dt.date | None = None
    """The day of the missed session that it makes up."""


def sessions_of_file(file: Path) -> dict[dt.date, list[PastSession]]:
    """The table's sessions by the Monday of their week."""
    found: dict[dt.date, list[PastSession]] = defaultdict(list)
    with file.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            one = PastSession(
                dt.date.fromisoformat(row["Date"]),
                minutes_of(dt.time.fromisoformat(row["Start"])),
                int(row["Minutes"]),
                row["Building code"],
                row["Space name"],
                tuple(row["Students"].split()),
                tuple(row["Service"].split(" / ")),
                dt.date.fromisoformat(row["Makes up"]) if row["Makes up"] else None,
            )
            found[monday_of(one.date)].append(one)
    return dict(found)


def past_week_publish(
    teacher: Person, monday: dt.date, sessions: Iterable[PastSession], last: dt.date = dt.date.max
) -> WeekPlan:
    """Publish a week with these sessions, as if on the Friday before it, or on `last` where that comes first.

    Raises ``ApplicationError`` where one of them breaks a rule: the table no longer fits the demo's other files.
    """
    rows = list(sessions)
    lines = {(one.plan.student.code, one.statement): one.pk for one in lines_of(teacher, monday)}
    served = [_lines_of(one, lines) for one in rows]
    groups = {group_key(found) for found in served if len(found) > 1}
    make_ups = Counter(
        MakeUp(found, one.minutes) for one, found in zip(rows, served, strict=True) if one.makes_up is not None
    )
    loaded = load_week(teacher, monday, Base(keep_groups=tuple(sorted(groups)), make_ups=make_ups))
    placed = [_session(loaded, one, found) for one, found in zip(rows, served, strict=True)]
    content = _content(loaded, placed)
    week = draft_new(teacher, teacher, monday, content, None)
    published = week_publish(actor=teacher, week=week, expected_revision=week.revision)
    then = _afternoon_of(teacher, min(monday - dt.timedelta(days=3), last))
    WeekPlan.objects.filter(pk=published.pk).update(created_at=then, published_at=then)
    return published


def _afternoon_of(teacher: Person, day: dt.date) -> dt.datetime:
    zone = ZoneInfo(teacher.district.time_zone) if teacher.district is not None else dt.UTC
    return dt.datetime.combine(day, PUBLISHED_AT, tzinfo=zone)


type _Lines = Mapping[tuple[str, str], int]
"""The service line of a student's code and a statement."""


def _lines_of(one: PastSession, lines: _Lines) -> tuple[int, ...]:
    asked = ((code, statement) for code in one.students for statement in one.statements)
    return tuple(sorted(lines[key] for key in asked if key in lines))


def _unit(loaded: WeekInput, one: PastSession, served: tuple[int, ...]) -> str:
    """The planner's id of what is placed: a make-up, a service, or a group."""
    if one.makes_up is not None:
        return make_up_key(MakeUp(served, one.minutes))
    units = {loaded.units.unit_of_line()[line] for line in served}
    return units.pop() if len(units) == 1 else group_key(served)


def _session(loaded: WeekInput, one: PastSession, served: tuple[int, ...]) -> SessionContent:
    key = _unit(loaded, one, served)
    info = loaded.info(key)
    session = SessionContent(
        uid=str(uuid.uuid4()),
        date=one.date,
        start=one.start,
        end=one.start + one.minutes,
        building=loaded.buildings[one.building].pk,
        key=key,
        setting=info.setting,
        lines=served,
        space=loaded.spaces.get((one.building, one.space)),
        school_class=info.school_class,
        makes_up=one.makes_up is not None,
        makes_up_for=one.makes_up,
    )
    return dated(loaded, session)


def _content(loaded: WeekInput, sessions: list[SessionContent]) -> WeekContent:
    plan = time_week(loaded.problem, planner_sessions(loaded, sessions))
    return content_of(loaded, sessions, plan, Told())

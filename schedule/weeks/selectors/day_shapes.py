"""Reads what `schedule.weeks.day_shape` decides from: the planned parts, the calendar, the log, the bases.

The number of queries grows neither with the dates nor with what is planned on them.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from uuid import UUID

from django.db.models import Max

from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from caseload.delivery.models import DeliveryVersion
from schedule.calendar.closed_days import ClosedDays, Closing
from schedule.calendar.happened import MIDNIGHT, HappeningKind
from schedule.calendar.models import CalendarEntry
from schedule.calendar.selectors.covers import Covers, covers_between
from schedule.calendar.selectors.ends import closed_days_of
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.day_shape import DayShape, Straight, buildings_of, shape_day
from schedule.weeks.day_truth import (
    SESSION,
    Off,
    Part,
    Short,
    Standing,
    Why,
    session_off,
    session_short,
)
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee
from schedule.weeks.selectors.leaving import Gone, days_after_leaving, gone_from
from schedule.weeks.selectors.told.happened import WhatHappened, happened_to
from schedule.weeks.selectors.told.hours import first_bells, last_bells
from travel.drives.selectors import DriveTable, drive_table
from travel.places.models import Building

NOT_HELD = frozenset({"school_closed", "teacher_absent"})
"""Reasons of the log (caseload.ledger.defaults) for which nobody drove there."""

FOR_GOOD = frozenset({Why.TEACHER_LEFT, Why.STUDENTS_LEFT, Why.HANDED_OVER})

ENTRIES = SqlOnce(
    lambda district, first, last: CalendarEntry.objects.filter(
        district_id=district, first_date__lte=last, last_date__gte=first
    )
)
BASES = SqlOnce(
    lambda district: (
        Building.objects.filter(district=district, level=Building.Level.BASE)
        .order_by()
        .values_list("pk", flat=True)
    )
)
LOGGED = SqlOnce(
    lambda uids: (
        DeliveryVersion.objects.filter(entry__session_uid__in=uids)
        .current()
        .order_by()
        .values_list("entry__session_uid", "delivered_minutes", "reason__code")
    )
)
ATTENDING = SqlOnce(
    lambda uids: (
        SessionAttendee.objects.filter(session__uid__in=uids)
        .order_by()
        .values_list("session__uid", "service_line")
        .distinct()
    )
)


@dataclass(frozen=True, slots=True)
class StraightLeg:
    """A drive past what is left out. Minutes after midnight; `minutes` at the wheel, None where nobody knows."""

    origin: Building
    building: Building
    start: int
    end: int
    minutes: int | None
    miles: Decimal | None
    source: str


def session_part(start: dt.time, end: dt.time, building: int, uid: UUID, students_from: int | None = None) -> Part:
    """A session as a part of its day."""
    return Part(SESSION, minutes_of(start), minutes_of(end), building, key=str(uid), students_from=students_from)


def item_part(kind: str, start: dt.time, end: dt.time, building: int | None, origin: int | None) -> Part:
    """A drive, lunch, preparation or meeting as a part of its day."""
    return Part(kind, minutes_of(start), minutes_of(end), building, origin)


def part_of(event: DayItem | PlannedSession) -> Part:
    """A row as a part of its day."""
    if isinstance(event, PlannedSession):
        return session_part(event.start, event.end, event.building_id, event.uid, event.students_from_id)
    return item_part(event.kind, event.start, event.end, event.building_id, event.origin_id)


def _closings(closed: ClosedDays, date: dt.date, day: Iterable[Part]) -> dict[int, Closing]:
    """What closes each building of a day."""
    buildings = _schools_of(day)
    return {one: closing for one in buildings if (closing := closed.closing(one, date)) is not None}


def _schools_of(day: Iterable[Part]) -> set[int]:
    """Where a day leads, and the schools of those who come to another building."""
    return {one for part in day for one in (*buildings_of(part), *part.schools)}


type Parts = Mapping[dt.date, Sequence[Part]]


def shapes_of(
    teacher: Person,
    parts: Parts,
    by: Person | None = None,
    known: Mapping[dt.date, Standing] | None = None,
) -> dict[dt.date, DayShape]:
    """Each date's shape by the calendar, the log and what happened, as they stand; the parts keep their places.

    `by` somebody: as it is for that person, who goes where the own sessions are. Else for whoever gives them.
    `known`: what is said of these dates, where it was read already (`standings_of`).
    """
    found = dict(standings_of(teacher, parts) if known is None else known)
    if by is not None and parts:
        found = _given_by(by, teacher, parts, found)
    return {date: shape_day(day, found[date]) for date, day in parts.items()}


def standings_of(teacher: Person, parts: Parts) -> dict[dt.date, Standing]:
    """What calendar, log and "Something happened" say of each date."""
    return standings_among(teacher, parts, gone_from(_sessions_in(parts)))


def standings_among(teacher: Person, parts: Parts, absent: Gone) -> dict[dt.date, Standing]:
    """The same for whoever has read already who has left these sessions (`gone_from`)."""
    if not parts:
        return {}
    first, last = min(parts), max(parts)
    entries, closed, bases = _calendar(teacher.district_id or 0, first, last)
    wanted = {date: _schools_of(day) for date, day in parts.items()}
    late, early = first_bells(entries, wanted), last_bells(entries, wanted)
    uids = _sessions_in(parts)
    logged = _logged(uids)
    after = days_after_leaving(teacher, parts)
    happened = happened_to(teacher, parts, cut=bool(late or early)) if uids else WhatHappened()
    ways = _ways(parts) if late or early else {}
    return {
        date: Standing(
            _closings(closed, date, day),
            logged.untaught,
            bases,
            early.get(date, {}),
            absent.sessions_left,
            absent.sessions_handed_over,
            teacher_left=date in after,
            opens=late.get(date, {}),
            became=happened.became.get(date, {}),
            away=happened.away.get(date, ()),
            least=happened.least,
            taught=logged.taught,
            covered=happened.covered & _keys(day),
            ways=ways,
        )
        for date, day in parts.items()
    }


def _ways(parts: Parts) -> dict[str, int]:
    """Minutes on the way of those who come to a session from another school, by its key; the longest of several."""
    keys = [UUID(part.key) for day in parts.values() for part in day if part.students_from is not None]
    rows = SessionAttendee.objects.filter(session__uid__in=keys) if keys else SessionAttendee.objects.none()
    longest = rows.order_by().values_list("session__uid").annotate(Max("service_line__way_minutes"))
    return {str(uid): way for uid, way in longest}


def _given_by(
    by: Person, teacher: Person, parts: Parts, found: Mapping[dt.date, Standing]
) -> dict[dt.date, Standing]:
    """The same days for whoever drives them: the teacher without the sessions at which somebody stands in, or a
    substitute with the own ones alone, whom the teacher's absence doesn't concern."""
    covers = covers_between([teacher.pk], min(parts), max(parts))
    own = by.pk == teacher.pk
    days = {date: _keys(day) for date, day in parts.items()}
    if own:
        return {date: replace(found[date], anothers=_covered(covers, date, keys)) for date, keys in days.items()}
    mine = covers.by(by)
    return {date: _shared(found[date], mine, date, keys) for date, keys in days.items()}


def _keys(day: Iterable[Part]) -> frozenset[str]:
    """The sessions of a day."""
    return frozenset(one.key for one in day if one.kind == SESSION)


def _covered(covers: Covers, date: dt.date, keys: Iterable[str]) -> frozenset[str]:
    return frozenset(key for key in keys if covers.of_session(date, key))


def _shared(standing: Standing, mine: Covers, date: dt.date, keys: frozenset[str]) -> Standing:
    """A day for a substitute: all of it, or the own sessions and the drives between, without lunch or meeting."""
    if mine.whole_day(date):
        return replace(standing, away=())
    given = _covered(mine, date, keys)
    return replace(standing, away=((0, MIDNIGHT),), covered=given, anothers=keys - given)


@dataclass(frozen=True, slots=True)
class AsHeld:
    """What one session comes to: why it is off, what is left of it, and whether the log says nobody was taught.

    `without`: students who are absent, by their ids. `otherwise`: in spite of what it is held.
    """

    off: Off | None = None
    short: Short | None = None
    untaught: bool = False
    without: frozenset[int] = frozenset()
    otherwise: frozenset[HappeningKind] = frozenset()

    def is_off_by(self, why: Why) -> bool:
        """Whether this is why it isn't held."""
        return self.off is not None and self.off.why is why

    @property
    def for_good(self) -> bool:
        """Whether it is off because somebody has left or another teacher gives it: nothing of it is missed."""
        return self.off is not None and self.off.why in FOR_GOOD


def as_held(
    teachers: Iterable[Person], rows: Iterable[PlannedSession], gone: Gone | None = None
) -> dict[UUID, AsHeld]:
    """What sessions come to, by uid, each by the standing of its own teacher.

    `gone`: who has left them, where it was read already (`gone_from`).
    """
    every = list(rows)
    absent = gone_from(row.uid for row in every) if gone is None else gone
    found: dict[UUID, AsHeld] = {}
    days: dict[int, dict[dt.date, list[Part]]] = defaultdict(lambda: defaultdict(list))
    for row in every:
        days[row.week.teacher_id][row.date].append(part_of(row))
    for teacher in {one.pk: one for one in teachers}.values():
        parts = days[teacher.pk]
        of_teacher = held_by(parts, standings_among(teacher, parts, absent))
        found |= {uid: one for (uid, _), one in of_teacher.items()}
    return found


def sessions_as_held(teacher: Person, parts: Parts) -> dict[tuple[UUID, dt.date], AsHeld]:
    """What one teacher's sessions come to, by uid and date; parts that aren't sessions are passed over."""
    return held_by(parts, standings_of(teacher, parts))


def held_by(parts: Parts, standings: Mapping[dt.date, Standing]) -> dict[tuple[UUID, dt.date], AsHeld]:
    """The same for whoever has read already what is said of the dates."""
    return {
        (UUID(part.key), date): _held(part, standings[date])
        for date, day in parts.items()
        for part in day
        if part.kind == SESSION
    }


def _held(part: Part, standing: Standing) -> AsHeld:
    became = standing.became.get(part.key)
    return AsHeld(
        session_off(part, standing),
        session_short(part, standing),
        part.key in standing.untaught,
        became.without if became is not None else frozenset(),
        became.otherwise if became is not None else frozenset(),
    )


def _sessions_in(parts: Parts) -> list[UUID]:
    return [UUID(one.key) for day in parts.values() for one in day if one.kind == SESSION]


type _Calendar = tuple[Sequence[CalendarEntry], ClosedDays, frozenset[int]]


def _calendar(district_id: int, first: dt.date, last: dt.date) -> _Calendar:
    """What stands in a district's calendar, what that closes, and which buildings are bases."""
    return shared(("calendar", district_id, first, last), lambda: _calendar_read(district_id, first, last))


def _calendar_read(district_id: int, first: dt.date, last: dt.date) -> _Calendar:
    entries = tuple(ENTRIES(district_id, first, last))
    return entries, closed_days_of(district_id, entries), frozenset(BASES(district_id))


def straight_legs(teacher: Person, shapes: Mapping[dt.date, DayShape]) -> dict[dt.date, tuple[StraightLeg, ...]]:
    """The straight drives of each date, by the teacher's table of drive times."""
    ids = {pk for shape in shapes.values() for one in shape.straight for pk in (one.origin, one.building)}
    if not ids:
        return {}
    rows = Building.objects.filter(district=teacher.district, pk__in=ids).select_related("district")
    buildings = {row.pk: row for row in rows}
    table = drive_table(teacher, buildings.values())
    found: dict[dt.date, tuple[StraightLeg, ...]] = {}
    for date, shape in shapes.items():
        if shape.straight:
            found[date] = tuple(_straight_leg(one, buildings, table) for one in shape.straight)
    return found


def _straight_leg(one: Straight, buildings: Mapping[int, Building], table: DriveTable) -> StraightLeg:
    origin, building = buildings[one.origin], buildings[one.building]
    leg = table.legs.get((one.origin, one.building))
    around = origin.leave_minutes + building.arrive_minutes
    start = max(one.earliest, one.due - around - (leg.minutes if leg is not None else 0))
    known = (leg.minutes, leg.miles, leg.source.value) if leg is not None else (None, None, "")
    return StraightLeg(origin, building, start, one.due, *known)


@dataclass(frozen=True, slots=True)
class _Logged:
    """By the log: sessions in which somebody was taught, and those in which nobody was or could have been."""

    taught: frozenset[str]
    untaught: frozenset[str]


def _logged(uids: Collection[UUID]) -> _Logged:
    """Nobody was taught where that is logged for everyone in it."""
    told: dict[UUID, list[bool]] = defaultdict(list)
    taught: set[str] = set()
    for uid, minutes, reason in LOGGED(uids):
        if uid is not None:
            told[uid].append(minutes != 0 or reason not in NOT_HELD)
            taught |= {str(uid)} if minutes else set()
    wanted = _attending(frozenset(uids))
    untaught = (str(uid) for uid, each in told.items() if not any(each) and len(each) >= wanted.get(uid, 0))
    return _Logged(frozenset(taught), frozenset(untaught))


def _attending(uids: frozenset[UUID]) -> Mapping[UUID, int]:
    """How many services meet in each session."""
    return shared(("attending", uids), lambda: Counter(uid for uid, _ in ATTENDING(uids)))

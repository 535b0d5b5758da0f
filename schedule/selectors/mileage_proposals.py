"""Trips that follow from the published weeks and from logged drives, before the teacher has said a word.

A building that was closed isn't driven to: the calendar says so, or the log of every session there says that the
school was closed or the teacher absent. The stops that are left are joined by legs.
"""

import datetime as dt
import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

from accounts.models import Person
from caseload.models import DeliveryVersion
from schedule.calendars import CalendarEntry, EntryKind, entries_for
from schedule.models import CalendarEntry as CalendarEntryRow
from schedule.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from travel.mileage import HomeLegs
from travel.mileage_selectors import Claims, home_miles
from travel.models import Building, DriveLog, Trip
from travel.selectors import drive_table

Kind = DayItem.Kind
NOT_HELD = frozenset({"school_closed", "teacher_absent"})
"""Reasons of the log (caseload.ledger_defaults) for which nobody drove there."""

type Ends = tuple[int | None, int | None]


@dataclass(slots=True)
class _Stop:
    """A building on one date and what the teacher went there for."""

    building_id: int
    sessions: list[uuid.UUID] = field(default_factory=list)
    meets: bool = False


@dataclass(frozen=True, slots=True)
class Proposals:
    """Trips by key, none saved; and of each date the buildings that were planned and are not driven to."""

    trips: Mapping[str, Trip]
    left_out: Mapping[dt.date, tuple[int, ...]]


def trip_key(date: dt.date, ends: Ends, number: int) -> str:
    """What tells a trip from every other of its teacher: date, both ends, and which of several alike it is."""
    origin, destination = ("home" if one is None else str(one) for one in ends)
    return f"{date:%Y%m%d}-{origin}-{destination}-{number}"


def proposed_trips(teacher: Person, claims: Claims, first: dt.date, last: dt.date) -> Proposals:
    """Every trip between two dates that the published weeks and the logged drives call for."""
    planned = _Planned(teacher, first, last)
    visited, left_out = planned.visited()
    home = claims.rules.home_legs is not HomeLegs.NEVER
    legs = {date: list(_legs(stops, home)) for date, stops in visited.items()}
    logged = _logged(teacher, first, last)
    miles = _Miles(teacher, claims, planned, {ends for found in legs.values() for ends in found} | {
        ends for _, ends in logged
    })  # fmt: skip
    trips: dict[str, Trip] = {}
    for date in sorted({*legs, *(date for date, _ in logged)}):
        for ends, number in _numbered(legs.get(date, ()), logged, date):
            read = logged.get((date, ends), [])
            trip = _trip(teacher, date, ends, number, miles.of(date, ends))
            if number <= len(read):
                trip.odometer_before, trip.odometer_after = read[number - 1]
            trips[trip.key] = trip
    return Proposals(trips, left_out)


def driven_stops(teacher: Person, date: dt.date) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Buildings driven to on a date of a published week, in order, and those that were planned and left out."""
    visited, left_out = _Planned(teacher, date, date).visited()
    return tuple(visited.get(date, ())), left_out.get(date, ())


def _trip(teacher: Person, date: dt.date, ends: Ends, number: int, miles: Decimal | None) -> Trip:
    return Trip(
        district=teacher.district,
        teacher=teacher,
        key=trip_key(date, ends, number),
        from_week=True,
        date=date,
        origin_id=ends[0],
        destination_id=ends[1],
        direct_miles=miles,
    )


type Logged = Mapping[tuple[dt.date, Ends], list[tuple[Decimal | None, Decimal | None]]]


def _numbered(legs: Iterable[Ends], logged: Logged, date: dt.date) -> Iterator[tuple[Ends, int]]:
    """Each leg of a date with its number among those alike; logged drives that were not planned come last."""
    count: Counter[Ends] = Counter()
    for ends in legs:
        count[ends] += 1
        yield ends, count[ends]
    for (day, ends), read in logged.items():
        if day == date:
            for number in range(count[ends] + 1, len(read) + 1):
                yield ends, number


def _logged(teacher: Person, first: dt.date, last: dt.date) -> Logged:
    """Readings of the odometer by date and ends, in order; both None where a drive has only times."""
    found: dict[tuple[dt.date, Ends], list[tuple[Decimal | None, Decimal | None]]] = defaultdict(list)
    rows = DriveLog.objects.filter(teacher=teacher, date__range=(first, last)).order_by("date", "started_at", "pk")
    for row in rows:
        whole = row.odometer_after is not None
        read = (row.odometer_before, row.odometer_after) if whole else (None, None)
        if whole or row.arrived_at is not None:
            found[row.date, (row.origin_id, row.destination_id)].append(read)
    return found


def _legs(stops: Sequence[int], home: bool) -> Iterator[Ends]:
    whole: list[int | None] = [None, *stops, None] if home and stops else list(stops)
    yield from pairwise(whole)


class _Planned:
    """The published weeks between two dates as stops."""

    def __init__(self, teacher: Person, first: dt.date, last: dt.date) -> None:
        self.teacher = teacher
        weeks = WeekPlan.objects.filter(
            teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday__lte=last, last_date__gte=first
        )
        within = {"week__in": weeks, "date__range": (first, last)}
        self.items = list(DayItem.objects.filter(**within).exclude(building=None).order_by("date", "start"))
        self.sessions = list(PlannedSession.objects.filter(**within).order_by("date", "start"))
        self.bases = set(
            Building.objects.filter(district=teacher.district, level=Building.Level.BASE).values_list(
                "pk", flat=True
            )
        )
        self.closings = _closings(teacher, first, last)
        self.held = _sessions_held([one.uid for one in self.sessions])

    def visited(self) -> tuple[dict[dt.date, list[int]], dict[dt.date, tuple[int, ...]]]:
        """Buildings driven to in their order, by date, and those that were planned and left out."""
        visited: dict[dt.date, list[int]] = {}
        left_out: dict[dt.date, tuple[int, ...]] = {}
        for date, stops in self._stops().items():
            gone = {one for one in {stop.building_id for stop in stops} if not self._driven_to(date, one, stops)}
            kept = [stop.building_id for stop in stops if stop.building_id not in gone]
            if gone and all(one in self.bases for one in kept) and not any(stop.meets for stop in stops):
                kept = []  # nobody drives to the base alone on a day without classes
            visited[date] = [one for n, one in enumerate(kept) if n == 0 or kept[n - 1] != one]
            if gone:
                left_out[date] = tuple(sorted(gone))
        return visited, left_out

    def _stops(self) -> dict[dt.date, list[_Stop]]:
        found: dict[dt.date, list[_Stop]] = defaultdict(list)
        events: list[DayItem | PlannedSession] = [*self.items, *self.sessions]
        for event in sorted(events, key=lambda one: (one.date, one.start, one.end)):
            stops = found[event.date]
            for building in buildings_of(event):
                if not stops or stops[-1].building_id != building:
                    stops.append(_Stop(building))
            if isinstance(event, PlannedSession):
                stops[-1].sessions.append(event.uid)
            elif event.kind == Kind.MEETING:
                stops[-1].meets = True
        return found

    def _driven_to(self, date: dt.date, building: int, stops: Sequence[_Stop]) -> bool:
        here = [stop for stop in stops if stop.building_id == building]
        closing = self._closing(date, building)
        if closing is EntryKind.CLOSED:
            return False
        if building in self.bases or any(stop.meets for stop in here):
            return True
        if closing is EntryKind.NO_STUDENTS:
            return False
        uids = [uid for stop in here for uid in stop.sessions]
        return not uids or any(self.held.get(uid, True) for uid in uids)

    def _closing(self, date: dt.date, building: int) -> EntryKind | None:
        """Closed, staff only, or None for a day like any other."""
        mine = [entry for where, entry in self.closings if where in {None, building}]
        for entry in entries_for(date, mine):
            if entry.kind in {EntryKind.CLOSED, EntryKind.NO_STUDENTS}:
                return entry.kind
        return None


def buildings_of(event: DayItem | PlannedSession) -> Iterator[int]:
    """The buildings at which a part of a day finds the teacher; of a drive, where it starts and where it ends."""
    if isinstance(event, DayItem) and event.kind == Kind.DRIVE and event.origin_id is not None:
        yield event.origin_id
    if event.building_id is not None:
        yield event.building_id


def _closings(teacher: Person, first: dt.date, last: dt.date) -> list[tuple[int | None, CalendarEntry]]:
    """The calendar's entries with the building each is about; bells don't matter here."""
    rows = CalendarEntryRow.objects.filter(district=teacher.district, first_date__lte=last, last_date__gte=first)
    return [
        (
            row.building_id,
            CalendarEntry(
                row.first_date,
                row.last_date,
                EntryKind(row.kind),
                row.title,
                bell="any",
                precedence=0 if row.building_id is None else 1,
            ),
        )
        for row in rows
    ]


def _sessions_held(uids: Sequence[uuid.UUID]) -> dict[uuid.UUID, bool]:
    """Of each session that is logged for everyone in it: whether anybody was there, or could have been."""
    wanted = Counter(SessionAttendee.objects.filter(session__uid__in=uids).values_list(
        "session__uid", "service_line"
    ).distinct().values_list("session__uid", flat=True))  # fmt: skip
    told: dict[uuid.UUID, list[bool]] = defaultdict(list)
    rows = DeliveryVersion.objects.filter(entry__session_uid__in=uids).current()
    for uid, minutes, reason in rows.values_list("entry__session_uid", "delivered_minutes", "reason__code"):
        if uid is not None:
            told[uid].append(minutes != 0 or reason not in NOT_HELD)
    return {uid: any(each) or len(each) < wanted[uid] for uid, each in told.items()}


class _Miles:
    """Direct miles between two ends: as planned on the date, else from the table of drive times, else unknown."""

    def __init__(self, teacher: Person, claims: Claims, planned: _Planned, wanted: Iterable[Ends]) -> None:
        self.planned = {
            (one.date, (one.origin_id, one.building_id)): one.miles
            for one in planned.items
            if one.kind == Kind.DRIVE and one.miles
        }
        ends = set(wanted)
        ids = {one for pair in ends for one in pair if one is not None}
        buildings = list(Building.objects.filter(district=teacher.district, pk__in=ids))
        self.table: dict[Ends, Decimal] = {}
        if any(None in pair for pair in ends):
            self.table.update(home_miles(claims.home, buildings))
        legs = drive_table(teacher, buildings).legs if ends else {}
        self.table.update({pair: leg.miles for pair, leg in legs.items() if leg.miles is not None})

    def of(self, date: dt.date, ends: Ends) -> Decimal | None:
        """Miles in tenths."""
        return self.planned.get((date, ends)) or self.table.get(ends)

"""Trips that follow from the published weeks and from logged drives, before the teacher has said a word.

Which buildings are driven to is decided in `schedule.weeks.day_shape`; the stops that are left are joined by legs.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from django.db.models import Q

from accounts.models import Person, Substitution
from schedule.weeks.day_truth import Part
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import part_of, shapes_of
from travel.drives.models import DriveLog
from travel.mileage.chart import ChartMiles, MilesSource
from travel.mileage.models import Trip
from travel.mileage.rules import HomeLegs
from travel.mileage.selectors import Claims, chart_miles
from travel.places.models import Building

Kind = DayItem.Kind
type Ends = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True)
class Proposals:
    """Trips by key, none saved; and of each date the buildings that were planned and are not driven to.

    `covered`: who stood in for the driver, and whom the driver stood in for, on dates with something planned.
    """

    trips: Mapping[str, Trip]
    left_out: Mapping[dt.date, tuple[int, ...]]
    covered: Mapping[dt.date, str]


def trip_key(date: dt.date, ends: Ends, number: int) -> str:
    """What tells a trip from every other of its teacher: date, both ends, and which of several alike it is."""
    origin, destination = ("home" if one is None else str(one) for one in ends)
    return f"{date:%Y%m%d}-{origin}-{destination}-{number}"


def proposed_trips(teacher: Person, claims: Claims, first: dt.date, last: dt.date) -> Proposals:
    """Every trip between two dates that the published weeks and the logged drives call for."""
    planned = _Planned(teacher, first, last)
    visited, left_out = planned.visited()
    legs = {date: list(_legs(stops, _from_home(claims, date))) for date, stops in visited.items()}
    logged = _logged(teacher, first, last)
    wanted = {(date, ends) for date, found in legs.items() for ends in found} | set(logged)
    miles = _Miles(teacher, claims, planned, wanted)
    trips: dict[str, Trip] = {}
    for date in sorted({*legs, *(date for date, _ in logged)}):
        for ends, number in _numbered(legs.get(date, ()), logged, date):
            read = logged.get((date, ends), [])
            trip = _trip(teacher, date, ends, number, miles.of(date, ends))
            if number <= len(read):
                trip.odometer_before, trip.odometer_after = read[number - 1]
            trips[trip.key] = trip
    return Proposals(trips, left_out, planned.covered())


def _trip(teacher: Person, date: dt.date, ends: Ends, number: int, chart: ChartMiles | None) -> Trip:
    return Trip(
        district=teacher.district,
        teacher=teacher,
        key=trip_key(date, ends, number),
        from_week=True,
        date=date,
        origin_id=ends[0],
        destination_id=ends[1],
        direct_miles=chart.miles if chart is not None else None,
        direct_source=chart.source if chart is not None else "",
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


def _from_home(claims: Claims, date: dt.date) -> bool:
    return claims.book.on(date).home_legs is not HomeLegs.NEVER


def _legs(stops: Sequence[int], home: bool) -> Iterator[Ends]:
    whole: list[int | None] = [None, *stops, None] if home and stops else list(stops)
    yield from pairwise(whole)


class _Planned:
    """The published weeks between two dates as stops: one's own, but not on days on which a substitute stood in for
    one; and those of the teachers whom one stood in for, on those days."""

    def __init__(self, teacher: Person, first: dt.date, last: dt.date) -> None:
        self.teacher = teacher
        self.covers = list(
            Substitution.objects.filter(
                Q(teacher=teacher) | Q(substitute=teacher), first_date__lte=last, last_date__gte=first
            )
            .select_related("teacher", "substitute")
            .prefetch_related("sessions")
        )
        published = Q(week__status=WeekPlan.Status.PUBLISHED, date__range=(first, last))
        self.own = published & Q(week__teacher=teacher)
        days = DayItem.objects.filter(published & self._days_driven()).exclude(building=None)
        self.items = list(days.order_by("date", "start"))
        sessions = PlannedSession.objects.filter(published & (self._days_driven() | self._sessions_driven()))
        self.sessions = list(sessions.order_by("date", "start"))

    def _days_driven(self) -> Q:
        """Days that the person drives."""
        own, others = Q(week__teacher=self.teacher), Q(pk__in=())
        for one in self.covers:
            days = Q(date__range=(one.first_date, one.last_date))
            if one.sessions.all():
                continue
            if one.teacher_id == self.teacher.pk:
                own &= ~days
            else:
                others |= days & Q(week__teacher=one.teacher)
        return own | others

    def _sessions_driven(self) -> Q:
        """Single sessions at which the person stands in; one drives between them."""
        found = Q(pk__in=())
        for one in self.covers:
            uids = [named.session_uid for named in one.sessions.all()]
            if one.teacher_id != self.teacher.pk and uids:
                found |= Q(date__range=(one.first_date, one.last_date), week__teacher=one.teacher, uid__in=uids)
        return found

    def covered(self) -> dict[dt.date, str]:
        """By date with something planned, in words who stands in for whom."""
        given = [one for one in self.covers if one.teacher_id == self.teacher.pk]
        taken = [one for one in self.covers if one.teacher_id != self.teacher.pk]
        dates = PlannedSession.objects.filter(self.own).values_list("date", flat=True) if given else ()
        return {
            **_told("in place of", {one.date for one in self.sessions}, [(one, one.teacher) for one in taken]),
            **_told("covered by", set(dates), [(one, one.substitute) for one in given]),
        }

    def visited(self) -> tuple[dict[dt.date, list[int]], dict[dt.date, tuple[int, ...]]]:
        """Buildings driven to in their order, by date, and those that were planned and left out."""
        parts: dict[dt.date, list[Part]] = defaultdict(list)
        events: list[DayItem | PlannedSession] = [*self.items, *self.sessions]
        for event in events:
            parts[event.date].append(part_of(event))
        shapes = shapes_of(self.teacher, parts, self.teacher)
        left_out = {date: tuple(sorted(shape.left_out)) for date, shape in shapes.items() if shape.left_out}
        return {date: list(shapes[date].stops) for date in sorted(shapes)}, left_out


def _told(words: str, dates: Iterable[dt.date], whom: Sequence[tuple[Substitution, Person]]) -> dict[dt.date, str]:
    """Whom substitutions name on each date, after some words; nothing for a date of none."""
    found = {date: sorted({str(person) for one, person in whom if one.covers(date)}) for date in dates}
    return {date: f"{words} {' and '.join(names)}" for date, names in found.items() if names}


def _planned_miles(planned: _Planned) -> dict[tuple[dt.date, Ends], Decimal]:
    """Miles of the drives as the weeks have them."""
    return {
        (one.date, (one.origin_id, one.building_id)): one.miles
        for one in planned.items
        if one.kind == Kind.DRIVE and one.miles
    }


def _building_ids(pairs: Iterable[Ends]) -> set[int]:
    return {one for pair in pairs for one in pair if one is not None}


class _Miles:
    """Direct miles between two ends: the chart's, else as planned on the date, else unknown."""

    def __init__(
        self, teacher: Person, claims: Claims, planned: _Planned, wanted: Collection[tuple[dt.date, Ends]]
    ) -> None:
        self.planned = _planned_miles(planned)
        self.claims = claims
        ids = _building_ids(pair for _, pair in wanted)
        buildings = list(Building.objects.filter(district=teacher.district, pk__in=ids))
        homes = {home for date, pair in wanted if None in pair and (home := claims.home_on(date)) is not None}
        self.chart = chart_miles(teacher, buildings, homes) if wanted else {}

    def of(self, date: dt.date, ends: Ends) -> ChartMiles | None:
        """Miles in tenths."""
        home = self.claims.home_on(date) if None in ends else None
        known = self.chart.get(home.pk if home is not None else None, {}).get(ends)
        planned = self.planned.get((date, ends))
        return known or (ChartMiles(planned, MilesSource.PLANNED) if planned else None)

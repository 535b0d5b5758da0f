"""Reads about mileage: a district's rules, the miles from home, what a trip claims, vouchers as they stand."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import reduce
from operator import or_

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.errors import ApplicationError
from accounts.models import District, Person, Substitution, held_ever, held_on
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from travel.drives.selectors import drive_table
from travel.mileage.chart import ChartMiles, MilesSource
from travel.mileage.claims import ClaimLine, DrivenLeg, claim_line
from travel.mileage.entries import Entry, entry_of, settled
from travel.mileage.foreseen import TripClaim
from travel.mileage.models import AccountCode, MileageRate, MileageSettings, TeacherHome, Trip, Voucher, VoucherLine
from travel.mileage.rates import STANDARD_RATES, MileageError, Rate, latest_begun, rate_written
from travel.mileage.rules import CodeTerm, Distance, HomeBase, HomeLegs, MileageBook, MileageTerms, Rounding
from travel.places.models import Building
from travel.places.points import point_of
from travel.roads.base import LegSource, Point, RoadError
from travel.roads.geodesic import GeodesicEstimator
from travel.roads.sources import district_engine

Role = Person.Role
DROVE = ((Substitution, "substitute"), (Trip, "teacher"), (Voucher, "teacher"))
HOME = "Home"
CHART_SOURCES = {
    LegSource.ROAD: MilesSource.ROAD,
    LegSource.MEASURED_BY_YOU: MilesSource.ENTERED,
    LegSource.LEARNED: MilesSource.ROAD,
    LegSource.ESTIMATE: MilesSource.ESTIMATE,
}
"""How the chart calls where drive times take a distance from."""
NO_TEACHER = "There is no driver here whose mileage you can see."
NO_HOME = "Home isn't known, so the miles aren't either. Enter them on this trip, or say where home is."
NO_COMMUTE = "Your normal commute isn't known. Enter its miles under “Home and commute”."


def mileage_teachers(viewer: Person) -> QuerySet[Person]:
    """Drivers whose mileage this person may see: oneself, and for a coordinator the district's.

    Those are its teachers, and whoever else stood in for one or has trips or vouchers: nothing of them is lost when
    somebody leaves.
    """
    if viewer.district_id is None or not viewer.is_active:
        return Person.objects.none()
    drivers = Person.objects.filter(held_ever(Role.TEACHER, Role.SUBSTITUTE), district=viewer.district)
    if not viewer.is_coordinator:
        return drivers.filter(pk=viewer.pk)
    teaches = held_on(today_of(viewer), Role.TEACHER) & Q(is_active=True)
    drove = (Exists(model.objects.filter(**{field: OuterRef("pk")})) for model, field in DROVE)
    return drivers.filter(reduce(or_, drove, teaches))


def mileage_teacher(viewer: Person, teacher_id: int | None) -> Person | None:
    """The teacher asked for, or the first whom the viewer may see; None if there is none.

    Raises `ApplicationError` (404) for a teacher whose mileage is nobody else's business.
    """
    teachers = mileage_teachers(viewer)
    if teacher_id is None:
        return teachers.first()
    found = teachers.filter(pk=teacher_id).first()
    if found is None:
        raise ApplicationError(NO_TEACHER, code="not_found", status=404)
    return found


def terms_of(district: District) -> tuple[MileageTerms, ...]:
    """What the district pays, by first day; empty where it has set nothing and the usual rules count."""
    rows = MileageSettings.objects.filter(district=district).order_by("first_day")
    return tuple(
        MileageTerms(
            first_day=row.first_day,
            home_legs=HomeLegs(row.home_legs),
            distance=Distance(row.distance),
            rounding=Rounding(row.rounding),
            by_total=row.rounded_at == MileageSettings.RoundedAt.TOTAL,
            share_percent=row.share_percent,
            most_day_miles=row.most_day_miles,
            purpose=row.purpose,
            account_code=row.account_code,
        )
        for row in rows
    )


def mileage_settings_on(district: District, day: dt.date) -> MileageSettings:
    """The district's rules of a day; the usual ones, not saved, where it had set none by then."""
    rows = MileageSettings.objects.filter(district=district, first_day__lte=day).order_by("-first_day")
    return rows.first() or MileageSettings(district=district)


def rates_of(district: District) -> tuple[Rate, ...]:
    """The district's own rates, the published ones where it has none of its own."""
    own = MileageRate.objects.filter(district=district).order_by("first_day")
    rates = tuple(Rate(row.first_day, rate_written(row.dollars), row.source, row.last_day) for row in own)
    return rates or STANDARD_RATES


def homes_of(teacher: Person) -> tuple[TeacherHome, ...]:
    """Where the teacher's days begin, by first day.

    For claims only: what a viewer may see is `TeacherHome.visible_to`'s part.
    """
    rows = TeacherHome.objects.filter(teacher=teacher).prefetch_related("regular_places")
    return tuple(rows.select_related("district").order_by("first_day"))


def home_on(teacher: Person, day: dt.date) -> TeacherHome:
    """What holds of a teacher's home and commute on a day; an empty row, not saved, where nothing was said."""
    found = latest_begun(homes_of(teacher), day)
    return found or TeacherHome(teacher=teacher, district=teacher.district)


def book_of(district: District, homes: Iterable[TeacherHome] = (), teacher: Person | None = None) -> MileageBook:
    """A district's rules and rates with one teacher's homes and account codes, each from its first day on."""
    codes = codes_of(district, teacher)
    return MileageBook(terms=terms_of(district), homes=bases_of(homes), rates=rates_of(district), codes=codes)


def codes_of(district: District, teacher: Person | None) -> tuple[CodeTerm, ...]:
    """What a teacher's trips are booked to, where that isn't the district's own code, by first day."""
    rows = AccountCode.objects.filter(Q(teacher=None) | Q(teacher=teacher), district=district)
    return tuple(CodeTerm(row.first_day, row.code, row.building_id) for row in rows.order_by("first_day"))


def bases_of(homes: Iterable[TeacherHome]) -> tuple[HomeBase, ...]:
    """What claims need of a teacher's homes."""
    return tuple(
        HomeBase(row.first_day, row.commute_miles, frozenset(one.pk for one in row.regular_places.all()))
        for row in homes
    )


def home_miles(
    home: TeacherHome | None, buildings: Iterable[Building]
) -> dict[tuple[int | None, int | None], ChartMiles]:
    """The chart between home (None) and buildings, both ways, as far as coordinates are known.

    From the district's prepared roads in this process, else estimated. A server of roads is never asked: nobody
    needs to know where a teacher lives.
    """
    if home is None or home.latitude is None or home.longitude is None:
        return {}
    here = Point(float(home.latitude), float(home.longitude))
    found: dict[tuple[int | None, int | None], ChartMiles] = {}
    for building in buildings:
        place = point_of(building)
        if place is not None:
            found[None, building.pk] = _miles(home.district, here, place)
            found[building.pk, None] = _miles(home.district, place, here)
    return found


def _miles(district: District, origin: Point, destination: Point) -> ChartMiles:
    try:
        engine = district_engine(district)
        legs = engine.answer([origin, destination]).legs if engine is not None else {}
    except RoadError:
        legs = {}
    leg = legs.get((0, 1)) or GeodesicEstimator().table([origin, destination])[0][1]
    return ChartMiles(leg.miles if leg.miles is not None else Decimal(0), CHART_SOURCES[leg.source])


def chart_miles(
    teacher: Person, buildings: Iterable[Building], homes: Iterable[TeacherHome] = ()
) -> dict[int | None, dict[tuple[int | None, int | None], ChartMiles]]:
    """The chart between buildings under None, and from each home under its id."""
    rows = list(buildings)
    between: dict[tuple[int | None, int | None], ChartMiles] = {
        pair: ChartMiles(leg.miles, CHART_SOURCES[leg.source])
        for pair, leg in drive_table(teacher, rows).distances.items()
        if leg.miles is not None
    }
    return {None: between, **{home.pk: home_miles(home, rows) for home in homes}}


@dataclass(frozen=True, slots=True)
class Claims:
    """Works out what trips claim under one district's rules, for one teacher, each by the rules of its day."""

    book: MileageBook
    homes: tuple[TeacherHome, ...]
    names: Mapping[int, str]

    def home_on(self, day: dt.date) -> TeacherHome | None:
        """Where the teacher's day begins, if that is known."""
        return latest_begun(self.homes, day)

    def name(self, building_id: int | None) -> str:
        """An end of a trip in words; home is only ever called home."""
        return HOME if building_id is None else self.names[building_id]

    def line(self, trip: Trip) -> ClaimLine:
        """What a trip (saved or not) claims; raises `MileageError` with what is missing."""
        rules = self.book.on(trip.date)
        at_home = trip.origin_id is None or trip.destination_id is None
        if at_home and trip.direct_miles is None and trip_driven(trip) is None:
            raise MileageError(NO_HOME)
        if at_home and rules.home_legs is HomeLegs.ABOVE_COMMUTE and rules.commute_miles is None:
            raise MileageError(NO_COMMUTE)
        return claim_line(
            DrivenLeg(
                day=trip.date,
                origin=self.name(trip.origin_id),
                destination=self.name(trip.destination_id),
                direct=trip.direct_miles,
                driven=trip_driven(trip),
                origin_kind=self.book.end_kind(trip.origin_id, trip.date),
                destination_kind=self.book.end_kind(trip.destination_id, trip.date),
                parking=trip.parking,
                tolls=trip.tolls,
                round_trip=trip.round_trip,
                direct_source=MilesSource(trip.direct_source),
                odometer=trip_odometer(trip),
            ),
            rules,
        )

    def entry(self, trip: Trip) -> Entry:
        """The trip as a line of a voucher; raises as `line` does."""
        code = self.book.account_code(trip.origin_id, trip.destination_id, trip.date)
        return entry_of(trip.key, self.line(trip), self.book.on(trip.date), trip.note, trip.purpose, code)


def trip_odometer(trip: Trip) -> tuple[Decimal, Decimal] | None:
    """Both readings of the odometer, None without."""
    if trip.odometer_before is None or trip.odometer_after is None:
        return None
    return trip.odometer_before, trip.odometer_after


def trip_driven(trip: Trip) -> Decimal | None:
    """The miles that were driven: what the odometer ran, or what was entered, or None."""
    read = trip_odometer(trip)
    return trip.driven_miles if read is None else read[1] - read[0]


def claims_of(teacher: Person) -> Claims:
    """The rules that count for one teacher, with the names of the district's buildings."""
    if teacher.district is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    homes = homes_of(teacher)
    names = Building.objects.filter(district=teacher.district).values_list("pk", "name")
    return Claims(book_of(teacher.district, homes, teacher), homes, dict(names))


def trip_claims(district: District, teacher_id: int | None = None) -> dict[int, TripClaim]:
    """What each confirmed trip of the district, or of one teacher, claims by the rules of its day, by its id."""
    trips = Trip.objects.filter(district=district, status=Trip.Status.CONFIRMED)
    trips = trips.filter(teacher=teacher_id) if teacher_id is not None else trips
    submitted = set(Voucher.objects.filter(district=district).standing().values_list("teacher_id", "month"))
    book, names = book_of(district), dict(Building.objects.filter(district=district).values_list("pk", "name"))
    homes: dict[int, list[TeacherHome]] = defaultdict(list)
    rows = TeacherHome.objects.filter(district=district).prefetch_related("regular_places").order_by("first_day")
    for row in rows:
        homes[row.teacher_id].append(row)
    claims = {
        one: Claims(replace(book, homes=bases_of(homes[one])), tuple(homes[one]), names)
        for one in {trip.teacher_id for trip in trips}
    }
    dollars = _dollars_of(trips, claims)
    return {
        trip.pk: TripClaim(
            trip.teacher_id,
            month := trip.date.replace(day=1),
            (trip.teacher_id, month) in submitted,
            dollars.get(trip.pk),
        )
        for trip in trips
    }


def _dollars_of(trips: Iterable[Trip], claims: Mapping[int, Claims]) -> dict[int, Decimal]:
    """What trips claim as they add up on a month's voucher; those that can't be worked out are left out."""
    months: dict[tuple[int, dt.date], dict[int, Entry]] = defaultdict(dict)
    for trip in sorted(trips, key=lambda one: (one.date, one.key)):
        try:
            months[trip.teacher_id, trip.date.replace(day=1)][trip.pk] = claims[trip.teacher_id].entry(trip)
        except MileageError:
            continue
    return {
        pk: entry.total
        for lines in months.values()
        for pk, entry in zip(lines, settled(lines.values()), strict=True)
    }


def voucher_get(viewer: Person, voucher_id: int) -> Voucher:
    """A voucher that the viewer may see; raises `ApplicationError` (404) for any other."""
    rows = Voucher.objects.visible_to(viewer).select_related("teacher__district", "submitted_by", "supplement_of")
    row = rows.filter(pk=voucher_id).first()
    if row is None:
        raise ApplicationError("There is no such voucher.", code="not_found", status=404)
    return row


def entries_of(vouchers: Iterable[Voucher]) -> tuple[Entry, ...]:
    """The lines of vouchers as they were submitted, in that order."""
    lines = VoucherLine.objects.filter(voucher__in=[row.pk for row in vouchers])
    return tuple(_entry(row) for row in lines.order_by("voucher__number", "voucher__edition", "position"))


def _entry(row: VoucherLine) -> Entry:
    return Entry(
        key=row.key,
        day=row.date,
        origin=row.origin,
        destination=row.destination,
        direct=row.direct_miles,
        driven=row.driven_miles,
        miles=row.miles,
        rate=rate_written(row.rate),
        rate_source=row.rate_source,
        amount=row.amount,
        parking=row.parking,
        tolls=row.tolls,
        rule=row.rule,
        note=row.note,
        takes_back=row.takes_back,
        purpose=row.purpose,
        account_code=row.account_code,
        source=MilesSource(row.source),
        direct_source=MilesSource(row.direct_source),
        odometer_before=row.odometer_before,
        odometer_after=row.odometer_after,
        off_chart_percent=row.off_chart_percent,
        off_chart=row.off_chart,
        total_rounding=Rounding(row.total_rounding) if row.total_rounding else None,
    )

"""A teacher's month of trips and vouchers, for pages, files and the API. No student anywhere in it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from accounts.errors import ApplicationError
from accounts.fields import month_read
from accounts.models import Person
from schedule.trips.data import PROPOSED, MonthView, Repricing, Sums, TripDay, TripView
from schedule.trips.selectors.proposals import Proposals, proposed_trips
from schedule.trips.selectors.vouchers import (
    NO_MILES,
    NO_MONEY,
    answered_keys,
    month_end,
    month_is_locked,
    month_start,
    month_vouchers,
    open_of,
    returned_of,
    submitted_entries,
    sums_of,
    voucher_row,
    voucher_view,
)
from travel.mileage.chart import MilesSource
from travel.mileage.entries import Entry, settled, supplement_entries
from travel.mileage.models import Trip, Voucher
from travel.mileage.questions import AskedTrip, VoucherQuestion, questions_of
from travel.mileage.rates import MileageError
from travel.mileage.selectors import Claims, claims_of, trip_driven, trip_odometer

NO_TRIP = "There is no such trip in this month."
STATUS_LABELS = {PROPOSED: "To confirm", Trip.Status.CONFIRMED: "Driven", Trip.Status.NOT_DRIVEN: "Not driven"}


def month_of(text: str) -> dt.date:
    """``2026-09`` as the first day of the month; raises `ApplicationError` (404) for what is none."""
    month = month_read(text)
    if month is None:
        raise ApplicationError("That isn't a month. Use one such as 2026-09.", code="not_found", status=404)
    return month


@dataclass(frozen=True, slots=True)
class MonthTrips:
    """A month's trips by key: what was decided, and what the weeks and logs propose."""

    claims: Claims
    decided: dict[str, Trip]
    proposals: Proposals

    @property
    def all(self) -> tuple[Trip, ...]:
        """Decided or proposed, by date; a day's trips in the order in which they were planned, added ones last."""
        place = {key: number for number, key in enumerate(self.proposals.trips)}
        rows = {**self.proposals.trips, **self.decided}.values()
        return tuple(sorted(rows, key=lambda one: (one.date, place.get(one.key, len(place)), one.key)))

    @property
    def undecided(self) -> tuple[Trip, ...]:
        """Proposed, and the teacher has said nothing."""
        return tuple(trip for key, trip in self.proposals.trips.items() if key not in self.decided)

    @property
    def driven(self) -> tuple[Trip, ...]:
        """Those that are confirmed."""
        return tuple(trip for trip in self.all if trip.pk and trip.status == Trip.Status.CONFIRMED)

    def entries(self) -> tuple[Entry, ...]:
        """The lines of the confirmed trips; raises `MileageError` where one can't be worked out."""
        return settled(self.claims.entry(trip) for trip in self.driven)

    def known_entries(self) -> dict[str, Entry]:
        """The lines of all trips that can be worked out, by key; of those that are driven as they add up."""
        found = {trip.key: entry for trip in self.all if (entry := self._known(trip)) is not None}
        driven = [found[trip.key] for trip in self.driven if trip.key in found]
        return {**found, **{entry.key: entry for entry in settled(driven)}}

    def _known(self, trip: Trip) -> Entry | None:
        try:
            return self.claims.entry(trip)
        except MileageError:
            return None


def month_trips(teacher: Person, month: dt.date) -> MonthTrips:
    """Everything about one teacher's month; the caller has checked that it may be seen."""
    claims = claims_of(teacher)
    first, last = month_start(month), month_end(month)
    decided = Trip.objects.filter(teacher=teacher, date__range=(first, last))
    return MonthTrips(claims, {row.key: row for row in decided}, proposed_trips(teacher, claims, first, last))


def month_in(key: str) -> dt.date:
    """The month that a key is of; raises `ApplicationError` (404) for what isn't a key."""
    month = month_read(f"{key[:4]}-{key[4:6]}")
    if month is None:
        raise ApplicationError(NO_TRIP, code="not_found", status=404)
    return month


def trip_find(teacher: Person, key: str) -> Trip:
    """A trip by its key: decided (saved) or planned (not saved); raises `ApplicationError` (404) for none."""
    found = month_trips(teacher, month_in(key))
    row = found.decided.get(key) or found.proposals.trips.get(key)
    if row is None:
        raise ApplicationError(NO_TRIP, code="not_found", status=404)
    return row


def _problems(views: Iterable[TripView]) -> tuple[str, ...]:
    """Each problem of a driven trip once."""
    return tuple(dict.fromkeys(one.problem for one in views if one.problem and one.is_driven))


def month_view(viewer: Person, teacher: Person, month: dt.date) -> MonthView:
    """The month as the viewer sees it; the caller got the teacher from `mileage_teacher`."""
    found = month_trips(teacher, month)
    known = found.known_entries()
    views = [_trip_view(trip, found, known.get(trip.key)) for trip in found.all]
    vouchers = month_vouchers(teacher, month)
    still_open, returned = open_of(vouchers), returned_of(vouchers)
    return MonthView(
        teacher_id=teacher.pk,
        teacher=str(teacher),
        month=month_start(month),
        days=_days(views, found),
        confirmed=_sums_of_views(views),
        open_trips=sum(one.is_open for one in views),
        problems=_problems(views),
        rules=found.claims.book.in_words(month_start(month), month_end(month)),
        vouchers=tuple(voucher_row(row) for row in vouchers if row.status != Voucher.Status.OPEN),
        locked=month_is_locked(vouchers),
        supplement_open=still_open is not None,
        reprices=_reprices(vouchers),
        returned=None if returned is None else voucher_view(returned),
        questions=month_questions(teacher, month, found, vouchers),
        repricing=_repriced(vouchers, found),
        may_change=viewer.pk == teacher.pk,
    )


def _days(views: Sequence[TripView], found: MonthTrips) -> tuple[TripDay, ...]:
    by_date: dict[dt.date, list[TripView]] = defaultdict(list)
    for one in views:
        by_date[one.date].append(one)
    left_out, covered = found.proposals.left_out, found.proposals.covered
    return tuple(
        TripDay(
            date,
            tuple(by_date.get(date, ())),
            tuple(found.claims.name(building) for building in left_out.get(date, ())),
            covered.get(date, ""),
        )
        for date in sorted({*by_date, *left_out, *covered})
    )


def _problem(trip: Trip, claims: Claims) -> str:
    """Why a trip can't be worked out."""
    try:
        claims.line(trip)
    except MileageError as error:
        return str(error)
    return ""


def _trip_view(trip: Trip, found: MonthTrips, line: Entry | None) -> TripView:
    claims = found.claims
    status = trip.status if trip.pk else PROPOSED
    return TripView(
        key=trip.key,
        date=trip.date,
        origin_id=trip.origin_id,
        origin=claims.name(trip.origin_id),
        destination_id=trip.destination_id,
        destination=claims.name(trip.destination_id),
        round_trip=trip.round_trip,
        status=status,
        status_label=STATUS_LABELS[status],
        from_week=trip.from_week,
        still_planned=not trip.from_week or trip.key in found.proposals.trips,
        direct_miles=trip.direct_miles,
        direct_source=MilesSource(trip.direct_source),
        driven_miles=trip_driven(trip),
        odometer_before=trip.odometer_before,
        odometer_after=trip.odometer_after,
        parking=trip.parking,
        tolls=trip.tolls,
        purpose=trip.purpose or claims.book.on(trip.date).purpose,
        note=trip.note,
        **_figures(line),
        problem="" if line else _problem(trip, claims),
    )


def _figures(line: Entry | None) -> dict[str, Any]:
    """What a trip claims and why; nothing where it can't be worked out."""
    if line is None:
        nothing = dict.fromkeys(("miles", "rate", "amount", "parking_paid", "tolls_paid"))
        return {**nothing, "rule": "", "source": MilesSource.UNKNOWN, "source_words": "", "off_chart": ""}
    return {
        "miles": line.miles,
        "rate": line.rate,
        "amount": line.amount,
        "parking_paid": line.parking,
        "tolls_paid": line.tolls,
        "rule": line.rule,
        "source": line.source,
        "source_words": line.source_words,
        "off_chart": line.off_chart_words,
    }


def _sums_of_views(views: Iterable[TripView]) -> Sums:
    driven = [one for one in views if one.is_driven]

    def added(name: str, nothing: Decimal) -> Decimal:
        return sum((getattr(one, name) or nothing for one in driven), nothing)

    return Sums(
        miles=added("miles", NO_MILES),
        amount=added("amount", NO_MONEY),
        parking=added("parking_paid", NO_MONEY),
        tolls=added("tolls_paid", NO_MONEY),
    )


def entries_to_submit(teacher: Person, month: dt.date, found: MonthTrips) -> tuple[Entry, ...]:
    """What the next voucher of the month would say: everything, or after one was submitted, what changed since.

    A supplement that is open says whether it prices every trip again. Raises `MileageError` where a confirmed trip
    can't be worked out.
    """
    vouchers = month_vouchers(teacher, month)
    return supplement_entries(submitted_entries(vouchers), found.entries(), reprice=_reprices(vouchers))


def _reprices(vouchers: Sequence[Voucher]) -> bool:
    """Whether the supplement that is open, or was returned, prices every trip again."""
    row = open_of(vouchers) or returned_of(vouchers)
    return row is not None and row.reprices


def month_questions(
    teacher: Person, month: dt.date, found: MonthTrips, vouchers: Sequence[Voucher]
) -> tuple[VoucherQuestion, ...]:
    """What has to be answered before the month, or its supplement, is submitted: about the trips that it claims.

    Not what was answered with a voucher that stands. Nothing while the month is locked.
    """
    if month_is_locked(vouchers):
        return ()
    try:
        claimed = {one.key for one in entries_to_submit(teacher, month, found)}
    except MileageError:
        claimed = {one.key for one in found.driven}
    answered = answered_keys(vouchers)
    asked = questions_of(
        [_asked(trip, found.claims) for trip in found.driven], _last_reading(found, teacher, month)
    )
    return tuple(one for one in asked if one.key not in answered and claimed.intersection(one.trips))


def _asked(trip: Trip, claims: Claims) -> AskedTrip:
    rules = claims.book.on(trip.date)
    return AskedTrip(
        key=trip.key,
        day=trip.date,
        origin=claims.name(trip.origin_id),
        destination=claims.name(trip.destination_id),
        direct=trip.direct_miles,
        direct_source=MilesSource(trip.direct_source),
        driven=trip_driven(trip),
        odometer=trip_odometer(trip),
        round_trip=trip.round_trip,
        parking_and_tolls=trip.parking_and_tolls,
        added=not trip.from_week,
        share_percent=rules.share_percent,
        most_day_miles=rules.most_day_miles,
    )


def _last_reading(found: MonthTrips, teacher: Person, month: dt.date) -> AskedTrip | None:
    """The last trip with readings before the month."""
    rows = Trip.objects.filter(
        teacher=teacher, date__lt=month_start(month), status=Trip.Status.CONFIRMED, odometer_after__isnull=False
    )
    last = rows.order_by("-date", "-odometer_after").first()
    return None if last is None else _asked(last, found.claims)


def month_corrected(vouchers: Iterable[Voucher], found: MonthTrips) -> bool:
    """Whether a trip of a submitted month is different now; one that can't be worked out anymore is."""
    try:
        return bool(supplement_entries(submitted_entries(vouchers), found.entries()))
    except MileageError:
        return True


def _repriced(vouchers: Sequence[Voucher], found: MonthTrips) -> Repricing | None:
    """What pricing a submitted month again would claim beyond the trips that changed; None for nothing.

    None as well while a trip can't be worked out: the month's problems say what is missing.
    """
    submitted = submitted_entries(vouchers)
    if not submitted:
        return None
    try:
        now = found.entries()
    except MileageError:
        return None
    whole, changed = supplement_entries(submitted, now, reprice=True), supplement_entries(submitted, now)
    lines = len({one.key for one in whole} - {one.key for one in changed})
    difference = sums_of(whole).total - sums_of(changed).total
    return Repricing(lines, difference) if lines else None

"""Writes about trips and vouchers: the teacher confirms or corrects, then submits; nothing submitted changes.

Only the teacher says what was driven and signs for it; a coordinator reads. Every service is keyword-only and
raises `ApplicationError` (403 for the role, 404 for another teacher, 409 with a code that tells what is in the
way) or `ValidationError` by field. `today` is the date where the district is.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require, record_change, record_remove
from schedule.trips.selectors.month import (
    NO_TRIP,
    MonthTrips,
    entries_to_submit,
    month_corrected,
    month_end,
    month_in,
    month_start,
    month_trips,
    month_vouchers,
)
from schedule.trips.selectors.proposals import trip_key
from travel.mileage.chart import MilesSource, there_and_back
from travel.mileage.claims import ZERO
from travel.mileage.entries import Entry
from travel.mileage.models import Trip, Voucher, VoucherLine
from travel.mileage.rates import MileageError
from travel.mileage.selectors import chart_miles, mileage_teachers
from travel.places.models import Building

OWN = "week.change"
LOCKED = "The voucher of this month is submitted. Start a supplement to correct it."
USED = "Trips were corrected since the voucher was submitted. Put them back as they were, or submit the supplement."
CHART_KNOWS = (
    "The chart knows this way: {} miles. Leave this empty and enter what you drove as driven miles. If the chart "
    "is wrong, have the coordinates of both schools corrected, or enter your own miles under Drives."
)
FUTURE = "This trip is still ahead. Confirm it once it is driven."
ONLY_THE_TEACHER = "Only the teacher says what was driven and submits the voucher."

type Values = Mapping[str, Any]


def trip_confirm(*, actor: Person, teacher: Person, keys: Iterable[str], today: dt.date) -> list[Trip]:
    """Trips were driven as they are shown. Confirming one twice changes nothing."""
    _teacher_require(actor, teacher)
    rows = []
    with transaction.atomic():
        _serialize(teacher)
        for month, wanted in _by_month(keys).items():
            found = _changeable(teacher, month)
            rows += [_decide(actor, found, key, {"status": Trip.Status.CONFIRMED}, today) for key in wanted]
    return rows


def trip_correct(*, actor: Person, teacher: Person, key: str, values: Values, today: dt.date) -> Trip:
    """A trip was driven, but differently: miles, odometer, parking and tolls, a note, or there and back."""
    _teacher_require(actor, teacher)
    with transaction.atomic():
        _serialize(teacher)
        found = _changeable(teacher, month_in(key))
        return _decide(actor, found, key, {**values, "status": Trip.Status.CONFIRMED}, today)


def trip_drop(*, actor: Person, teacher: Person, key: str, today: dt.date) -> Trip | None:
    """A trip wasn't driven; one that was added by hand is gone."""
    _teacher_require(actor, teacher)
    with transaction.atomic():
        _serialize(teacher)
        found = _changeable(teacher, month_in(key))
        row = found.decided.get(key)
        if row is not None and not row.from_week:
            record_remove(actor=actor, row=row, action="trip_drop", permission=OWN)
            return None
        return _decide(actor, found, key, {"status": Trip.Status.NOT_DRIVEN}, today)


def trip_reopen(*, actor: Person, teacher: Person, key: str) -> None:
    """Take back what was said of a planned trip: it is to be confirmed again, as planned."""
    _teacher_require(actor, teacher)
    with transaction.atomic():
        _serialize(teacher)
        row = _changeable(teacher, month_in(key)).decided.get(key)
        if row is None:
            raise ApplicationError(NO_TRIP, code="not_found", status=404)
        record_remove(actor=actor, row=row, action="trip_reopen", permission=OWN)


def trip_add(*, actor: Person, teacher: Person, values: Values, today: dt.date) -> Trip:
    """A trip that no week called for. Without direct miles the table of drive times gives them, if it can."""
    _teacher_require(actor, teacher)
    date = values.get("date")
    if not isinstance(date, dt.date):
        raise ValidationError({"date": "Give the day driven."})
    if date > today:
        raise ValidationError({"date": FUTURE})
    with transaction.atomic():
        _serialize(teacher)
        found = _changeable(teacher, month_start(date))
        ends = tuple(
            one.pk if one is not None else None for one in (values.get("origin"), values.get("destination"))
        )
        taken = {**found.proposals.trips, **found.decided}
        number = 1
        while (key := trip_key(date, (ends[0], ends[1]), number)) in taken:
            number += 1
        row = Trip(district=teacher.district, teacher=teacher, key=key)
        row.direct_miles, row.direct_source = _on_chart(teacher, found, values)
        wanted = {**values, "status": Trip.Status.CONFIRMED}
        return record_change(
            actor=actor, row=row, values=_with_typed(row, wanted), action="trip_add", permission=OWN
        )


def _on_chart(teacher: Person, found: MonthTrips, values: Values) -> tuple[Decimal | None, str]:
    """What the chart says of a trip, of both ways where it is there and back."""
    ends = [values.get("origin"), values.get("destination")]
    buildings = [one for one in ends if isinstance(one, Building)]
    home = found.claims.home_on(values["date"])
    charts = chart_miles(teacher, buildings, [] if home is None else [home])
    chart = charts.get(None if len(buildings) == len(ends) or home is None else home.pk, {})
    out, back = (one.pk if isinstance(one, Building) else None for one in ends)
    ways = [chart.get((out, back)), chart.get((back, out))][: 2 if values.get("round_trip") else 1]
    known = there_and_back(ways)
    return (None, "") if known is None else (known.miles, known.source)


def _with_typed(row: Trip, values: Values) -> Values:
    """Values whose direct miles count only where the chart doesn't know the way.

    Raises `ValidationError` where it does: what was driven is said as such, and held against the chart.
    """
    typed = values.get("direct_miles")
    if typed is None:
        return {name: value for name, value in values.items() if name != "direct_miles"}
    if row.direct_miles is None or row.direct_source == MilesSource.TYPED:
        return {**values, "direct_source": MilesSource.TYPED}
    if typed != row.direct_miles:
        raise ValidationError({"direct_miles": CHART_KNOWS.format(row.direct_miles)})
    return values


def voucher_submit(*, actor: Person, teacher: Person, month: dt.date, today: dt.date, now: dt.datetime) -> Voucher:
    """Sign the month's voucher, or the supplement that is open: its lines are copied and never change again.

    Refused while trips are undecided (``trips_open``), while one can't be worked out (``trip_incomplete``), where
    nothing changed since the last one (``nothing_to_claim``), and where it was submitted (``voucher_locked``).
    """
    _teacher_require(actor, teacher)
    with transaction.atomic():
        _serialize(teacher)
        found = _changeable(teacher, month_start(month))
        entries = _entries_ready(teacher, month, found, today)
        row = next((one for one in month_vouchers(teacher, month) if one.status == Voucher.Status.OPEN), None)
        row = row or Voucher(district=teacher.district, teacher=teacher, month=month_start(month))
        row.status, row.submitted_by, row.submitted_at = Voucher.Status.SUBMITTED, actor, now
        row.rules = found.claims.book.in_words(month_start(month), month_end(month))
        row.full_clean()
        row.save()
        for position, entry in enumerate(entries, start=1):
            _line(row, position, entry).save()
        total = str(sum((one.total for one in entries), ZERO))
        audit_write(
            actor=actor,
            district=row.district,
            action="voucher_submit",
            row=row,
            changes={"lines": [None, len(entries)], "total": [None, total]},
        )
    return row


def _entries_ready(teacher: Person, month: dt.date, found: MonthTrips, today: dt.date) -> tuple[Entry, ...]:
    waiting = found.undecided
    if waiting:
        ahead = " Some are still ahead." if any(trip.date > today for trip in waiting) else ""
        what = "1 trip is" if len(waiting) == 1 else f"{len(waiting)} trips are"
        raise ApplicationError(
            f"{what} not confirmed. Confirm what was driven, and say what wasn't, before you submit.{ahead}",
            code="trips_open",
        )
    try:
        entries = entries_to_submit(teacher, month, found)
    except MileageError as error:
        raise ApplicationError(str(error), code="trip_incomplete") from error
    if not entries:
        raise ApplicationError("There is nothing to claim that isn't claimed already.", code="nothing_to_claim")
    return entries


def _line(voucher: Voucher, position: int, entry: Entry) -> VoucherLine:
    line = VoucherLine(
        voucher=voucher,
        position=position,
        key=entry.key,
        takes_back=entry.takes_back,
        date=entry.day,
        origin=entry.origin,
        destination=entry.destination,
        direct_miles=entry.direct,
        driven_miles=entry.driven,
        miles=entry.miles,
        rate=entry.rate,
        rate_source=entry.rate_source,
        amount=entry.amount,
        parking_and_tolls=entry.parking_and_tolls,
        rule=entry.rule,
        note=entry.note,
        purpose=entry.purpose,
        account_code=entry.account_code,
        source=entry.source,
        direct_source=entry.direct_source,
        odometer_before=entry.odometer_before,
        odometer_after=entry.odometer_after,
        off_chart_percent=entry.off_chart_percent,
        off_chart=entry.off_chart,
        total_rounding=entry.total_rounding or "",
    )
    line.full_clean()
    return line


def supplement_start(*, actor: Person, teacher: Person, month: dt.date, reprice: bool = False) -> Voucher:
    """Make the trips of a submitted month correctable again; what was submitted stays.

    It claims what changed since, and nothing else; with ``reprice`` also what the rules and rates of the days
    driven say now of the trips that didn't.

    Raises `ApplicationError` (code ``not_submitted``, ``supplement_open``).
    """
    _teacher_require(actor, teacher)
    with transaction.atomic():
        _serialize(teacher)
        vouchers = month_vouchers(teacher, month)
        if not vouchers:
            raise ApplicationError("This month's voucher isn't submitted: correct its trips.", code="not_submitted")
        if vouchers[-1].status == Voucher.Status.OPEN:
            raise ApplicationError("A supplement is already open: correct the trips.", code="supplement_open")
        row = Voucher(
            district=teacher.district,
            teacher=teacher,
            month=month_start(month),
            number=vouchers[-1].number + 1,
            supplement_of=vouchers[0],
        )
        return record_change(
            actor=actor, row=row, values={"reprices": reprice}, action="supplement_start", permission=OWN
        )


def supplement_drop(*, actor: Person, teacher: Person, month: dt.date) -> None:
    """Close the supplement that is open without submitting it: the month is as it was submitted.

    Raises `ApplicationError` (code ``no_supplement``, or ``supplement_used`` while trips were corrected for it).
    """
    _teacher_require(actor, teacher)
    with transaction.atomic():
        _serialize(teacher)
        vouchers = month_vouchers(teacher, month)
        row = next((one for one in vouchers if one.number and one.status == Voucher.Status.OPEN), None)
        if row is None:
            raise ApplicationError("No supplement is open in this month.", code="no_supplement")
        if month_corrected(vouchers, month_trips(teacher, month)):
            raise ApplicationError(USED, code="supplement_used")
        record_remove(actor=actor, row=row, action="supplement_drop", permission=OWN)


def _teacher_require(actor: Person, teacher: Person) -> None:
    """The teacher in person; a coordinator is told so (403), everyone else finds nothing (404)."""
    permission_require(actor, OWN)
    if actor.pk == teacher.pk and actor.is_teacher:
        return
    if mileage_teachers(actor).filter(pk=teacher.pk).exists():
        raise ApplicationError(ONLY_THE_TEACHER, code="only_the_teacher", status=403)
    raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _serialize(teacher: Person) -> None:
    """One writer of a teacher's mileage at a time: no trip slips in beside a voucher that is being submitted."""
    Person.objects.select_for_update().get(pk=teacher.pk)


def _changeable(teacher: Person, month: dt.date) -> MonthTrips:
    """The month's trips; raises `ApplicationError` (code ``voucher_locked``) once it is submitted."""
    vouchers = month_vouchers(teacher, month)
    if vouchers and all(row.status == Voucher.Status.SUBMITTED for row in vouchers):
        raise ApplicationError(LOCKED, code="voucher_locked")
    return month_trips(teacher, month)


def _decide(actor: Person, found: MonthTrips, key: str, values: Values, today: dt.date) -> Trip:
    row = found.decided.get(key) or found.proposals.trips.get(key)
    if row is None:
        raise ApplicationError(NO_TRIP, code="not_found", status=404)
    if row.date > today and values["status"] == Trip.Status.CONFIRMED:
        raise ApplicationError(FUTURE, code="still_ahead")
    wanted = _with_typed(row, values)
    return record_change(actor=actor, row=row, values=wanted, action="trip_decide", permission=OWN)


def _by_month(keys: Iterable[str]) -> dict[dt.date, list[str]]:
    found: dict[dt.date, list[str]] = {}
    for key in dict.fromkeys(keys):
        found.setdefault(month_in(key), []).append(key)
    return found

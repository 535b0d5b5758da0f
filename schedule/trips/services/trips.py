"""Writes about trips: the teacher confirms or corrects what follows from the week, and adds what doesn't.

Only the teacher says what was driven; a coordinator reads. Every service is keyword-only and
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
from accounts.services import record_change, record_remove
from schedule.trips.selectors.month import NO_TRIP, MonthTrips, month_in
from schedule.trips.selectors.proposals import trip_key
from schedule.trips.selectors.vouchers import month_start
from schedule.trips.services.shared import OWN, changeable, serialize, teacher_require
from travel.mileage.chart import MilesSource, there_and_back
from travel.mileage.models import Trip
from travel.mileage.selectors import chart_miles
from travel.places.models import Building

CHART_KNOWS = (
    "The chart knows this way: {} miles. Leave this empty and enter what you drove as driven miles. If the chart "
    "is wrong, have the coordinates of both schools corrected, or enter your own miles under Drives."
)
FUTURE = "This trip is still ahead. Confirm it once it is driven."

type Values = Mapping[str, Any]


def trip_confirm(*, actor: Person, teacher: Person, keys: Iterable[str], today: dt.date) -> list[Trip]:
    """Trips were driven as they are shown. Confirming one twice changes nothing."""
    teacher_require(actor, teacher)
    rows = []
    with transaction.atomic():
        serialize(teacher)
        for month, wanted in _by_month(keys).items():
            found = changeable(teacher, month)
            rows += [_decide(actor, found, key, {"status": Trip.Status.CONFIRMED}, today) for key in wanted]
    return rows


def trip_correct(*, actor: Person, teacher: Person, key: str, values: Values, today: dt.date) -> Trip:
    """A trip was driven, but differently: miles, odometer, parking and tolls, a note, or there and back."""
    teacher_require(actor, teacher)
    with transaction.atomic():
        serialize(teacher)
        found = changeable(teacher, month_in(key))
        return _decide(actor, found, key, {**values, "status": Trip.Status.CONFIRMED}, today)


def trip_drop(*, actor: Person, teacher: Person, key: str, today: dt.date) -> Trip | None:
    """A trip wasn't driven; one that was added by hand is gone."""
    teacher_require(actor, teacher)
    with transaction.atomic():
        serialize(teacher)
        found = changeable(teacher, month_in(key))
        row = found.decided.get(key)
        if row is not None and not row.from_week:
            record_remove(actor=actor, row=row, action="trip_drop", permission=OWN)
            return None
        return _decide(actor, found, key, {"status": Trip.Status.NOT_DRIVEN}, today)


def trip_reopen(*, actor: Person, teacher: Person, key: str) -> None:
    """Take back what was said of a planned trip: it is to be confirmed again, as planned."""
    teacher_require(actor, teacher)
    with transaction.atomic():
        serialize(teacher)
        row = changeable(teacher, month_in(key)).decided.get(key)
        if row is None:
            raise ApplicationError(NO_TRIP, code="not_found", status=404)
        record_remove(actor=actor, row=row, action="trip_reopen", permission=OWN)


def trip_add(*, actor: Person, teacher: Person, values: Values, today: dt.date) -> Trip:
    """A trip that no week called for. Without direct miles the table of drive times gives them, if it can."""
    teacher_require(actor, teacher)
    date = values.get("date")
    if not isinstance(date, dt.date):
        raise ValidationError({"date": "Give the day driven."})
    if date > today:
        raise ValidationError({"date": FUTURE})
    with transaction.atomic():
        serialize(teacher)
        found = changeable(teacher, month_start(date))
        ends = tuple(
            one.pk if one is not None else None for one in (values.get("origin"), values.get("destination"))
        )
        taken = {**found.proposals.trips, **found.decided}
        number = 1
        while (key := trip_key(date, (ends[0], ends[1]), number)) in taken:
            number += 1
        row = Trip(district=teacher.district, teacher=teacher, key=key)
        row.direct_miles, row.direct_source = chart_for(teacher, found, values)
        wanted = {**values, "status": Trip.Status.CONFIRMED}
        return record_change(
            actor=actor, row=row, values=with_typed(row, wanted), action="trip_add", permission=OWN
        )


def chart_for(teacher: Person, found: MonthTrips, values: Values) -> tuple[Decimal | None, str]:
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


def with_typed(row: Trip, values: Values) -> Values:
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


def _decide(actor: Person, found: MonthTrips, key: str, values: Values, today: dt.date) -> Trip:
    row = found.decided.get(key) or found.proposals.trips.get(key)
    if row is None:
        raise ApplicationError(NO_TRIP, code="not_found", status=404)
    if row.date > today and values["status"] == Trip.Status.CONFIRMED:
        raise ApplicationError(FUTURE, code="still_ahead")
    wanted = with_typed(row, values)
    return record_change(actor=actor, row=row, values=wanted, action="trip_decide", permission=OWN)


def _by_month(keys: Iterable[str]) -> dict[dt.date, list[str]]:
    found: dict[dt.date, list[str]] = {}
    for key in dict.fromkeys(keys):
        found.setdefault(month_in(key), []).append(key)
    return found

"""Rows of trips to records."""

import datetime as dt
from dataclasses import dataclass
from functools import partial
from typing import Any

from accounts.models import Person
from schedule.imports.rows.context import ParsedRow, TableRun, changed_words, model_values
from schedule.imports.rows.schools import building_of, looked_up
from schedule.trips.selectors.month import MonthTrips, month_trips
from schedule.trips.selectors.proposals import trip_key
from schedule.trips.selectors.vouchers import month_is_locked, month_start, month_vouchers
from schedule.trips.services.bringing import OF_THE_PROGRAM, month_claimed, trip_bring
from schedule.trips.services.shared import LOCKED, ONLY_THE_TEACHER
from travel.mileage.models import Trip

_PLAIN = (
    "status", "from_week", "round_trip", "direct_miles", "direct_source", "driven_miles", "odometer_before",
    "odometer_after", "parking", "tolls", "purpose", "note",
)  # fmt: skip
_ENDS = ("origin", "destination")
CLAIMED = "The voucher of this month is submitted, and this trip isn't in it."


@dataclass(frozen=True, slots=True)
class _Month:
    """A driver's month: its trips, whether they can change, and whether anything of it is claimed."""

    trips: MonthTrips
    locked: bool
    claimed: bool


def write_trips(run: TableRun, rows: list[ParsedRow]) -> None:
    """Trips by their driver, day, both ends, and which of several."""
    months: dict[tuple[int, dt.date], _Month] = {}
    for row in rows:
        trip = _trip_of(run, row)
        if trip is None:
            continue
        month = _month_of(months, trip)
        found = month.trips.decided.get(trip.key)
        values = model_values(Trip, row, _PLAIN)
        if found is not None and run.actor.pk == found.teacher_id:
            values = {name: value for name, value in values.items() if name not in OF_THE_PROGRAM}
            if values.get("direct_miles") is None:
                values.pop("direct_miles", None)
        if _can_change(run, row, found, values, month):
            service = partial(trip_bring, month=month.trips, locked=month.locked)
            run.put(row, service, found or trip, values)


def _month_of(months: dict[tuple[int, dt.date], _Month], trip: Trip) -> _Month:
    """The month of a trip; read once."""
    key = (trip.teacher_id, month_start(trip.date))
    if key not in months:
        locked = month_is_locked(month_vouchers(trip.teacher, trip.date))
        months[key] = _Month(month_trips(trip.teacher, trip.date), locked, month_claimed(trip.teacher, trip.date))
    return months[key]


def _trip_of(run: TableRun, row: ParsedRow) -> Trip | None:
    """The trip that a row means, not saved; None with the problem noted."""
    driver = looked_up(run, row, "teacher", _driver, run, row)
    ends = {name: building_of(run, row, name) if row.get(name) else None for name in _ENDS}
    if driver is None or any(ends[name] is None and row.get(name) for name in _ENDS):
        return None
    if not any(ends.values()):
        run.fault(row, "origin", "It names no building.", "Name at least one; an empty cell is home.")
        return None
    origin, destination = (one.pk if one is not None else None for one in ends.values())
    key = trip_key(row.values["date"], (origin, destination), row.get("number", 1))
    return Trip(district=run.district, teacher=driver, key=key, date=row.values["date"], **ends)


def _driver(run: TableRun, row: ParsedRow) -> Person:
    """Whose drive it is. Raises CellError."""
    name = row.get("teacher")
    if run.actor.is_teacher or not name:
        return run.lookups.own_teacher(name)
    return run.lookups.driver(name)


def _can_change(run: TableRun, row: ParsedRow, found: Trip | None, values: dict[str, Any], month: _Month) -> bool:
    """Whether a row changes nothing, or may, with the problem noted."""
    if found is not None and not changed_words(run.table, found, values):
        return True
    if month.locked:
        run.fault(
            row, "", LOCKED, "Take this row out. Under Trips the teacher starts a supplement and corrects it."
        )
    elif found is not None and run.actor.pk != found.teacher_id:
        run.fault(row, "", ONLY_THE_TEACHER, "Take this row out, or ask the teacher to correct the trip.")
    elif found is None and month.claimed and run.actor.is_coordinator:
        run.fault(row, "", CLAIMED, "Take this row out. The teacher adds it to the supplement under Trips.")
    else:
        return True
    return False

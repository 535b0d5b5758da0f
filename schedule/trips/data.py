"""A month of trips and its vouchers as pages, files and the API show them."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from travel.mileage.chart import MilesSource
from travel.mileage.entries import Entry
from travel.mileage.models import Trip

PROPOSED = "proposed"


@dataclass(frozen=True, slots=True)
class TripView:
    """One trip: miles in tenths, money in cents, all decimal; ends without a building are home.

    `status`: proposed, confirmed or not_driven. `still_planned`: the published weeks call for it now (always true
    of one that was added by hand). `rule` says why so many miles are claimed; `problem` why none can be.
    `parking_paid`: what is claimed of `parking_and_tolls`. `source`: where the claimed miles come from,
    `direct_source` the direct ones; `off_chart`: by how much what was driven differs from the chart, if by more
    than the district's share.
    """

    key: str
    date: dt.date
    origin_id: int | None
    origin: str
    destination_id: int | None
    destination: str
    round_trip: bool
    status: str
    status_label: str
    from_week: bool
    still_planned: bool
    direct_miles: Decimal | None
    direct_source: MilesSource
    driven_miles: Decimal | None
    odometer_before: Decimal | None
    odometer_after: Decimal | None
    parking_and_tolls: Decimal
    purpose: str
    note: str
    miles: Decimal | None
    rate: Decimal | None
    amount: Decimal | None
    parking_paid: Decimal | None
    rule: str
    source: MilesSource
    source_words: str
    off_chart: str
    problem: str

    @property
    def is_open(self) -> bool:
        """Whether the teacher has still to say something."""
        return self.status == PROPOSED

    @property
    def is_driven(self) -> bool:
        """Whether it is confirmed."""
        return self.status == Trip.Status.CONFIRMED


@dataclass(frozen=True, slots=True)
class TripDay:
    """One date with its trips, and the names of the buildings that were planned and not driven to."""

    date: dt.date
    trips: tuple[TripView, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sums:
    """Sums of lines as they are printed: each amount was rounded before."""

    miles: Decimal
    amount: Decimal
    parking_and_tolls: Decimal

    @property
    def total(self) -> Decimal:
        """Dollars in total."""
        return self.amount + self.parking_and_tolls


@dataclass(frozen=True, slots=True)
class VoucherRow:
    """A voucher of the month in a list."""

    id: int
    number: int
    label: str
    status: str
    submitted_at: dt.datetime | None
    submitted_by: str
    sums: Sums


@dataclass(frozen=True, slots=True)
class Repricing:
    """Trips of a submitted month that would be priced differently today, and by how many dollars in total.

    `difference` is above 0 where more would be paid than was claimed.
    """

    trips: int
    difference: Decimal

    @property
    def in_all(self) -> str:
        """The difference in words."""
        if not self.difference:
            return "the same in total"
        return f"${abs(self.difference)} {'more' if self.difference > 0 else 'less'} in total"


@dataclass(frozen=True, slots=True)
class MonthView:
    """A teacher's month. `locked`: submitted, no supplement open. `may_change`: the viewer is the teacher.

    `repricing`: what a rule or rate that was changed after submitting would change. `reprices`: the supplement that
    is open prices every trip again.
    """

    teacher_id: int
    teacher: str
    month: dt.date
    days: tuple[TripDay, ...]
    confirmed: Sums
    open_trips: int
    problems: tuple[str, ...]
    rules: str
    vouchers: tuple[VoucherRow, ...]
    locked: bool
    supplement_open: bool
    reprices: bool
    repricing: Repricing | None
    may_change: bool

    @property
    def trips(self) -> tuple[TripView, ...]:
        """Of all days."""
        return tuple(trip for day in self.days for trip in day.trips)


@dataclass(frozen=True, slots=True)
class VoucherView:
    """A voucher as it was submitted (or a supplement as it would be now), with the sums that finance checks."""

    id: int
    teacher: str
    district: str
    month: dt.date
    number: int
    status: str
    rules: str
    submitted_at: dt.datetime | None
    submitted_by: str
    entries: tuple[Entry, ...]
    sums: Sums
    by_rate: tuple[tuple[Decimal, Sums], ...]

    @property
    def title(self) -> str:
        """What it is."""
        return "Mileage voucher" + (f", supplement {self.number}" if self.number else "")

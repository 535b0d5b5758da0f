"""A month of trips and its vouchers as pages, files and the API show them."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from travel.mileage.chart import MilesSource
from travel.mileage.entries import Entry
from travel.mileage.models import Trip, Voucher
from travel.mileage.questions import VoucherQuestion

PROPOSED = "proposed"


@dataclass(frozen=True, slots=True)
class TripView:
    """One trip: miles in tenths, money in cents, all decimal; ends without a building are home.

    `status`: proposed, confirmed or not_driven. `still_planned`: the published weeks call for it now (always true
    of one that was added by hand). `rule` says why so many miles are claimed; `problem` why none can be.
    `parking_paid`, `tolls_paid`: what is claimed of both. `source`: where the claimed miles come from,
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
    parking: Decimal
    tolls: Decimal
    purpose: str
    note: str
    miles: Decimal | None
    rate: Decimal | None
    amount: Decimal | None
    parking_paid: Decimal | None
    tolls_paid: Decimal | None
    rule: str
    source: MilesSource
    source_words: str
    off_chart: str
    problem: str

    @property
    def parking_and_tolls(self) -> Decimal:
        """Both, in dollars."""
        return self.parking + self.tolls

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
    """One date with its trips, and the names of the buildings that were planned and not driven to.

    `covered`: that a substitute stood in, or that the driver did, in words.
    """

    date: dt.date
    trips: tuple[TripView, ...]
    left_out: tuple[str, ...]
    covered: str


@dataclass(frozen=True, slots=True)
class Sums:
    """Sums of lines as they are printed: each amount was rounded before."""

    miles: Decimal
    amount: Decimal
    parking: Decimal
    tolls: Decimal

    @property
    def parking_and_tolls(self) -> Decimal:
        """Both, in dollars."""
        return self.parking + self.tolls

    @property
    def total(self) -> Decimal:
        """Dollars in total."""
        return self.amount + self.parking_and_tolls


@dataclass(frozen=True, slots=True)
class VoucherRow:
    """A submitted voucher in a list."""

    id: int
    teacher: str
    month: dt.date
    number: int
    edition: int
    label: str
    status: str
    status_label: str
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
class StepView:
    """What a voucher became, or with `undoes` no longer is; `words`: why, or what a payment is known by."""

    status: str
    label: str
    by: str
    at: dt.datetime
    words: str
    undoes: bool


@dataclass(frozen=True, slots=True)
class AnswerView:
    """A question about trips, and the driver's answer."""

    key: str
    question: str
    answer: str


@dataclass(frozen=True, slots=True)
class VoucherView:
    """A voucher as it was submitted (or a supplement as it would be now), with the sums that finance checks.

    `steps`: all that became of it; `in_force`: without what was taken back. `actions`: what the viewer may do now.
    """

    id: int
    teacher: str
    district: str
    month: dt.date
    number: int
    edition: int
    status: str
    status_label: str
    rules: str
    submitted_at: dt.datetime | None
    submitted_by: str
    entries: tuple[Entry, ...]
    sums: Sums
    by_rate: tuple[tuple[Decimal, Sums], ...]
    steps: tuple[StepView, ...]
    in_force: tuple[StepView, ...]
    answers: tuple[AnswerView, ...]
    actions: tuple[str, ...]

    @property
    def title(self) -> str:
        """What it is."""
        number = f", supplement {self.number}" if self.number else ""
        again = f", submitted again ({self.edition})" if self.edition > 1 else ""
        return f"Mileage voucher{number}{again}"

    def step(self, status: str) -> StepView | None:
        """Who made it so and when, where that holds."""
        return next((one for one in reversed(self.in_force) if one.status == status), None)

    @property
    def approval(self) -> StepView | None:
        """Who approved it."""
        return self.step(Voucher.Status.APPROVED)

    @property
    def payment(self) -> StepView | None:
        """Who said that it was paid."""
        return self.step(Voucher.Status.PAID)


@dataclass(frozen=True, slots=True)
class MonthView:
    """A teacher's month. `locked`: submitted, no supplement open, none returned. `may_change`: it is the viewer's.

    `repricing`: what a rule or rate that was changed after submitting would change. `reprices`: the supplement that
    is open prices every trip again. `returned`: the voucher that waits to be submitted again. `questions`: what is
    to be answered before submitting.
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
    returned: VoucherView | None
    questions: tuple[VoucherQuestion, ...]
    may_change: bool

    @property
    def trips(self) -> tuple[TripView, ...]:
        """Of all days."""
        return tuple(trip for day in self.days for trip in day.trips)

"""What is asked about a month's trips before its voucher is submitted. Pure.

A question stops nothing that is true: the driver answers it in a few words, and the answer is kept with the
voucher for whoever approves it. Its key is made of what is asked and of the figures, so that an answer holds as
long as they do, and for no other. No source forbids any of this; what is worth asking about is common practice.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import combinations, pairwise

from travel.mileage.chart import SOURCE_WORDS, MilesSource, is_off_chart, off_chart_percent


@dataclass(frozen=True, slots=True)
class AskedTrip:
    """A confirmed trip as questions see it, with the district's limits on its day.

    `added`: by hand; no week or logged drive called for it. Miles are in tenths, money in dollars.
    """

    key: str
    day: date
    origin: str
    destination: str
    direct: Decimal | None = None
    direct_source: MilesSource = MilesSource.UNKNOWN
    driven: Decimal | None = None
    odometer: tuple[Decimal, Decimal] | None = None
    round_trip: bool = False
    parking_and_tolls: Decimal = Decimal(0)
    added: bool = False
    share_percent: int = 20
    most_day_miles: int = 200

    @property
    def way(self) -> str:
        """Day and ends in words."""
        return f"{self.day:%B} {self.day.day}, {self.origin} to {self.destination}"

    @property
    def longest(self) -> Decimal:
        """What was driven at most, by any figure that is known."""
        return max(one for one in (self.direct, self.driven, Decimal(0)) if one is not None)


@dataclass(frozen=True, slots=True)
class VoucherQuestion:
    """Something to answer before submitting: a key that stays, a sentence, and the trips that it is about."""

    key: str
    words: str
    trips: tuple[str, ...]


def questions_of(trips: Sequence[AskedTrip], before: AskedTrip | None = None) -> tuple[VoucherQuestion, ...]:
    """All questions about trips that come in the order driven; `before`: the last reading ahead of them."""
    read = [one for one in (before, *trips) if one is not None and one.odometer is not None]
    found = (
        *_odometer(read),
        *_twice(trips),
        *_over_the_chart(trips),
        *_long_days(trips),
        *_parking_twice(trips),
    )
    return tuple({one.key: one for one in found}.values())


def _question(kind: str, words: str, trips: Iterable[AskedTrip], *figures: object) -> VoucherQuestion:
    keys = tuple(one.key for one in trips)
    return VoucherQuestion("/".join((kind, *keys, *map(str, figures))), words, keys)


def _readings(trip: AskedTrip) -> tuple[Decimal, Decimal]:
    if trip.odometer is None:
        raise ValueError("A trip without readings was compared by them.")
    return trip.odometer


def _odometer(read: Sequence[AskedTrip]) -> Iterator[VoucherQuestion]:
    """Readings of two drives that overlap, or that run back from one day to a later one.

    Trips of one day may be listed in another order than they were driven, so there only an overlap is asked about.
    """
    for one, other in pairwise(sorted(read, key=lambda trip: (trip.day, _readings(trip)))):
        (first, last), (begin, end) = _readings(one), _readings(other)
        figures = (first, last, begin, end)
        if begin < last and first < end:
            words = (
                f"The odometer overlaps: {one.way} is {first} to {last}, and {other.way} is {begin} to {end}. "
                "Were both driven?"
            )
            yield _question("odometer-overlaps", words, (one, other), *figures)
        elif begin < last:
            words = (
                f"The odometer runs back: {one.way} ends at {last}, and {other.way} begins at {begin}. "
                "Was it another car?"
            )
            yield _question("odometer-runs-back", words, (one, other), *figures)


def _by_day(trips: Iterable[AskedTrip]) -> dict[date, list[AskedTrip]]:
    found: dict[date, list[AskedTrip]] = defaultdict(list)
    for one in trips:
        found[one.day].append(one)
    return found


def _twice(trips: Iterable[AskedTrip]) -> Iterator[VoucherQuestion]:
    """Trips of one day that may be one: the same readings, or the same way of which one was added by hand."""
    for day in _by_day(trips).values():
        for group in _alike(day):
            often = "twice" if len(group) == 2 else f"{len(group)} times"
            words = f"{group[0].way}, is listed {often} that day. Was it driven {often}?"
            if len({one.round_trip for one in group}) > 1:
                words = f"{group[0].way}, is listed by itself and as there and back. Were both driven?"
            yield _question("twice", words, group[:2], *([len(group)] if len(group) > 2 else []))


def _alike(day: Iterable[AskedTrip]) -> Iterator[list[AskedTrip]]:
    """Groups of two or more that may be one trip."""
    by_reading: dict[object, list[AskedTrip]] = defaultdict(list)
    by_way: dict[object, list[AskedTrip]] = defaultdict(list)
    for one in day:
        if one.odometer is not None:
            by_reading[one.odometer].append(one)
        by_way[one.origin, one.destination].append(one)
        if one.round_trip:
            by_way[one.destination, one.origin].append(one)
    yield from (group for group in by_reading.values() if len(group) > 1)
    yield from (group for group in by_way.values() if len(group) > 1 and any(one.added for one in group))


def _over_the_chart(trips: Iterable[AskedTrip]) -> Iterator[VoucherQuestion]:
    """More driven than the chart says, by more than the district's share. Less costs nobody anything."""
    for one in trips:
        percent = off_chart_percent(one.driven, one.direct, one.direct_source)
        if percent is None or percent < 0:
            continue
        if is_off_chart(one.driven, one.direct, one.direct_source, one.share_percent):
            chart = SOURCE_WORDS[one.direct_source]
            more = f"{percent} % more than the chart's {one.direct} ({chart})"
            words = f"{one.way}: {one.driven} miles driven, {more}. Why?"
            yield _question("over-chart", words, (one,), one.driven, one.direct)


def _long_days(trips: Iterable[AskedTrip]) -> Iterator[VoucherQuestion]:
    """Days with more miles than the district thinks likely."""
    for day, found in _by_day(trips).items():
        miles = sum((one.longest for one in found), Decimal(0))
        most = max(one.most_day_miles for one in found)
        if miles > most:
            words = f"{day:%B} {day.day} has {miles} miles in all, more than {most}. Is that right?"
            yield VoucherQuestion(f"long-day/{day:%Y%m%d}/{miles}", words, tuple(one.key for one in found))


def _parking_twice(trips: Iterable[AskedTrip]) -> Iterator[VoucherQuestion]:
    """The same sum for parking or tolls at the same place twice in one day."""
    for day in _by_day(trips).values():
        paid = [one for one in day if one.parking_and_tolls]
        for one, other in combinations(paid, 2):
            same_sum = one.parking_and_tolls == other.parking_and_tolls
            if same_sum and one.destination == other.destination:
                sum_of_it = f"${one.parking_and_tolls} for parking or tolls"
                words = f"{one.way}: {sum_of_it} stands there twice. Was it paid twice?"
                yield _question("parking-twice", words, (one, other), one.parking_and_tolls)

"""Mileage: which miles of a day a district pays, at which rate, and by which rule each of them.

Pure. Miles and money are `Decimal`, never floating point: the published rates hold half-cents. The rate is that
of the day driven, not of the day claimed. Rounding happens once, at the line, by a named rule.

The rules are the district's. Those shipped follow IRS Publication 463, Figure B: the way between home and the
regular place of work is commuting and never paid; between two places of work on one day is business mileage. Many
districts leave out the first and the last leg of the day altogether and, where the chart and the odometer differ,
pay the shorter.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from enum import StrEnum

CENT = Decimal("0.01")
ZERO = Decimal(0)


class MileageError(ValueError):
    """A claim that can't be worked out; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class Rate:
    """Dollars a mile from a date on, until the next rate begins."""

    first_day: date
    dollars: Decimal
    source: str = ""


def _rate(year: int, month: int, dollars: str, source: str = "IRS standard mileage rate, business") -> Rate:
    return Rate(date(year, month, 1), Decimal(dollars), source)


STANDARD_RATES: tuple[Rate, ...] = (
    _rate(2015, 1, "0.575"),
    _rate(2016, 1, "0.54"),
    _rate(2017, 1, "0.535"),
    _rate(2018, 1, "0.545"),
    _rate(2019, 1, "0.58"),
    _rate(2020, 1, "0.575"),
    _rate(2021, 1, "0.56"),
    _rate(2022, 1, "0.585"),
    _rate(2022, 7, "0.625", "IRS Announcement 2022-13"),
    _rate(2023, 1, "0.655"),
    _rate(2024, 1, "0.67", "IRS Notice 2024-08"),
    _rate(2025, 1, "0.70"),
    _rate(2026, 1, "0.725", "IRS Notice 2026-10"),
)
"""United States standard business rates; a district may pay others."""


def rate_on(day: date, rates: Sequence[Rate]) -> Rate:
    """The rate in force on the day driven. Raises `MileageError` where no rate has begun."""
    begun = [rate for rate in rates if rate.first_day <= day]
    if not begun:
        raise MileageError(f"No mileage rate is known for {day}. Add the rate that your district paid then.")
    return max(begun, key=lambda rate: rate.first_day)


class Place(StrEnum):
    """What one end of a leg is, in the words of Publication 463."""

    HOME = "home"
    REGULAR = "regular"
    OTHER = "other"


class HomeLegs(StrEnum):
    """What the district pays of the first and the last leg of a day, from and to home."""

    NEVER = "never"
    OTHER_PLACES = "other_places"
    ABOVE_COMMUTE = "above_commute"


class Distance(StrEnum):
    """Which distance counts where a chart and an odometer give two."""

    DIRECT = "direct"
    DRIVEN = "driven"
    SHORTER = "shorter"


class Rounding(StrEnum):
    """How a line's amount is rounded to the cent."""

    HALF_UP = "half_up"
    HALF_EVEN = "half_even"
    DOWN = "down"


_ROUNDING = {Rounding.HALF_UP: ROUND_HALF_UP, Rounding.HALF_EVEN: ROUND_HALF_EVEN, Rounding.DOWN: ROUND_DOWN}


@dataclass(frozen=True, slots=True)
class MileageRules:
    """A district's rules as data. `commute_miles` is one way, for the rule that pays only what exceeds it."""

    home_legs: HomeLegs = HomeLegs.NEVER
    distance: Distance = Distance.SHORTER
    commute_miles: Decimal = ZERO
    rounding: Rounding = Rounding.HALF_UP
    rates: tuple[Rate, ...] = STANDARD_RATES


@dataclass(frozen=True, slots=True)
class DrivenLeg:
    """One leg of a day. `direct` is the chart's distance; `driven` the odometer's, if it was read."""

    day: date
    origin: str
    destination: str
    direct: Decimal
    driven: Decimal | None = None
    origin_kind: Place = Place.OTHER
    destination_kind: Place = Place.OTHER
    parking_and_tolls: Decimal = ZERO

    def __post_init__(self) -> None:
        """Refuse floating point and negative distances."""
        for name in ("direct", "driven", "parking_and_tolls"):
            value = getattr(self, name)
            if value is not None and (not isinstance(value, Decimal) or value < 0):
                raise MileageError(f"{name} must be a Decimal of 0 or more, not {value!r}.")

    @property
    def home_end(self) -> Place | None:
        """What the other end is, if one end of the leg is home."""
        if self.origin_kind is Place.HOME:
            return self.destination_kind
        return self.origin_kind if self.destination_kind is Place.HOME else None


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """One leg as claimed: miles paid, the rate of its day, the amount, and the rule that made it so."""

    leg: DrivenLeg
    miles: Decimal
    rate: Rate
    amount: Decimal
    rule: str

    @property
    def total(self) -> Decimal:
        """Mileage, parking and tolls together."""
        return self.amount + self.leg.parking_and_tolls


def _distance(leg: DrivenLeg, choice: Distance) -> tuple[Decimal, str]:
    if choice is Distance.DIRECT or leg.driven is None:
        return leg.direct, "direct distance"
    if choice is Distance.DRIVEN:
        return leg.driven, "driven distance"
    return (
        (leg.driven, "driven distance, the shorter")
        if leg.driven < leg.direct
        else (leg.direct, "direct distance, the shorter")
    )


def _of_home_leg(miles: Decimal, other_end: Place, rules: MileageRules) -> tuple[Decimal, str]:
    if other_end is Place.REGULAR and rules.home_legs is not HomeLegs.ABOVE_COMMUTE:
        return ZERO, "between home and the regular place of work: commuting (IRS Publication 463)"
    if rules.home_legs is HomeLegs.NEVER:
        return ZERO, "first or last leg of the day: not paid by district rule"
    if rules.home_legs is HomeLegs.ABOVE_COMMUTE:
        above = max(miles - rules.commute_miles, ZERO)
        return above, f"only what exceeds the normal commute of {rules.commute_miles} miles"
    return miles, "between home and another place of work than the regular one"


def claim_line(leg: DrivenLeg, rules: MileageRules) -> ClaimLine:
    """Work out one leg. Raises `MileageError` where no rate is known for its day."""
    miles, why = _distance(leg, rules.distance)
    if leg.home_end is None:
        rule = f"between two places of work on one day; {why}"
    else:
        miles, rule = _of_home_leg(miles, leg.home_end, rules)
    rate = rate_on(leg.day, rules.rates)
    amount = (miles * rate.dollars).quantize(CENT, rounding=_ROUNDING[rules.rounding])
    return ClaimLine(leg, miles, rate, amount, rule)


@dataclass(frozen=True, slots=True)
class Voucher:
    """A month's lines with sums that add up: the sum of rounded lines, never the rounding of a sum."""

    lines: tuple[ClaimLine, ...] = field(default=())

    @property
    def miles(self) -> Decimal:
        """Miles paid."""
        return sum((line.miles for line in self.lines), ZERO)

    @property
    def amount(self) -> Decimal:
        """Dollars for miles."""
        return sum((line.amount for line in self.lines), ZERO)

    @property
    def parking_and_tolls(self) -> Decimal:
        """Dollars for parking and tolls."""
        return sum((line.leg.parking_and_tolls for line in self.lines), ZERO)

    @property
    def total(self) -> Decimal:
        """Dollars in all."""
        return self.amount + self.parking_and_tolls


def build_voucher(legs: Iterable[DrivenLeg], rules: MileageRules) -> Voucher:
    """All legs of a month, in order of date."""
    return Voucher(tuple(claim_line(leg, rules) for leg in sorted(legs, key=lambda leg: leg.day)))


def by_odometer(leg: DrivenLeg, before: Decimal, after: Decimal) -> DrivenLeg:
    """The leg with its driven miles read off an odometer. Raises `MileageError` if it ran backwards."""
    if after < before:
        raise MileageError(f"The odometer ran from {before} back to {after}. Check the two readings.")
    return replace(leg, driven=after - before)

"""What one leg of a day claims: the miles that are paid, the rate of its day, and by which rule. Pure.

The rate is that of the day driven, not of the day claimed. Rounding happens once, at the line or at the total
(travel.mileage.entries), by a named rule.
"""

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

from travel.mileage.chart import MilesSource, is_off_chart, off_chart_percent
from travel.mileage.rates import MileageError, Rate, rate_on
from travel.mileage.rules import Distance, HomeLegs, LegEnd, MileageRules, Rounding

CENT = Decimal("0.01")

ZERO = Decimal(0)
NO_REGULAR_PLACE = (
    "between home and a place of work, no regular one named: Publication 463 counts it only beyond one's own area"
)

_ROUNDING = {Rounding.HALF_UP: ROUND_HALF_UP, Rounding.HALF_EVEN: ROUND_HALF_EVEN, Rounding.DOWN: ROUND_DOWN}


@dataclass(frozen=True, slots=True)
class DrivenLeg:
    """One leg of a day. `direct` is the chart's distance, `driven` the odometer's; each may be unknown (None).

    `direct_source`: where the direct distance comes from. `odometer`: both readings, where the driven one does.
    `round_trip`: there and back on one reading of the odometer; both distances are those of both ways.
    """

    day: date
    origin: str
    destination: str
    direct: Decimal | None
    driven: Decimal | None = None
    origin_kind: LegEnd = LegEnd.OTHER
    destination_kind: LegEnd = LegEnd.OTHER
    parking: Decimal = ZERO
    tolls: Decimal = ZERO
    round_trip: bool = False
    direct_source: MilesSource = MilesSource.UNKNOWN
    odometer: tuple[Decimal, Decimal] | None = None

    def __post_init__(self) -> None:
        """Refuse floating point and negative distances."""
        for name in ("direct", "driven", "parking", "tolls"):
            value = getattr(self, name)
            if value is not None and (not isinstance(value, Decimal) or value < 0):
                raise MileageError(f"{name} must be a Decimal of 0 or more, not {value!r}.")

    @property
    def driven_source(self) -> MilesSource:
        """Where the driven distance comes from."""
        return MilesSource.TYPED if self.odometer is None else MilesSource.ODOMETER

    @property
    def home_end(self) -> LegEnd | None:
        """What the other end is, if one end of the leg is home."""
        if self.origin_kind is LegEnd.HOME:
            return self.destination_kind
        return self.origin_kind if self.destination_kind is LegEnd.HOME else None


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """One leg as claimed: miles paid, the rate of its day, the amount, and the rule that made it so.

    `parking`, `tolls`: what is paid of the leg's. `source`: where the distance comes from that counts.
    `off_chart`: whether what was driven differs from the chart by more than the district's share,
    `off_chart_percent`: by how much.
    """

    leg: DrivenLeg
    miles: Decimal
    rate: Rate
    amount: Decimal
    parking: Decimal
    tolls: Decimal
    rule: str
    source: MilesSource
    off_chart_percent: int | None
    off_chart: bool

    @property
    def parking_and_tolls(self) -> Decimal:
        """Both, in dollars."""
        return self.parking + self.tolls


def _distance(leg: DrivenLeg, choice: Distance) -> tuple[Decimal, str, MilesSource]:
    if choice is Distance.DRIVEN and leg.driven is not None:
        return leg.driven, "driven distance", leg.driven_source
    if leg.direct is None:
        raise MileageError(
            f"The distance from {leg.origin} to {leg.destination} isn't known. Enter the direct miles."
        )
    if choice is Distance.DIRECT or leg.driven is None:
        return leg.direct, "direct distance", leg.direct_source
    return (
        (leg.driven, "driven distance, the shorter", leg.driven_source)
        if leg.driven < leg.direct
        else (leg.direct, "direct distance, the shorter", leg.direct_source)
    )


def _of_home_leg(miles: Decimal, other_end: LegEnd, rules: MileageRules, times: int) -> tuple[Decimal, str]:
    if other_end is LegEnd.REGULAR and rules.home_legs is not HomeLegs.ABOVE_COMMUTE:
        return ZERO, "between home and a regular place of work: commuting (IRS Publication 463)"
    if rules.home_legs is HomeLegs.NEVER:
        return ZERO, "first or last leg of the day: not paid by district rule"
    if rules.home_legs is HomeLegs.ABOVE_COMMUTE:
        if rules.commute_miles is None:
            raise MileageError("The normal commute isn't known. Enter its miles, one way.")
        above = max(miles - times * rules.commute_miles, ZERO)
        ways = " each way" if times > 1 else ""
        return above, f"only what exceeds the normal commute of {rules.commute_miles} miles{ways}"
    if not rules.has_regular_place:
        return miles, NO_REGULAR_PLACE
    return miles, "between home and a place of work other than the regular one"


def claim_line(leg: DrivenLeg, rules: MileageRules) -> ClaimLine:
    """Work out one leg. Raises `MileageError` where its distance or the rate of its day isn't known."""
    miles, why, source = _distance(leg, rules.distance)
    if leg.home_end is None:
        rule = f"between two places of work on one day; {why}"
    else:
        miles, rule = _of_home_leg(miles, leg.home_end, rules, 2 if leg.round_trip else 1)
        rule = f"{rule}; {why}" if miles else rule
    if leg.round_trip:
        rule = f"{rule}; there and back"
    parking, tolls = leg.parking, leg.tolls
    if parking + tolls and leg.home_end is LegEnd.REGULAR:
        # Publication 463, "Parking fees": those at the place of work are part of the commute.
        parking, tolls, rule = ZERO, ZERO, f"{rule}; parking and tolls of a commute aren't paid"
    rate = rate_on(leg.day, rules.rates)
    against = (leg.driven, leg.direct, leg.direct_source)
    return ClaimLine(
        leg=leg,
        miles=miles,
        rate=rate,
        amount=to_cents(miles * rate.dollars, rules.rounding),
        parking=parking,
        tolls=tolls,
        rule=rule,
        source=source,
        off_chart_percent=off_chart_percent(*against),
        off_chart=is_off_chart(*against, rules.share_percent),
    )


def to_cents(dollars: Decimal, rounding: Rounding) -> Decimal:
    """An amount in whole cents by a named rule."""
    return dollars.quantize(CENT, rounding=_ROUNDING[rounding])

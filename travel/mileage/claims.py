"""Mileage: which miles of a day a district pays, at which rate, and by which rule each of them.

Pure. Miles and money are `Decimal`, never floating point: the published rates hold half-cents. The rate is that
of the day driven, not of the day claimed. Rounding happens once, at the line, by a named rule.

The rules are the district's. Those shipped follow IRS Publication 463, Figure B: the way between home and the
regular place of work is commuting and never paid; between two places of work on one day is business mileage. Many
districts leave out the first and the last leg of the day altogether and, where the chart and the odometer differ,
pay the shorter.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from enum import StrEnum

from accounts.dates import date_words
from travel.mileage.rates import STANDARD_RATES, MileageError, Rate, latest_begun, rate_on

CENT = Decimal("0.01")
ZERO = Decimal(0)


class LegEnd(StrEnum):
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
    """The rules of one day as data. `commute_miles` is one way, for the rule that pays only what exceeds it."""

    home_legs: HomeLegs = HomeLegs.NEVER
    distance: Distance = Distance.SHORTER
    commute_miles: Decimal | None = None
    rounding: Rounding = Rounding.HALF_UP
    rates: tuple[Rate, ...] = STANDARD_RATES


@dataclass(frozen=True, slots=True)
class MileageTerms:
    """What a district pays from a day on, until its next terms begin."""

    first_day: date
    home_legs: HomeLegs = HomeLegs.NEVER
    distance: Distance = Distance.SHORTER
    rounding: Rounding = Rounding.HALF_UP


@dataclass(frozen=True, slots=True)
class HomeBase:
    """A teacher's normal commute from a day on, in miles one way, and the regular places of work (their ids)."""

    first_day: date
    commute_miles: Decimal | None = None
    regular_places: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class MileageBook:
    """Everything that a district and one teacher have said of mileage, each from its first day on."""

    terms: tuple[MileageTerms, ...] = ()
    homes: tuple[HomeBase, ...] = ()
    rates: tuple[Rate, ...] = STANDARD_RATES

    def on(self, day: date) -> MileageRules:
        """The rules of a day; the usual ones before a district's first."""
        terms = latest_begun(self.terms, day) or MileageTerms(day)
        home = latest_begun(self.homes, day)
        return MileageRules(
            home_legs=terms.home_legs,
            distance=terms.distance,
            commute_miles=home.commute_miles if home is not None else None,
            rounding=terms.rounding,
            rates=self.rates,
        )

    def end_kind(self, place: int | None, day: date) -> LegEnd:
        """What one end of a leg is on a day; None is home. There may be several regular places of work."""
        if place is None:
            return LegEnd.HOME
        home = latest_begun(self.homes, day)
        return LegEnd.REGULAR if home is not None and place in home.regular_places else LegEnd.OTHER

    def _first_days(self) -> list[date]:
        """Days from which something is otherwise, in order."""
        return sorted({one.first_day for one in self.terms} | {one.first_day for one in self.homes})

    def in_words(self, first: date, last: date) -> str:
        """The rules between two days as sentences for a voucher; each change is said with its day."""
        changes = [day for day in self._first_days() if first < day <= last]
        spans = [(day, rules_in_words(self.on(day))) for day in (first, *changes)]
        told = [one for place, one in enumerate(spans) if not place or one[1] != spans[place - 1][1]]
        if len(told) == 1:
            return told[0][1]
        return " ".join(f"From {date_words(day)}: {words}" for day, words in told)


@dataclass(frozen=True, slots=True)
class DrivenLeg:
    """One leg of a day. `direct` is the chart's distance, `driven` the odometer's; each may be unknown (None).

    `round_trip`: there and back on one reading of the odometer; both distances are those of both ways.
    """

    day: date
    origin: str
    destination: str
    direct: Decimal | None
    driven: Decimal | None = None
    origin_kind: LegEnd = LegEnd.OTHER
    destination_kind: LegEnd = LegEnd.OTHER
    parking_and_tolls: Decimal = ZERO
    round_trip: bool = False

    def __post_init__(self) -> None:
        """Refuse floating point and negative distances."""
        for name in ("direct", "driven", "parking_and_tolls"):
            value = getattr(self, name)
            if value is not None and (not isinstance(value, Decimal) or value < 0):
                raise MileageError(f"{name} must be a Decimal of 0 or more, not {value!r}.")

    @property
    def home_end(self) -> LegEnd | None:
        """What the other end is, if one end of the leg is home."""
        if self.origin_kind is LegEnd.HOME:
            return self.destination_kind
        return self.origin_kind if self.destination_kind is LegEnd.HOME else None


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """One leg as claimed: miles paid, the rate of its day, the amount, and the rule that made it so.

    `parking_and_tolls`: what is paid of the leg's.
    """

    leg: DrivenLeg
    miles: Decimal
    rate: Rate
    amount: Decimal
    parking_and_tolls: Decimal
    rule: str


def _distance(leg: DrivenLeg, choice: Distance) -> tuple[Decimal, str]:
    if choice is Distance.DRIVEN and leg.driven is not None:
        return leg.driven, "driven distance"
    if leg.direct is None:
        raise MileageError(
            f"The distance from {leg.origin} to {leg.destination} isn't known. Enter the direct miles."
        )
    if choice is Distance.DIRECT or leg.driven is None:
        return leg.direct, "direct distance"
    return (
        (leg.driven, "driven distance, the shorter")
        if leg.driven < leg.direct
        else (leg.direct, "direct distance, the shorter")
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
    return miles, "between home and a place of work other than the regular one"


def claim_line(leg: DrivenLeg, rules: MileageRules) -> ClaimLine:
    """Work out one leg. Raises `MileageError` where its distance or the rate of its day isn't known."""
    miles, why = _distance(leg, rules.distance)
    if leg.home_end is None:
        rule = f"between two places of work on one day; {why}"
    else:
        miles, rule = _of_home_leg(miles, leg.home_end, rules, 2 if leg.round_trip else 1)
        rule = f"{rule}; {why}" if miles else rule
    if leg.round_trip:
        rule = f"{rule}; there and back"
    parking = leg.parking_and_tolls
    if parking and leg.home_end is LegEnd.REGULAR:
        # Publication 463, "Parking fees": those at the place of work are part of the commute.
        parking, rule = ZERO, f"{rule}; parking and tolls of a commute aren't paid"
    rate = rate_on(leg.day, rules.rates)
    amount = (miles * rate.dollars).quantize(CENT, rounding=_ROUNDING[rules.rounding])
    return ClaimLine(leg, miles, rate, amount, parking, rule)


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of a voucher as plain words and figures, fit to be kept; `key` says which trip it is about.

    `takes_back`: it undoes an earlier line, and its miles and money are negative.
    """

    key: str
    day: date
    origin: str
    destination: str
    direct: Decimal | None
    driven: Decimal | None
    miles: Decimal
    rate: Decimal
    rate_source: str
    amount: Decimal
    parking_and_tolls: Decimal
    rule: str
    note: str = ""
    takes_back: bool = False

    @property
    def total(self) -> Decimal:
        """Mileage, parking and tolls together."""
        return self.amount + self.parking_and_tolls

    def priced_like(self, before: "Entry | None") -> "Entry":
        """This line at the miles, rate and amount of an earlier one about the same trip and the same distances."""
        if before is None or (self.direct, self.driven) != (before.direct, before.driven):
            return self
        return replace(
            self,
            miles=before.miles,
            rate=before.rate,
            rate_source=before.rate_source,
            amount=before.amount,
            rule=before.rule,
        )

    def taken_back(self) -> "Entry":
        """The line that undoes this one."""
        return replace(
            self,
            miles=-self.miles,
            amount=-self.amount,
            parking_and_tolls=-self.parking_and_tolls,
            rule=f"takes back what was claimed: {self.rule}",
            takes_back=True,
        )


def entry_of(key: str, line: ClaimLine, note: str = "") -> Entry:
    """A claim line as it goes into a voucher."""
    leg = line.leg
    return Entry(
        key=key,
        day=leg.day,
        origin=leg.origin,
        destination=leg.destination,
        direct=leg.direct,
        driven=leg.driven,
        miles=line.miles,
        rate=line.rate.dollars,
        rate_source=line.rate.source,
        amount=line.amount,
        parking_and_tolls=line.parking_and_tolls,
        rule=line.rule,
        note=note,
    )


def standing_entries(submitted: Iterable[Entry]) -> dict[str, Entry]:
    """What all vouchers of a month claim together, by trip; they come in the order in which they were submitted."""
    standing: dict[str, Entry] = {}
    for entry in submitted:
        if entry.takes_back:
            standing.pop(entry.key, None)
        else:
            standing[entry.key] = entry
    return standing


def supplement_entries(
    submitted: Iterable[Entry], now: Iterable[Entry], *, reprice: bool = False
) -> tuple[Entry, ...]:
    """What a supplement says: for each trip that changed, the earlier line taken back, and the line as it is now.

    A trip changed if its distances, its parking and tolls, or its note did. One whose distances stayed keeps the
    miles, the rate and the amount that were claimed: a dollar of parking claims a dollar, whatever a district's
    rules have become since. With ``reprice`` every trip is priced as it would be now.

    Its sum is the difference to the cent: what was submitted and the supplement together are what is right now.
    """
    before = standing_entries(submitted)
    after = {entry.key: entry if reprice else entry.priced_like(before.get(entry.key)) for entry in now}
    changed = [key for key in {**after, **before} if not _says_the_same(before.get(key), after.get(key))]
    pairs = [
        entry
        for key in changed
        for entry in (before[key].taken_back() if key in before else None, after.get(key))
        if entry is not None
    ]
    # Stable: within a day the lines stay in the order in which they were driven.
    return tuple(sorted(pairs, key=lambda entry: entry.day))


def _says_the_same(one: Entry | None, other: Entry | None) -> bool:
    """Whether two lines about one trip claim the same for the same.

    A school's new name, or a rule in other words, is no change.
    """
    if one is None or other is None:
        return one is other
    return _facts(one) == _facts(other)


def _facts(entry: Entry) -> Entry:
    """The line without what it says in words of the program; the note is the teacher's."""
    return replace(entry, origin="", destination="", rate_source="", rule="")


_HOME_LEGS_WORDS = {
    HomeLegs.NEVER: "the first leg from home and the last one back are not paid (the district's own rule: IRS "
    "Publication 463 counts the way between home and a temporary place of work)",
    HomeLegs.OTHER_PLACES: "legs from and to home are paid unless the other end is a regular place of work",
    HomeLegs.ABOVE_COMMUTE: "legs from and to home are paid for the miles beyond the normal commute (the "
    "district's own rule: IRS Publication 463 counts none of the way to a regular place of work, and all of the "
    "way to a temporary one)",
}
_DISTANCE_WORDS = {
    Distance.DIRECT: "the direct distance counts",
    Distance.DRIVEN: "the driven distance counts, the direct one where the odometer wasn't read",
    Distance.SHORTER: "the shorter of direct and driven distance counts",
}
_ROUNDING_WORDS = {
    Rounding.HALF_UP: "half a cent goes up",
    Rounding.HALF_EVEN: "half a cent goes to the even cent",
    Rounding.DOWN: "parts of a cent are dropped",
}


def rules_in_words(rules: MileageRules) -> str:
    """A district's rules as a sentence for a voucher."""
    parts = (
        "The rate is that of the day driven",
        _DISTANCE_WORDS[rules.distance],
        _HOME_LEGS_WORDS[rules.home_legs],
        f"each line is rounded once to the cent: {_ROUNDING_WORDS[rules.rounding]}",
    )
    return "; ".join(parts) + "."

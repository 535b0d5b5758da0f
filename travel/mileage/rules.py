"""Which miles a district pays, from which day on, and where a teacher's days begin. Pure.

The rules are the district's. Those shipped follow IRS Publication 463, Figure B: the way between home and a
regular place of work is commuting and never paid; between two places of work on one day is business mileage. Many
districts leave out the first and the last leg of the day altogether and, where the chart and the odometer differ,
pay the shorter.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from accounts.dates import date_words
from travel.mileage.rates import STANDARD_RATES, Rate, latest_begun


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


SHARE_PERCENT = 20
"""Common practice, no source: a driver who went a fifth farther than the chart is asked why."""
MOST_DAY_MILES = 200
"""Common practice, no source: more miles than four hours at the wheel are asked about."""
USUAL_PURPOSE = "Adapted physical education at the schools served"


@dataclass(frozen=True, slots=True)
class MileageRules:
    """The rules of one day as data. `commute_miles` is one way, for the rule that pays only what exceeds it.

    `by_total`: not each line is rounded, but the total. Above `share_percent` more than the chart, and above
    `most_day_miles` in a day, the driver is asked. `purpose` and `account_code` are what finance wants of a line.
    `has_regular_place`: the driver has named a regular place of work by that day.
    """

    home_legs: HomeLegs = HomeLegs.NEVER
    distance: Distance = Distance.SHORTER
    commute_miles: Decimal | None = None
    rounding: Rounding = Rounding.HALF_UP
    rates: tuple[Rate, ...] = STANDARD_RATES
    by_total: bool = False
    share_percent: int = SHARE_PERCENT
    most_day_miles: int = MOST_DAY_MILES
    purpose: str = USUAL_PURPOSE
    account_code: str = ""
    has_regular_place: bool = True


@dataclass(frozen=True, slots=True)
class MileageTerms:
    """What a district pays from a day on, until its next terms begin; see `MileageRules`."""

    first_day: date
    home_legs: HomeLegs = HomeLegs.NEVER
    distance: Distance = Distance.SHORTER
    rounding: Rounding = Rounding.HALF_UP
    by_total: bool = False
    share_percent: int = SHARE_PERCENT
    most_day_miles: int = MOST_DAY_MILES
    purpose: str = ""
    account_code: str = ""


@dataclass(frozen=True, slots=True)
class HomeBase:
    """A teacher's normal commute from a day on, in miles one way, and the regular places of work (their ids)."""

    first_day: date
    commute_miles: Decimal | None = None
    regular_places: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class CodeTerm:
    """What trips to a place (its id; None: all of the teacher's) are booked to from a day on; empty: no more."""

    first_day: date
    code: str
    place: int | None = None


@dataclass(frozen=True, slots=True)
class MileageBook:
    """Everything that a district and one teacher have said of mileage, each from its first day on."""

    terms: tuple[MileageTerms, ...] = ()
    homes: tuple[HomeBase, ...] = ()
    rates: tuple[Rate, ...] = STANDARD_RATES
    codes: tuple[CodeTerm, ...] = ()

    def account_code(self, origin: int | None, destination: int | None, day: date) -> str:
        """What a trip is booked to: the code of the building driven to, else the teacher's, else the district's.

        Of a way home (None) it is the building left.
        """
        place = destination if destination is not None else origin
        for one in (place, None):
            found = latest_begun([term for term in self.codes if term.place == one], day)
            if found is not None and found.code:
                return found.code
        return self.on(day).account_code

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
            by_total=terms.by_total,
            share_percent=terms.share_percent,
            most_day_miles=terms.most_day_miles,
            purpose=terms.purpose or USUAL_PURPOSE,
            account_code=terms.account_code,
            has_regular_place=home is not None and bool(home.regular_places),
        )

    def end_kind(self, place: int | None, day: date) -> LegEnd:
        """What one end of a leg is on a day; None is home. There may be several regular places of work."""
        if place is None:
            return LegEnd.HOME
        home = latest_begun(self.homes, day)
        return LegEnd.REGULAR if home is not None and place in home.regular_places else LegEnd.OTHER

    def _changes(self, first: date, last: date) -> list[date]:
        """The first day, and those after it up to the last from which something is otherwise."""
        days = [first, *(one.first_day for one in self.terms), *(one.first_day for one in self.homes)]
        return sorted({max(day, first) for day in days if day <= last})

    def in_words(self, first: date, last: date) -> str:
        """The rules between two days as sentences for a voucher; each change is said with its day."""
        spans = [(day, rules_in_words(self.on(day))) for day in self._changes(first, last)]
        told = [one for place, one in enumerate(spans) if not place or one[1] != spans[place - 1][1]]
        if len(told) == 1:
            return told[0][1]
        return " ".join(f"From {date_words(day)}: {words}" for day, words in told)


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
    Distance.DRIVEN: "the driven distance counts, the direct one where the odometer wasn't read (the district's "
    "own rule: IRS Publication 463 counts no more than the direct way where it is left for personal reasons)",
    Distance.SHORTER: "the shorter of the chart's direct and the driven distance counts",
}

_ROUNDING_WORDS = {
    Rounding.HALF_UP: "half a cent goes up",
    Rounding.HALF_EVEN: "half a cent goes to the even cent",
    Rounding.DOWN: "parts of a cent are dropped",
}


def rules_in_words(rules: MileageRules) -> str:
    """A district's rules as a sentence for a voucher."""
    rounded = (
        "the total is rounded once to the cent, and each line has the cents by which the sum grew"
        if rules.by_total
        else "each line is rounded once to the cent"
    )
    parts = (
        "The rate is that of the day driven",
        _DISTANCE_WORDS[rules.distance],
        _HOME_LEGS_WORDS[rules.home_legs],
        f"{rounded}: {_ROUNDING_WORDS[rules.rounding]}",
    )
    return "; ".join(parts) + "."

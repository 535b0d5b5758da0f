"""The lines of a voucher, and what a supplement takes back and puts in their place. Pure."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from travel.mileage.chart import SOURCE_WORDS, MilesSource
from travel.mileage.claims import ZERO, ClaimLine, to_cents
from travel.mileage.rules import MileageRules, Rounding


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of a voucher as plain words and figures, fit to be kept; `key` says which trip it is about.

    `takes_back`: it undoes an earlier line, and its miles and money are negative. `source`, `direct_source`: where
    the miles that are claimed, and the direct ones, come from. `off_chart_percent`: how much more (less: below 0)
    was driven than the chart says; `off_chart`: by more than the district's share. `total_rounding`: the total was
    rounded by this rule and the line has its cents of it; None where the line was rounded. `tolls`: None in
    lines that were submitted before tolls were told apart: there they are in the parking.
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
    parking: Decimal
    tolls: Decimal | None
    rule: str
    note: str = ""
    takes_back: bool = False
    purpose: str = ""
    account_code: str = ""
    source: MilesSource = MilesSource.UNKNOWN
    direct_source: MilesSource = MilesSource.UNKNOWN
    odometer_before: Decimal | None = None
    odometer_after: Decimal | None = None
    off_chart_percent: int | None = None
    off_chart: bool = False
    total_rounding: Rounding | None = None

    @property
    def exact(self) -> Decimal:
        """Dollars for the miles before anything is rounded."""
        return self.miles * self.rate

    @property
    def source_words(self) -> str:
        """Where the claimed miles come from, with both readings wherever an odometer was read."""
        read = "" if self.odometer_before is None else f"odometer {self.odometer_before} to {self.odometer_after}"
        if self.source is MilesSource.ODOMETER:
            return read
        known = SOURCE_WORDS[self.source] if self.source is not MilesSource.UNKNOWN else ""
        return "; ".join(filter(None, (known, f"read: {read}" if read else "")))

    @property
    def off_chart_words(self) -> str:
        """By how much what was driven differs from the chart, where that is more than the district's share."""
        if not self.off_chart or self.off_chart_percent is None:
            return ""
        more = "more" if self.off_chart_percent > 0 else "less"
        chart = SOURCE_WORDS[self.direct_source] if self.direct_source else "chart"
        return f"driven {abs(self.off_chart_percent)} % {more} than the {self.direct} miles of the chart ({chart})"

    @property
    def parking_and_tolls(self) -> Decimal:
        """Both, in dollars."""
        return self.parking + (self.tolls or ZERO)

    @property
    def total(self) -> Decimal:
        """Mileage, parking and tolls together."""
        return self.amount + self.parking_and_tolls

    def priced_like(self, before: "Entry | None") -> "Entry":
        """This line at the miles, rate and amount of an earlier one about the same trip and the same distances."""
        if before is None or not self.is_as_far_as(before):
            return self
        return replace(
            self,
            miles=before.miles,
            rate=before.rate,
            rate_source=before.rate_source,
            amount=before.amount,
            rule=before.rule,
            total_rounding=before.total_rounding,
        )

    def is_as_far_as(self, before: "Entry") -> bool:
        """Whether both distances are those of an earlier line."""
        return (self.direct, self.driven) == (before.direct, before.driven)

    def taken_back(self) -> "Entry":
        """The line that undoes this one."""
        return replace(
            self,
            miles=-self.miles,
            amount=-self.amount,
            parking=-self.parking,
            tolls=None if self.tolls is None else -self.tolls,
            rule=f"takes back what was claimed: {self.rule}",
            takes_back=True,
        )


def entry_of(
    key: str, line: ClaimLine, rules: MileageRules, note: str = "", purpose: str = "", account_code: str = ""
) -> Entry:
    """A claim line as it goes into a voucher, by the rules of its day.

    `purpose` is the driver's own, if any, and `account_code` that of the place or the driver.
    """
    leg = line.leg
    before, after = leg.odometer or (None, None)
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
        parking=line.parking,
        tolls=line.tolls,
        rule=line.rule,
        note=note,
        purpose=purpose or rules.purpose,
        account_code=account_code or rules.account_code,
        source=line.source,
        direct_source=leg.direct_source,
        odometer_before=before,
        odometer_after=after,
        off_chart_percent=line.off_chart_percent,
        off_chart=line.off_chart,
        total_rounding=rules.rounding if rules.by_total else None,
    )


def settled(entries: Iterable[Entry], kept: Collection[str] = ()) -> tuple[Entry, ...]:
    """The amounts of lines whose total is rounded: each has the whole cents by which the sum grew with it.

    So what is printed adds up, and the sum is the exact one rounded once. Lines in `kept` (their keys) stay as they
    are, and count; a cent that is left over when a line of theirs has gone is the last line's. Lines that were
    rounded by themselves stay as well.
    """
    lines = list(entries)
    for rounding in {one.total_rounding for one in lines} - {None}:
        mine = [at for at, one in enumerate(lines) if one.total_rounding is rounding]
        shared = _shared_out([lines[at] for at in mine], Rounding(rounding or ""), kept)
        for at, entry in zip(mine, shared, strict=True):
            lines[at] = entry
    return tuple(lines)


def _shared_out(lines: list[Entry], rounding: Rounding, kept: Collection[str]) -> list[Entry]:
    """The cents of one total, by its rule of rounding."""
    staying = [one for one in lines if one.key in kept]
    exact = sum((one.exact for one in staying), ZERO)
    given = sum((one.amount for one in staying), ZERO)
    for at, entry in enumerate(lines):
        if entry.key not in kept:
            exact += entry.exact
            lines[at] = replace(entry, amount=to_cents(exact, rounding) - given)
            given += lines[at].amount
    left_over = to_cents(exact, rounding) - given
    return [*lines[:-1], replace(lines[-1], amount=lines[-1].amount + left_over)]


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
    after = _as_claimed(now, {} if reprice else before)
    changed = [key for key in {**after, **before} if not _says_the_same(before.get(key), after.get(key))]
    pairs = [
        entry
        for key in changed
        for entry in (before[key].taken_back() if key in before else None, after.get(key))
        if entry is not None
    ]
    # Stable: within a day the lines stay in the order in which they were driven.
    return tuple(sorted(pairs, key=lambda entry: entry.day))


def _as_claimed(now: Iterable[Entry], before: Mapping[str, Entry]) -> dict[str, Entry]:
    """The lines as they are now by their keys; those of the same distances at the price that was claimed before."""
    lines = [entry.priced_like(before.get(entry.key)) for entry in now]
    kept = {one.key for one in lines if one.key in before and one.is_as_far_as(before[one.key])}
    return {entry.key: entry for entry in settled(lines, kept)}


def _says_the_same(one: Entry | None, other: Entry | None) -> bool:
    """Whether two lines about one trip claim the same for the same.

    A school's new name, or a rule in other words, is no change.
    """
    if one is None or other is None:
        return one is other
    return _facts(one) == _facts(other)


def _facts(entry: Entry) -> tuple[object, ...]:
    """What a line claims: trip, distances and money, and the teacher's note.

    Not its words, nor what older lines don't say: where miles come from, purpose and account.
    """
    return (
        entry.key,
        entry.day,
        entry.direct,
        entry.driven,
        entry.miles,
        entry.rate,
        entry.amount,
        entry.parking,
        entry.tolls or ZERO,
        entry.note,
    )

"""The lines of a voucher, and what a supplement takes back and puts in their place. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from travel.mileage.claims import ClaimLine


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

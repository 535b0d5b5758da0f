"""Figures of ledgers as people ask for them, for one service, a student, a class, a building: they add up."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from caseload.ledger.terms import Ledger


@dataclass(frozen=True, slots=True)
class MinuteFigures:
    """Minutes up to a date. `missed` is by reason code.

    `behind` and `ahead` are sums over periods, so minutes above one week's never hide a shortfall of another.
    `unlogged` are planned minutes without a log; while they are unlogged they count as behind. `rounding` is too
    little for a session and not behind. `opening` is what earlier school years left open, apart from `behind`.
    """

    owed: int = 0
    delivered: int = 0
    made_up: int = 0
    carried: int = 0
    not_owed: int = 0
    undecided: int = 0
    unlogged: int = 0
    behind: int = 0
    ahead: int = 0
    rounding: int = 0
    opening: int = 0
    missed: Mapping[str, int] = field(default_factory=dict)

    @property
    def missed_minutes(self) -> int:
        """Missed for whatever reason."""
        return sum(self.missed.values())

    def __add__(self, other: "MinuteFigures") -> "MinuteFigures":
        """Both together."""
        return MinuteFigures(
            owed=self.owed + other.owed,
            delivered=self.delivered + other.delivered,
            made_up=self.made_up + other.made_up,
            carried=self.carried + other.carried,
            not_owed=self.not_owed + other.not_owed,
            undecided=self.undecided + other.undecided,
            unlogged=self.unlogged + other.unlogged,
            behind=self.behind + other.behind,
            ahead=self.ahead + other.ahead,
            rounding=self.rounding + other.rounding,
            opening=self.opening + other.opening,
            missed=dict(Counter(self.missed) + Counter(other.missed)),
        )


def figures_of(ledger: Ledger) -> MinuteFigures:
    """The figures of one service."""
    return MinuteFigures(
        owed=ledger.total("due"),
        delivered=ledger.total("delivered"),
        made_up=ledger.total("made_up"),
        carried=ledger.total("carried"),
        not_owed=ledger.total("not_owed"),
        undecided=ledger.total("undecided"),
        unlogged=ledger.total("unlogged"),
        behind=ledger.total("still_owed"),
        ahead=ledger.total("ahead") + ledger.spare_make_up,
        rounding=ledger.total("rounding"),
        opening=ledger.opening,
        missed=ledger.missed_by_reason,
    )


def figures_together(several: Iterable[MinuteFigures]) -> MinuteFigures:
    """The figures of several services, students or classes together."""
    total = MinuteFigures()
    for one in several:
        total += one
    return total

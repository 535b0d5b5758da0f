"""Figures of ledgers as people ask for them, for one service, a student, a class, a building: they add up."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from caseload.ledger.terms import Ledger, PeriodAccount


@dataclass(frozen=True, slots=True)
class MinuteFigures:
    """Minutes up to a date. `missed` is by reason code.

    `behind` and `ahead` are sums over periods, so minutes above one week's never hide a shortfall of another.
    `unlogged` are planned minutes without a log; while they are unlogged they count as behind. `rounding` is too
    little for a session and not behind. `opening` is what earlier school years, and a plan that ended in this one,
    left open, apart from `behind`.
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
    def is_open(self) -> bool:
        """Whether more than what waits for its log is to be made up, of whichever plan or year."""
        return self.behind + self.opening > self.unlogged

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
    """The figures of one service: what a plan left open that ended in the year is no part of `behind`."""
    found = _figures(ledger.periods, ledger.spare_make_up, ledger.opening)
    return replace(found, behind=found.behind - _sum(ledger.before_plan, "still_owed"))


@dataclass(frozen=True, slots=True)
class LedgerStretch:
    """What a ledger says from a date on: whole periods, those that end on it or later.

    `first` is the first day of the earliest of them, or the date itself where that is earlier. `open_before` is
    what earlier periods, plans and school years left open: `opening` of the `figures`, and no part of `behind`.
    """

    first: date
    periods: tuple[PeriodAccount, ...]
    figures: MinuteFigures
    open_before: int


def ledger_since(ledger: Ledger, first: date) -> LedgerStretch:
    """A ledger from a date on, for a report that begins inside the school year.

    What a plan left open that ended since is among `open_before`, as in the figures of the year.
    """
    periods = tuple(one for one in ledger.periods if one.span.last >= first)
    before = sum(one.still_owed for one in ledger.periods if one.span.last < first)
    of_plan = [one for one in ledger.before_plan if one.span.last < first]
    kept_apart = sum(one.still_owed for one in ledger.before_plan if one.span.last >= first)
    open_before = before - _sum(of_plan, "still_owed") + ledger.opening
    found = _figures(periods, ledger.spare_make_up, open_before)
    return LedgerStretch(
        min([first, *(one.span.first for one in periods)]),
        periods,
        replace(found, behind=found.behind - kept_apart),
        open_before,
    )


def _figures(periods: Sequence[PeriodAccount], spare: int, opening: int) -> MinuteFigures:
    missed: Counter[str] = Counter()
    for one in periods:
        missed.update(one.missed)
    return MinuteFigures(
        owed=_sum(periods, "due"),
        delivered=_sum(periods, "delivered"),
        made_up=_sum(periods, "made_up"),
        carried=_sum(periods, "carried"),
        not_owed=_sum(periods, "not_owed"),
        undecided=_sum(periods, "undecided"),
        unlogged=_sum(periods, "unlogged"),
        behind=_sum(periods, "still_owed"),
        ahead=_sum(periods, "ahead") + spare,
        rounding=_sum(periods, "rounding"),
        opening=opening,
        missed=dict(missed),
    )


def _sum(periods: Iterable[PeriodAccount], name: str) -> int:
    return sum(int(getattr(one, name)) for one in periods)


def figures_together(several: Iterable[MinuteFigures]) -> MinuteFigures:
    """The figures of several services, students or classes together."""
    total = MinuteFigures()
    for one in several:
        total += one
    return total

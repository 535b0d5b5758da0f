"""What the ledger is told and what it answers: a line, its calendar, the district's rules, sessions; accounts."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from itertools import pairwise

from caseload.plans.frequency import Frequency


class LedgerError(ValueError):
    """The ledger was asked something that has no answer; the message says what is missing."""


class ShortWeek(StrEnum):
    """What a period with closed days owes: the district's choice."""

    WHOLE = "whole"
    PROPORTION = "proportion"
    ANY_DAY = "any_day"
    AS_SCHEDULED = "as_scheduled"


SHORT_WEEK_WORDS = {
    ShortWeek.WHOLE: "whole week",
    ShortWeek.PROPORTION: "in proportion to the days in session",
    ShortWeek.ANY_DAY: "whole if any day is in session",
    ShortWeek.AS_SCHEDULED: "as scheduled",
}


class Effect(StrEnum):
    """What a missed reason does to the minutes."""

    OWED = "owed"
    NOT_OWED = "not_owed"
    TEAM = "team_decides"


@dataclass(frozen=True, slots=True)
class LedgerRules:
    """The district's rules. A reason that the table doesn't hold is left to the team; `words` name the reasons."""

    short_week: ShortWeek = ShortWeek.WHOLE
    effects: Mapping[str, Effect] = field(default_factory=dict)
    carry_ahead: bool = False
    words: Mapping[str, str] = field(default_factory=dict)

    def on(self, day: date) -> "LedgerRules":
        """Themselves, whatever the date: rules without a first day hold since ever."""
        del day
        return self


@dataclass(frozen=True, slots=True)
class RuleBook:
    """The district's rules by date: each holds from its first day until the next one's; the first since ever.

    Raises `LedgerError` where it holds no rules at all.
    """

    dated: tuple[tuple[date, LedgerRules], ...]

    def __post_init__(self) -> None:
        """Refuse a book without rules, and rules that aren't in the order of their days."""
        days = [day for day, _ in self.dated]
        if not days or days != sorted(set(days)):
            raise LedgerError("A book of rules has one or more, each with a first day of its own, in their order.")

    def on(self, day: date) -> LedgerRules:
        """The rules that hold on a date."""
        holding = [rules for first, rules in self.dated if first <= day]
        return holding[-1] if holding else self.dated[0][1]


type Rules = LedgerRules | RuleBook
"""Rules that hold since ever, or by date: both answer `on(day)`."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What one version of a service owes, from date to date, both included; `line_id` names the version.

    `anchor` is its own first day where `first` is only that from which minutes are counted: turns of weeks ("3 out
    of 4 weeks") and the whole service begin there. `plan` tells whole services of one plan from those of the next.
    `cycles` are turns of its own, where it doesn't follow those of the calendar.
    """

    line_id: str
    frequency: Frequency
    first: date
    last: date
    anchor: date | None = None
    plan: str = ""
    cycles: tuple["Span", ...] = ()

    @property
    def begins(self) -> date:
        """Its own first day."""
        return self.anchor or self.first

    def __contains__(self, day: object) -> bool:
        """Whether it is in force on a date."""
        return isinstance(day, date) and self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """A service as the ledger sees it: one version of its terms, or several that follow each other.

    Raises `LedgerError` without terms, or where they aren't in the order of their days.
    """

    id: str
    terms: tuple[Terms, ...]
    consultation: bool = False
    provisional: bool = False

    def __post_init__(self) -> None:
        """Refuse a service that says nothing, and versions that overlap."""
        held = [one for one in self.terms if one.first <= one.last]
        if not self.terms or any(later.first <= one.last for one, later in pairwise(held)):
            raise LedgerError("A service has one or more versions, each beginning after the one before has ended.")

    @property
    def first(self) -> date:
        """From when it is counted."""
        return min(one.first for one in self.terms)

    @property
    def last(self) -> date:
        """Its last day."""
        return max(one.last for one in self.terms)

    @property
    def frequency(self) -> Frequency:
        """That of its latest version."""
        return self.terms[-1].frequency

    def until(self, last: date) -> "LedgerLine":
        """The same service, known only up to a date; what begins later is left out but for the first version."""
        kept = [replace(one, last=min(one.last, last)) for one in self.terms if one.first <= last]
        return replace(self, terms=tuple(kept) or (replace(self.terms[0], last=last),))


@dataclass(frozen=True, slots=True)
class Span:
    """A named stretch of days, both ends included."""

    name: str
    first: date
    last: date

    def __contains__(self, day: object) -> bool:
        """Whether a date lies in it."""
        return isinstance(day, date) and self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class LedgerCalendar:
    """A building's school year: its ends, the days in session, marking periods, and turns of its rotation."""

    year: Span
    in_session: frozenset[date]
    marking_periods: tuple[Span, ...] = ()
    cycles: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class SessionRecord:
    """One planned session of the line, logged or not; or a make-up.

    `minutes` were planned; `delivered` is None while nothing is logged. `reason` names why minutes were missed;
    `decision` is the team's, where the reason was left to it.
    """

    id: str
    day: date
    minutes: int
    delivered: int | None = None
    reason: str = ""
    decision: Effect | None = None
    makes_up: bool = False

    def __post_init__(self) -> None:
        """Refuse negative minutes and a decision that decides nothing."""
        if self.minutes < 0 or (self.delivered or 0) < 0:
            raise LedgerError("Minutes can't be negative.")
        if self.decision is Effect.TEAM:
            raise LedgerError("A decision says owed or not owed.")

    @property
    def missed(self) -> int:
        """Planned minutes that a log says were not delivered."""
        return 0 if self.delivered is None else max(self.minutes - self.delivered, 0)

    @property
    def extra(self) -> int:
        """Minutes delivered above its plan."""
        return max((self.delivered or 0) - self.minutes, 0)

    def effect(self, rules: Rules) -> Effect:
        """What its missed minutes do: the team's decision if there is one, else the table that held on its day."""
        return self.decision or rules.on(self.day).effects.get(self.reason, Effect.TEAM)


@dataclass(frozen=True, slots=True)
class PeriodAccount:
    """One period of a line: a week, a turn of the cycle, a month, a marking period, a year, the whole line.

    All in minutes. `scheduled` = delivered within plan + `missed` + `unlogged` + `future`. `extra` was delivered
    above the plan of its session.
    """

    span: Span
    owed: int
    due: int
    scheduled: int
    delivered: int
    missed: Mapping[str, int]
    unlogged: int
    future: int
    extra: int
    not_owed: int
    undecided: int
    made_up: int
    carried: int
    reasoning: tuple[str, ...]

    @property
    def balance(self) -> int:
        """Due less everything that answers it; negative: ahead."""
        answered = self.delivered + self.made_up + self.carried + self.not_owed + self.undecided
        return self.due - answered

    @property
    def still_owed(self) -> int:
        """Minutes behind, undecided ones apart."""
        return max(self.balance, 0)

    @property
    def ahead(self) -> int:
        """Minutes above what is due."""
        return max(-self.balance, 0)


@dataclass(frozen=True, slots=True)
class Ledger:
    """A line's accounts up to a date; `spare_make_up` are make-up minutes beyond every shortfall."""

    line: LedgerLine
    as_of: date
    periods: tuple[PeriodAccount, ...]
    spare_make_up: int

    def total(self, name: str) -> int:
        """Sum of one figure over the periods."""
        return sum(int(getattr(period, name)) for period in self.periods)

    @property
    def missed_by_reason(self) -> dict[str, int]:
        """Missed minutes by reason over all periods."""
        sums: dict[str, int] = defaultdict(int)
        for period in self.periods:
            for reason, minutes in period.missed.items():
                sums[reason] += minutes
        return dict(sums)

"""What the ledger is told and what it answers: a line, its calendar, the district's rules, sessions; accounts."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

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


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """A service line as the ledger sees it; both dates included.

    `anchor` is the line's own first day where `first` is only that from which minutes are counted: turns of weeks
    ("3 out of 4 weeks") and the whole service begin there.
    """

    id: str
    frequency: Frequency
    first: date
    last: date
    consultation: bool = False
    provisional: bool = False
    anchor: date | None = None

    @property
    def begins(self) -> date:
        """The line's own first day."""
        return self.anchor or self.first


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

    def effect(self, rules: LedgerRules) -> Effect:
        """What its missed minutes do: the team's decision if there is one, else the district's table."""
        return self.decision or rules.effects.get(self.reason, Effect.TEAM)


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

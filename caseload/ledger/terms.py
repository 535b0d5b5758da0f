"""What the ledger is told and what it answers: a line, its calendar, the district's rules, sessions; accounts."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from itertools import pairwise

from caseload.plans.frequency import Frequency, FrequencyUnit


class LedgerError(ValueError):
    """The ledger was asked something that has no answer; the message says what is missing."""


class ShortWeek(StrEnum):
    """What a period with closed days owes: the district's choice."""

    WHOLE = "whole"
    PROPORTION = "proportion"
    AS_SCHEDULED = "as_scheduled"


DEFAULT_SHORT_WEEK = ShortWeek.AS_SCHEDULED
"""The rule under which whoever gave every session that school days allowed is never behind."""

SHORT_WEEK_WORDS = {
    ShortWeek.WHOLE: "the whole week's minutes, if any day is in session",
    ShortWeek.PROPORTION: "in proportion to the days in session",
    ShortWeek.AS_SCHEDULED: "what is scheduled on the days in session",
}


class Effect(StrEnum):
    """What a missed reason does to the minutes."""

    OWED = "owed"
    NOT_OWED = "not_owed"
    TEAM = "team_decides"


@dataclass(frozen=True, slots=True)
class LedgerRules:
    """The district's rules. A reason that the table doesn't hold is left to the team; `words` name the reasons.

    `least` are the fewest minutes that are a session: what a period that owes only a share of itself leaves below
    that is rounding. 0: no minute is.
    """

    short_week: ShortWeek = DEFAULT_SHORT_WEEK
    effects: Mapping[str, Effect] = field(default_factory=dict)
    carry_ahead: bool = False
    words: Mapping[str, str] = field(default_factory=dict)
    least: int = 0

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


def counts_by(unit: FrequencyUnit, cycle_days: int | None, weeks_of: int | None, plan: str) -> tuple[object, ...]:
    """What two versions must have in common to share periods; a whole service ends with its plan."""
    return unit, cycle_days, weeks_of, plan if unit is FrequencyUnit.TOTAL else ""


@dataclass(frozen=True, slots=True)
class Terms:
    """What one version of a service owes, from date to date, both included; `line_id` names the version.

    `anchor` is the first day of the versions that share their periods with it, where `first` is only that from
    which its own minutes are counted: turns of weeks ("3 out of 4 weeks") and the whole service begin there. `end`
    is their last day, where `last` is only that until which the student is there: the whole service ends there.
    `plan` tells whole services of one plan from the next one's.
    `extended`: the plan names it for the extended school year, and it is owed in such seasons alone.
    """

    line_id: str
    frequency: Frequency
    first: date
    last: date
    anchor: date | None = None
    plan: str = ""
    extended: bool = False
    end: date | None = None

    @property
    def begins(self) -> date:
        """The first day of such terms."""
        return self.anchor or self.first

    @property
    def ends(self) -> date:
        """The last day of such terms."""
        return self.end or self.last

    def __contains__(self, day: object) -> bool:
        """Whether it is in force on a date."""
        return isinstance(day, date) and self.first <= day <= self.last


def _plan_on(terms: Iterable[Terms], day: date) -> str | None:
    """The plan in force on a date, else the last that has begun by then."""
    begun = [one for one in terms if one.first <= day]
    last = begun[-1].plan if begun else None
    return next((one.plan for one in begun if day in one), last)


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

    def plan_begun(self, calendar: "LedgerCalendar", as_of: date) -> date | None:
        """The first day of the plan in force on a date, else of the last before it.

        None where no other plan's terms ended before it in the calendar's year.
        """
        terms = [one for one in self.terms if one.extended == calendar.extended and one.first <= one.last]
        plan = _plan_on(terms, as_of)
        if plan is None:
            return None
        first = min(one.first for one in terms if one.plan == plan)
        ended = any(one.plan != plan and calendar.year.first <= one.last < first for one in terms)
        return first if ended else None

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
    """A building's school year: its ends, the days in session, marking periods, and turns of its rotation.

    `turns` are cycles of single versions by their `line_id`, of those that don't follow the building's.
    `extended`: a season outside the school year.
    """

    year: Span
    in_session: frozenset[date]
    marking_periods: tuple[Span, ...] = ()
    cycles: tuple[Span, ...] = ()
    turns: Mapping[str, tuple[Span, ...]] = field(default_factory=dict)
    extended: bool = False


@dataclass(frozen=True, slots=True)
class SessionRecord:
    """One planned session of the line, logged or not; or a make-up.

    `minutes` were planned; `delivered` is None while nothing is logged. `reason` names why minutes were missed;
    `decision` is the team's, where the reason was left to it. `makes_up_for` is the day whose period a make-up was
    booked for; without one it goes to the oldest shortfall.
    """

    id: str
    day: date
    minutes: int
    delivered: int | None = None
    reason: str = ""
    decision: Effect | None = None
    makes_up: bool = False
    makes_up_for: date | None = None

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
    """One period of a service: a week, a turn of the cycle, a month, a marking period, a year, the whole service.

    All in minutes. `scheduled` = delivered within plan + `missed` + `unlogged` + `future`. `extra` was delivered
    above the plan of its session. `not_owed` and `undecided` are missed minutes that answer what is due: those of a
    day without school only as far as the rule for short weeks hasn't taken them out. `carried` came from periods
    that were ahead, `carried_on` went to others. `rounding` is too little for a session.
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
    carried_on: int = 0
    rounding: int = 0

    @property
    def shortfall(self) -> int:
        """Due less everything that answers it, what is rounding included."""
        answered = self.delivered + self.made_up + self.carried + self.not_owed + self.undecided
        return max(self.due - answered, 0)

    @property
    def still_owed(self) -> int:
        """Minutes behind, undecided ones and rounding apart."""
        return self.shortfall - self.rounding

    @property
    def ahead(self) -> int:
        """Minutes delivered above what the period owes and not carried to others: no excused one is among them."""
        return max(self.delivered - self.owed, 0) - self.carried_on


@dataclass(frozen=True, slots=True)
class OpeningBalance:
    """What an earlier school year or plan left open: kept apart until it is made up or decided.

    `opened` was open on its `last` day, `open` and `undecided` are now. Where `problem` says something, its minutes
    can't be known. `in_year`: it is a plan that ended in the year asked for, and its periods are among the year's.
    """

    name: str
    last: date
    opened: int = 0
    open: int = 0
    undecided: int = 0
    periods: tuple[PeriodAccount, ...] = ()
    problem: str = ""
    in_year: bool = False


@dataclass(frozen=True, slots=True)
class Ledger:
    """A service's accounts up to a date; `spare_make_up` are make-up minutes beyond every shortfall.

    `periods` are those of the calendar's school year, `openings` what the years before left, oldest first, and last
    what a plan left that ended in the year.
    """

    line: LedgerLine
    as_of: date
    periods: tuple[PeriodAccount, ...]
    spare_make_up: int
    openings: tuple[OpeningBalance, ...] = ()

    @property
    def opening(self) -> int:
        """Minutes of earlier years and plans that are open still."""
        return sum(one.open for one in self.openings)

    @property
    def before_plan(self) -> tuple[PeriodAccount, ...]:
        """Periods of the year that were over before the plan in force began."""
        return tuple(period for one in self.openings if one.in_year for period in one.periods)

    @property
    def all_periods(self) -> tuple[PeriodAccount, ...]:
        """Those of earlier years and of this one, oldest first: whatever is open waits to be made up."""
        earlier = (period for one in self.openings if not one.in_year for period in one.periods)
        return (*earlier, *self.periods)

    def total(self, name: str) -> int:
        """Sum of one figure over the periods."""
        return sum(int(getattr(period, name)) for period in self.periods)

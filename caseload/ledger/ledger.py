"""The minutes ledger: what one service line owed, what was delivered, missed, made up, and what is still owed.

Pure: service line, calendar, district rules, schedule and log in, a ledger out. Exact integer minutes and local
dates of the building; nothing here reads a clock. Each period carries the sentences that explain its numbers.

How a number comes about:

* *Owed in a period* follows the frequency and the district's rule for short weeks (`ShortWeek`). A line that
  begins or ends inside a period owes its days' share. Shares are differences of one rounded running total, so the
  parts of a period always add up to the whole.
* *Due today*: a period that is over is due whole; in the running period, what its sessions up to today amount to.
  So a Tuesday lesson isn't behind on Monday.
* *Missed minutes* stay owed, fall away or wait for the team, as the district's table says of their reason.
  There is no federal rule that a missed session is owed (OSEP Letter to Clarke, 8 March 2007): the table is the
  district's.
* Minutes above what a period owes are shown as *ahead*. They count for other periods only where the district
  chose to carry them. Make-up minutes go to the oldest shortfall first.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum

from caseload.plans.frequency import Frequency, FrequencyUnit, write_frequency

FRIDAY = 4


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
    spare_make_up: int = 0

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


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _month_end(day: date) -> date:
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)


def _weeks(first: date, last: date, count: int) -> list[Span]:
    spans = []
    start = _monday(first)
    while start <= last:
        end = start + timedelta(days=7 * count - 1)
        name = f"week of {start:%-d %B %Y}" if count == 1 else f"{count} weeks from {start:%-d %B %Y}"
        spans.append(Span(name, start, end))
        start = end + timedelta(days=1)
    return spans


def _months(first: date, last: date) -> list[Span]:
    spans = []
    start = first.replace(day=1)
    while start <= last:
        end = _month_end(start)
        spans.append(Span(f"{start:%B %Y}", start, end))
        start = end + timedelta(days=1)
    return spans


def periods_of(line: LedgerLine, calendar: LedgerCalendar) -> tuple[Span, ...]:
    """The periods that a line's frequency counts in, clipped to the school year, those it touches.

    Raises `LedgerError` where the calendar lacks what the frequency counts by.
    """
    first, last = max(line.first, calendar.year.first), min(line.last, calendar.year.last)
    if first > last:
        return ()
    unit = line.frequency.unit
    if unit is FrequencyUnit.WEEK:
        anchor = first if line.frequency.weeks_of is None else line.begins
        spans = _weeks(anchor, last, line.frequency.weeks_of or 1)
    elif unit is FrequencyUnit.MONTH:
        spans = _months(first, last)
    elif unit is FrequencyUnit.YEAR:
        spans = [calendar.year]
    elif unit is FrequencyUnit.TOTAL:
        spans = [Span("the whole service", line.begins, line.last)]
    else:
        spans = list(calendar.marking_periods if unit is FrequencyUnit.MARKING_PERIOD else calendar.cycles)
        if not spans:
            what = "marking periods" if unit is FrequencyUnit.MARKING_PERIOD else "turns of the rotation"
            raise LedgerError(f"The calendar has no {what}. Add them, or change the service's frequency.")
    return tuple(span for span in spans if span.first <= last and span.last >= first)


def _weekdays(span: Span) -> list[date]:
    days = (span.first + timedelta(days=n) for n in range((span.last - span.first).days + 1))
    return [day for day in days if day.weekday() <= FRIDAY]


def _share(whole: int, nominal: int, positions: Iterable[int]) -> int:
    """Minutes of the days at these positions, out of `nominal` days that make the whole (halves up)."""

    def running(count: int) -> int:
        return (2 * whole * count + nominal) // (2 * nominal)

    return sum(running(position + 1) - running(position) for position in positions)


def _counting_days(line: LedgerLine, weekdays: list[date], in_session: list[date], rule: ShortWeek) -> list[date]:
    """The days over which a period's minutes are spread, by the district's rule for short weeks.

    The rule is about weeks: a month, a turn of the rotation, a marking period or a year owes the whole whatever
    holidays it holds.
    """
    if line.frequency.unit is not FrequencyUnit.WEEK or rule is ShortWeek.WHOLE:
        return weekdays
    if rule is ShortWeek.ANY_DAY:
        return weekdays if any(line.first <= day <= line.last for day in in_session) else []
    return in_session


def owed_in(
    line: LedgerLine, span: Span, calendar: LedgerCalendar, rules: LedgerRules, scheduled: int
) -> tuple[int, str]:
    """Minutes that a line owes in a period, and why in one sentence.

    `scheduled` are the minutes of the period's planned sessions, for the rule "as scheduled". The proportional
    rule is that of N.J.S.A. 18A:35-8 ("proportionately less when holidays fall within the week"). Raises
    `LedgerError` where the frequency gives no minutes.
    """
    text = write_frequency(line.frequency)
    whole = line.frequency.minutes_in_period
    if whole is None:
        raise LedgerError(f"“{text}” doesn't say how long a session is. Add the minutes of a session.")
    weekdays = _weekdays(span)
    in_session = [day for day in weekdays if day in calendar.in_session]
    counting = _counting_days(line, weekdays, in_session, rules.short_week)
    served = [at for at, day in enumerate(counting) if line.first <= day <= line.last]
    by_week = line.frequency.unit is FrequencyUnit.WEEK
    if by_week and rules.short_week is ShortWeek.AS_SCHEDULED:
        owed = min(scheduled, whole)
    else:
        owed = _share(whole, len(weekdays), served) if weekdays else 0
    sentence = f"{span.name}: {text} is {whole} minutes; {len(in_session)} of {len(weekdays)} days in session"
    if by_week:
        sentence += f", district rule “{SHORT_WEEK_WORDS[rules.short_week]}”"
    if len(served) < len(counting):
        sentence += f"; the service is in force on {len(served)} of {len(counting)} of them"
    return owed, f"{sentence}: {owed} minutes owed."


@dataclass(frozen=True, slots=True)
class _Sums:
    """What a period's sessions add up to, in minutes."""

    scheduled: int
    to_date: int
    delivered: int
    extra: int
    missed: Mapping[str, int]
    unlogged: int
    future: int
    not_owed: int
    undecided: int


def _sum_sessions(sessions: Sequence[SessionRecord], rules: LedgerRules, as_of: date) -> _Sums:
    missed: dict[str, int] = defaultdict(int)
    effects: dict[Effect, int] = defaultdict(int)
    open_minutes = {False: 0, True: 0}
    for session in sessions:
        if session.delivered is None:
            open_minutes[session.day > as_of] += session.minutes
        elif session.missed:
            missed[session.reason] += session.missed
            effects[session.effect(rules)] += session.missed
    logged = [session for session in sessions if session.delivered is not None]
    return _Sums(
        scheduled=sum(session.minutes for session in sessions),
        to_date=sum(session.minutes for session in sessions if session.day <= as_of or session in logged),
        delivered=sum(session.delivered or 0 for session in logged),
        extra=sum(max((session.delivered or 0) - session.minutes, 0) for session in logged),
        missed=dict(missed),
        unlogged=open_minutes[False],
        future=open_minutes[True],
        not_owed=effects[Effect.NOT_OWED],
        undecided=effects[Effect.TEAM],
    )


def _account(
    line: LedgerLine,
    span: Span,
    calendar: LedgerCalendar,
    rules: LedgerRules,
    sessions: Sequence[SessionRecord],
    as_of: date,
) -> PeriodAccount:
    """A period's account before make-up minutes and minutes carried over are handed out."""
    sums = _sum_sessions(sessions, rules, as_of)
    owed, why = owed_in(line, span, calendar, rules, sums.scheduled)
    over = as_of >= min(span.last, line.last, calendar.year.last)
    due = owed if over else min(owed, sums.to_date)
    reasoning = [why]
    if not over:
        reasoning.append(f"The period isn't over: {due} of {owed} minutes are due by {as_of:%-d %B %Y}.")
    for reason, minutes in sorted(sums.missed.items()):
        reasoning.append(f"{minutes} minutes missed: {rules.words.get(reason, reason) or 'no reason given'}.")
    if sums.undecided:
        reasoning.append(f"{sums.undecided} of the missed minutes wait for the team's decision.")
    return PeriodAccount(
        span=span,
        owed=owed,
        due=due,
        scheduled=sums.scheduled,
        delivered=sums.delivered,
        missed=sums.missed,
        unlogged=sums.unlogged,
        future=sums.future,
        extra=sums.extra,
        not_owed=sums.not_owed,
        undecided=sums.undecided,
        made_up=0,
        carried=0,
        reasoning=tuple(reasoning),
    )


def _hand_out(
    accounts: list[PeriodAccount], minutes: int, name: str, words: str
) -> tuple[list[PeriodAccount], int]:
    """Give minutes to the oldest shortfalls; what is left over comes back."""
    given = []
    for account in accounts:
        part = min(minutes, account.still_owed)
        minutes -= part
        if part:
            changes = {name: getattr(account, name) + part, "reasoning": (*account.reasoning, f"{part} {words}.")}
            given.append(replace(account, **changes))
        else:
            given.append(account)
    return given, minutes


def build_ledger(
    line: LedgerLine,
    calendar: LedgerCalendar,
    rules: LedgerRules,
    sessions: Iterable[SessionRecord],
    as_of: date,
) -> Ledger:
    """The ledger of one line up to a date (included): its accounts period by period, oldest first.

    Sessions may come in any order; those outside the line's periods are an error, so that no minute is lost
    silently. Raises `LedgerError`.
    """
    every = periods_of(line, calendar)
    spans = [span for span in every if span.first <= as_of]
    planned: dict[Span, list[SessionRecord]] = {span: [] for span in spans}
    make_up_minutes = 0
    for session in sorted(sessions, key=lambda one: (one.day, one.id)):
        if session.makes_up:
            make_up_minutes += (session.delivered or 0) if session.day <= as_of else 0
            continue
        span = next((span for span in every if session.day in span), None)
        if span is None:
            raise LedgerError(f"The session of {session.day} lies outside the service's dates or the school year.")
        planned.setdefault(span, []).append(session)
    accounts = [_account(line, span, calendar, rules, planned[span], as_of) for span in spans]
    accounts, spare = _hand_out(accounts, make_up_minutes, "made_up", "minutes made up")
    if rules.carry_ahead:
        ahead = sum(account.ahead for account in accounts)
        accounts, _ = _hand_out(accounts, ahead, "carried", "minutes carried over from periods that were ahead")
    return Ledger(line, as_of, tuple(accounts), spare)

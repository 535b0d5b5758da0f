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
  There is no federal rule that a missed session is owed (OSEP Letter to Clarke, March 8, 2007): the table is the
  district's.
* Minutes above what a period owes are shown as *ahead*. They count for other periods only where the district
  chose to carry them. Make-up minutes go to the oldest shortfall first.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from accounts.dates import date_words
from caseload.ledger.owed import CountedPeriod, owed_in, period_holding, periods_of
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    PeriodAccount,
    Rules,
    SessionRecord,
)


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


def _sum_sessions(sessions: Sequence[SessionRecord], rules: Rules, as_of: date) -> _Sums:
    logged = [session for session in sessions if session.delivered is not None]
    unlogged = sum(session.minutes for session in sessions if session.delivered is None and session.day <= as_of)
    scheduled, of_logged = _minutes(sessions), _minutes(logged)
    missed, effects = _sum_missed(logged, rules)
    return _Sums(
        scheduled=scheduled,
        to_date=of_logged + unlogged,
        delivered=sum(session.delivered or 0 for session in logged),
        extra=sum(session.extra for session in logged),
        missed=missed,
        unlogged=unlogged,
        future=scheduled - of_logged - unlogged,
        not_owed=effects[Effect.NOT_OWED],
        undecided=effects[Effect.TEAM],
    )


def _minutes(sessions: Iterable[SessionRecord]) -> int:
    return sum(session.minutes for session in sessions)


def _sum_missed(sessions: Iterable[SessionRecord], rules: Rules) -> tuple[dict[str, int], Mapping[Effect, int]]:
    """Missed minutes by reason, and by what they do."""
    missed: dict[str, int] = defaultdict(int)
    effects: dict[Effect, int] = defaultdict(int)
    for session in sessions:
        if session.missed:
            missed[session.reason] += session.missed
            effects[session.effect(rules)] += session.missed
    return dict(missed), effects


def _account(
    period: CountedPeriod,
    calendar: LedgerCalendar,
    rules: Rules,
    sessions: Sequence[SessionRecord],
    as_of: date,
) -> PeriodAccount:
    """A period's account before make-up minutes and minutes carried over are handed out."""
    sums = _sum_sessions(sessions, rules, as_of)
    owed, why = owed_in(period, calendar, rules, sums.scheduled)
    over = as_of >= min(period.ends, calendar.year.last)
    due = owed if over else min(owed, sums.to_date)
    reasoning = [why]
    if not over:
        reasoning.append(f"The period isn't over: {due} of {owed} minutes are due by {date_words(as_of)}.")
    words = rules.on(period.first).words
    for reason, minutes in sorted(sums.missed.items()):
        reasoning.append(f"{minutes} minutes missed: {words.get(reason, reason) or 'no reason given'}.")
    if sums.undecided:
        reasoning.append(f"{sums.undecided} of the missed minutes wait for the team's decision.")
    return PeriodAccount(
        span=period.span,
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
    rules: Rules,
    sessions: Iterable[SessionRecord],
    as_of: date,
) -> Ledger:
    """The ledger of one service up to a date (included): its accounts period by period, oldest first.

    A period goes by the rules of its first day, a missed session by the table of its own. Sessions may come in any
    order; those outside the service's periods are an error, so that no minute is lost silently. Raises
    `LedgerError`.
    """
    ordered = sorted(sessions, key=lambda one: (one.day, one.id))
    every = periods_of(line, calendar)
    planned = _by_period(every, [session for session in ordered if not session.makes_up])
    begun = [period for period in every if period.first <= as_of]
    accounts = [_account(period, calendar, rules, planned[period], as_of) for period in begun]
    accounts, spare = _hand_out(accounts, _made_up(ordered, as_of), "made_up", "minutes made up")
    ahead = sum(account.ahead for account in accounts if rules.on(account.span.first).carry_ahead)
    accounts, _ = _hand_out(accounts, ahead, "carried", "minutes carried over from periods that were ahead")
    return Ledger(line, as_of, tuple(accounts), spare)


def _by_period(
    periods: Sequence[CountedPeriod], sessions: Iterable[SessionRecord]
) -> dict[CountedPeriod, list[SessionRecord]]:
    found: dict[CountedPeriod, list[SessionRecord]] = {period: [] for period in periods}
    for session in sessions:
        period = period_holding(periods, session.day)
        if period is None:
            raise LedgerError(
                f"The session of {date_words(session.day)} is outside the service's dates or the school year."
            )
        found[period].append(session)
    return found


def _made_up(sessions: Iterable[SessionRecord], as_of: date) -> int:
    """Minutes that make-ups delivered up to a date."""
    return sum(session.delivered or 0 for session in sessions if session.makes_up and session.day <= as_of)

"""The minutes ledger: what one service owed, what was delivered, missed, made up, and what is still owed.

Pure: a service, its calendar, district rules, schedule and log in, a ledger out. Exact integer minutes and local
dates of the building; nothing here reads a clock. Each period carries the sentences that explain its numbers.

How a number comes about:

* *Owed in a period* follows the frequency and the district's rule for short weeks (`owed`). A service that begins
  or ends inside a period owes its share of the days in session. Versions of one service share their periods.
* *Due today*: a period that is over is due whole; in the running period, what its sessions up to today amount to.
  So a Tuesday lesson isn't behind on Monday.
* *Up to a date* nothing after it is known: a session of a later day is one to come, whatever its log says.
* *Missed minutes* stay owed, fall away or wait for the team, as the district's table says of their reason.
  There is no federal rule that a missed session is owed (OSEP Letter to Clarke, March 8, 2007): the table is the
  district's. Where a day closed after its session was planned, the rule for short weeks comes first, as for a
  holiday that was known in August, and the table says what becomes of the rest.
* Minutes above what a period owes are shown as *ahead*. They count for other periods of the year only where the
  district chose to carry them. Make-up minutes pay what they were booked for, then the oldest shortfall.
* What a school year left open is the *opening balance* of the next, kept apart; so is what a plan left that ended
  in the year.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from accounts.dates import date_words
from caseload.ledger.owed import CountedPeriod, owed_in, owes_a_share, period_holding, periods_of
from caseload.ledger.sums import SessionSums, minutes_of, sum_missed, sum_sessions
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    OpeningBalance,
    PeriodAccount,
    Rules,
    SessionRecord,
    Span,
)
from caseload.plans.frequency import FrequencyUnit

ONE_DAY = timedelta(days=1)


def _account(
    period: CountedPeriod,
    calendar: LedgerCalendar,
    rules: Rules,
    sessions: Sequence[SessionRecord],
    as_of: date,
) -> PeriodAccount:
    """A period's account before make-up minutes and minutes carried over are handed out."""
    sums = sum_sessions(sessions, calendar, rules, as_of)
    owed, why = owed_in(period, calendar, rules, sums.placed)
    due = owed if _is_over(period, calendar, as_of) else min(owed, sums.to_date)
    not_owed, undecided = _after_closings(period, calendar, rules, sums, owed)
    account = PeriodAccount(
        span=period.span,
        owed=owed,
        due=due,
        scheduled=sums.scheduled,
        delivered=sums.delivered,
        missed=sums.missed,
        unlogged=sums.unlogged,
        future=sums.future,
        extra=sums.extra,
        not_owed=not_owed,
        undecided=undecided,
        made_up=0,
        carried=0,
        reasoning=(why,),
    )
    return replace(account, reasoning=(why, *_reasons(account, period, calendar, rules, as_of)))


def _is_over(period: CountedPeriod, calendar: LedgerCalendar, as_of: date) -> bool:
    """Whether it is due whole."""
    return as_of >= _last_day(period, calendar)


def _last_day(period: CountedPeriod, calendar: LedgerCalendar) -> date:
    """The last day on which it can be served; a whole service may go on in the next school year."""
    if period.unit is FrequencyUnit.TOTAL:
        return period.ends
    return min(period.ends, calendar.year.last)


def _after_closings(
    period: CountedPeriod, calendar: LedgerCalendar, rules: Rules, sums: SessionSums, owed: int
) -> tuple[int, int]:
    """Missed minutes that are not owed, and those left to the team, that still answer what the period owes.

    A day that closed after its session was planned has made the period owe less already, as a holiday does: only
    what its sessions had beyond that is the table's to forgive.
    """
    if not sums.closed:
        return sums.not_owed, sums.undecided
    days = frozenset(session.day for session in sums.closed)
    as_open = replace(calendar, in_session=calendar.in_session | days)
    placed = sums.placed + minutes_of(sums.closed)
    taken = max(owed_in(period, as_open, rules, placed)[0] - owed, 0)
    _, effects = sum_missed(sums.closed, rules)
    forgiven = min(taken, effects[Effect.NOT_OWED])
    return sums.not_owed - forgiven, sums.undecided - min(taken - forgiven, effects[Effect.TEAM])


def _reasons(
    account: PeriodAccount, period: CountedPeriod, calendar: LedgerCalendar, rules: Rules, as_of: date
) -> Iterator[str]:
    """What there is to say of a period after what it owes."""
    if not _is_over(period, calendar, as_of):
        yield f"The period isn't over: {account.due} of {account.owed} minutes are due by {date_words(as_of)}."
    words = rules.on(period.first).words
    for reason, minutes in sorted(account.missed.items()):
        yield f"{minutes} minutes missed: {words.get(reason, reason) or 'no reason given'}."
    if account.undecided:
        yield f"{account.undecided} of the missed minutes wait for the team's decision."


# ---- make-ups, minutes ahead, rounding -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Counted:
    """A period with its account so far, and the calendar that it lies in.

    Where it lacks less than `least` minutes, that is rounding and waits for nothing.
    """

    period: CountedPeriod
    calendar: LedgerCalendar
    account: PeriodAccount
    least: int = 0

    @property
    def open(self) -> int:
        """Minutes that a make-up or minutes ahead can answer."""
        return self.account.shortfall if self.account.shortfall >= self.least else 0

    def given(self, name: str, minutes: int, words: str) -> "_Counted":
        """With minutes added to one figure, and a sentence why."""
        changes = {
            name: getattr(self.account, name) + minutes,
            "reasoning": (*self.account.reasoning, f"{minutes} {words}."),
        }
        return replace(self, account=replace(self.account, **changes))


def _pay_booked(counted: list[_Counted], make_up: SessionRecord) -> tuple[list[_Counted], int]:
    """Give a make-up's minutes to the period that it was booked for; what that doesn't need comes back."""
    minutes = make_up.delivered or 0
    day = make_up.makes_up_for
    held = period_holding([one.period for one in counted], day) if day is not None else None
    if held is None or day is None:
        return counted, minutes
    at = next(number for number, one in enumerate(counted) if one.period is held)
    part = min(minutes, counted[at].open)
    if part:
        words = f"minutes made up on {date_words(make_up.day)}, booked for {date_words(day)}"
        counted = [*counted[:at], counted[at].given("made_up", part, words), *counted[at + 1 :]]
    return counted, minutes - part


def _pay_oldest(counted: Sequence[_Counted], minutes: int, name: str, words: str) -> tuple[list[_Counted], int]:
    """Give minutes to the oldest shortfalls; what is left over comes back."""
    paid = []
    for one in counted:
        part = min(minutes, one.open)
        minutes -= part
        paid.append(one.given(name, part, words) if part else one)
    return paid, minutes


def _make_up(counted: list[_Counted], make_ups: Iterable[SessionRecord]) -> tuple[list[_Counted], int]:
    """Hand out what make-ups delivered: first to what each was booked for, then to the oldest shortfall."""
    left = 0
    for one in make_ups:
        counted, rest = _pay_booked(counted, one)
        left += rest
    return _pay_oldest(counted, left, "made_up", "minutes made up")


def _carry(counted: Sequence[_Counted], calendar: LedgerCalendar, rules: Rules) -> list[_Counted]:
    """Hand a year's minutes ahead on to its oldest shortfalls, where the rules of their period say so."""
    before = [one for one in counted if one.calendar is not calendar]
    mine = [one for one in counted if one.calendar is calendar]
    giving = [one.account.ahead if rules.on(one.period.first).carry_ahead else 0 for one in mine]
    mine, left = _pay_oldest(mine, sum(giving), "carried", "minutes carried over from periods that were ahead")
    used = sum(giving) - left
    for number, minutes in enumerate(giving):
        part = min(used, minutes)
        used -= part
        if part:
            mine[number] = mine[number].given("carried_on", part, "minutes ahead carried to other periods")
    return [*before, *mine]


def _least(period: CountedPeriod, calendar: LedgerCalendar, rules: Rules, as_of: date) -> int:
    """Below how many minutes what a period lacks is rounding: of a share that is over, a session's least."""
    is_share = _is_over(period, calendar, as_of) and owes_a_share(period, calendar, rules)
    return rules.on(period.first).least if is_share else 0


def _round(one: _Counted) -> PeriodAccount:
    """What a share of a period leaves that is too short for a session is rounding, and no debt."""
    account = one.account
    rounding = account.shortfall - one.open
    if not rounding:
        return account
    sentence = f"{rounding} minutes are less than a session of {one.least}: shown as rounding, not owed."
    return replace(account, rounding=rounding, reasoning=(*account.reasoning, sentence))


# ---- the whole -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Year:
    """A school year's calendar with the periods that count in it, or the `problem` that keeps them unknown."""

    calendar: LedgerCalendar
    periods: tuple[CountedPeriod, ...] = ()
    problem: str = ""


def _year(line: LedgerLine, calendar: LedgerCalendar) -> _Year:
    """An earlier year; what can't be counted is said and stops nothing."""
    try:
        periods = periods_of(line, calendar)
        return _Year(calendar, tuple(one for one in periods if one.whole))
    except LedgerError as error:
        return _Year(calendar, problem=str(error))


def _years(line: LedgerLine, calendar: LedgerCalendar, earlier: Iterable[LedgerCalendar]) -> list[_Year]:
    """Each year with its periods; a whole service that goes on from one year to the next counts in the later."""
    found = [_Year(calendar, periods_of(line, calendar))]
    later = set(found[0].periods)
    for one in reversed(list(earlier)):
        year = _year(line, one)
        found.append(replace(year, periods=tuple(period for period in year.periods if period not in later)))
        later |= set(year.periods)
    return found[::-1]


def periods_known(
    line: LedgerLine, calendar: LedgerCalendar, earlier: Iterable[LedgerCalendar] = ()
) -> tuple[CountedPeriod, ...]:
    """Every period of a service in these years that can be counted; raises `LedgerError` as `build_ledger` does."""
    return tuple(period for year in _years(line, calendar, earlier) for period in year.periods)


def build_ledger(
    line: LedgerLine,
    calendar: LedgerCalendar,
    rules: Rules,
    sessions: Iterable[SessionRecord],
    as_of: date,
    earlier: Iterable[LedgerCalendar] = (),
) -> Ledger:
    """The ledger of one service up to a date (included): its accounts period by period, oldest first.

    `calendar` is that of the school year asked for, `earlier` those of the years before, oldest first, whose open
    minutes are opening balances. A period goes by the rules of its first day, a missed session by the table of its
    own. Sessions may come in any order; those outside the service's periods are an error, so that no minute is lost
    silently. Raises `LedgerError`.
    """
    ordered = sorted(sessions, key=lambda one: (one.day, one.id))
    years = _years(line, calendar, earlier)
    planned = _by_period(years, ordered)

    def count(until: date) -> tuple[list[_Counted], dict[Span, int], int]:
        return _counted(years, rules, ordered, planned, until)

    counted, opened, spare = count(as_of)
    ledger = _closed(line, years, counted, as_of, opened, spare)
    begun = line.plan_begun(calendar, as_of)
    if begun is None:
        return ledger
    then = {one.period: one.open for one in count(begun - ONE_DAY)[0]}
    return _plan_apart(ledger, [one for one in counted if one.calendar is calendar], begun, then)


def _counted(
    years: Sequence[_Year],
    rules: Rules,
    ordered: Sequence[SessionRecord],
    planned: Mapping[CountedPeriod, Sequence[SessionRecord]],
    as_of: date,
) -> tuple[list[_Counted], dict[Span, int], int]:
    """Every period up to a date, what each year had open at its end, and make-up minutes that nothing needed."""
    counted: list[_Counted] = []
    opened, spare, since = {}, 0, date.min
    for year in years:
        last = as_of if year is years[-1] else year.calendar.year.last
        begun = [*counted, *_accounts(year, rules, planned, as_of)]
        counted, spare = _make_up(begun, _make_ups(ordered, since, last))
        counted = _carry(counted, year.calendar, rules)
        opened[year.calendar.year] = _open(counted, year.calendar)
        since = last
    return counted, opened, spare


def _plan_apart(
    ledger: Ledger, counted: Sequence[_Counted], begun: date, then: Mapping[CountedPeriod, int]
) -> Ledger:
    """With what the plan before left open as an opening balance; `then` was open on its last day."""
    pairs = zip(ledger.periods, counted, strict=True)
    over = [(account, one) for account, one in pairs if _last_day(one.period, one.calendar) < begun]
    if not over:
        return ledger
    mine = tuple(account for account, _ in over)
    last = max(_last_day(one.period, one.calendar) for _, one in over)
    balance = OpeningBalance(
        name=f"the plan until {date_words(last)}",
        last=last,
        opened=sum(then.get(one.period, 0) for _, one in over),
        open=sum(one.still_owed for one in mine),
        undecided=sum(one.undecided for one in mine),
        periods=mine,
        in_year=True,
    )
    return replace(ledger, openings=(*ledger.openings, balance))


def _make_ups(sessions: Iterable[SessionRecord], since: date, last: date) -> list[SessionRecord]:
    """Make-ups that delivered something after one date and up to another."""
    return [one for one in sessions if one.makes_up and one.delivered and since < one.day <= last]


def _open(counted: Iterable[_Counted], calendar: LedgerCalendar) -> int:
    return sum(one.open for one in counted if one.calendar is calendar)


def _accounts(
    year: _Year, rules: Rules, planned: Mapping[CountedPeriod, Sequence[SessionRecord]], as_of: date
) -> list[_Counted]:
    """A year's periods that have begun, each with its account."""
    calendar = year.calendar
    return [
        _Counted(
            one, calendar, _account(one, calendar, rules, planned[one], as_of), _least(one, calendar, rules, as_of)
        )
        for one in year.periods
        if one.first <= as_of
    ]


def _closed(
    line: LedgerLine,
    years: Sequence[_Year],
    counted: Sequence[_Counted],
    as_of: date,
    opened: Mapping[Span, int],
    spare: int,
) -> Ledger:
    """The accounts of the last year, and what those before it left."""
    accounts: dict[Span, list[PeriodAccount]] = defaultdict(list)
    for one in counted:
        accounts[one.calendar.year].append(_round(one))
    openings = []
    for year in years[:-1]:
        span = year.calendar.year
        mine = tuple(accounts[span])
        openings.append(
            OpeningBalance(
                name=span.name,
                last=span.last,
                opened=opened[span],
                open=sum(one.still_owed for one in mine),
                undecided=sum(one.undecided for one in mine),
                periods=mine,
                problem=year.problem,
            )
        )
    kept = tuple(one for one in openings if one.periods or one.problem)
    return Ledger(line, as_of, tuple(accounts[years[-1].calendar.year]), spare, kept)


def _by_period(
    years: Iterable[_Year], sessions: Iterable[SessionRecord]
) -> dict[CountedPeriod, list[SessionRecord]]:
    """Planned sessions by the period that they count in."""
    found: dict[CountedPeriod, list[SessionRecord]] = {one: [] for year in years for one in year.periods}
    for session in sessions:
        period = period_holding(found, session.day)
        if session.makes_up:
            continue
        if period is None:
            raise LedgerError(
                f"The session of {date_words(session.day)} is outside the service's dates or the school year."
            )
        found[period].append(session)
    return found

"""What a service line still needs by a date, what is planned until it, and how that is likely to end. Pure.

Integer minutes and local dates; `today` is the ledger's `as_of`. `docs/forecast.md` describes it in words.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import date, timedelta

from caseload.ledger.forecast import Forecast, forecast
from caseload.ledger.owed import owed_in, periods_of
from caseload.ledger.rates import RateBelief, SessionHistory
from caseload.ledger.terms import Effect, Ledger, LedgerCalendar, LedgerRules, Rules, SessionRecord, Span
from caseload.plans.frequency import FrequencyUnit

PATTERN_WEEKS = 4
"""The fullest of so many latest published weeks is the pattern of weeks without one: a closure may cut the last."""

TOLERATED = 0.10
"""A line is said to be likely to end short above this probability; common practice, no source."""

RESERVED_FOR = 0.08
"""With the reserve the probability is at most this: a little less than a tenth, so that it is enough in nine of ten
cases also where the model of rates is a little off. In simulated districts with runs 0.10 was enough in 89.8 %.
"""


@dataclass(frozen=True, slots=True)
class Shortage:
    """Minutes of a period that no session will give, and the days that took some of them.

    `closed` are without school, on those `away` the teacher will be absent.
    """

    span: Span
    minutes: int
    closed: tuple[date, ...] = ()
    away: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class Outlook:
    """One line until one date, such as the end of a marking period or of the plan.

    `shortages` say where its gap lies: periods that aren't over, the oldest first.
    """

    name: str
    until: date
    forecast: Forecast
    shortages: tuple[Shortage, ...] = ()

    @property
    def is_doubtful(self) -> bool:
        """Whether even a perfect run falls short, or it is likely to end short."""
        return self.forecast.gap > 0 or self.forecast.ends_short > TOLERATED


def history_of(sessions: Iterable[SessionRecord], rules: Rules) -> SessionHistory:
    """Sessions that are logged, the oldest first, and whether more than half of each was missed.

    Misses that aren't owed don't make anybody end short, so they count as held. Make-ups are apart.
    """
    logged = [one for one in sessions if one.delivered is not None and not one.makes_up and one.minutes > 0]
    ordered = sorted(logged, key=lambda one: (one.day, one.id))
    return SessionHistory(tuple(_was_missed(one, rules) for one in ordered))


def _was_missed(one: SessionRecord, rules: Rules) -> bool:
    return 2 * one.missed > one.minutes and one.effect(rules) is not Effect.NOT_OWED


def needed_until(
    ledger: Ledger,
    calendar: LedgerCalendar,
    rules: Rules,
    until: date,
    sessions: Sequence[SessionRecord] = (),
) -> int:
    """Minutes that must still be delivered by a date (included): shortfalls of periods begun and all owed later.

    `sessions` are those ahead, which the rule "as scheduled" asks for. Raises `LedgerError` as the ledger does.
    """
    missing = sum(left for _, left, _ in _left(ledger, calendar, rules, until, sessions))
    return max(missing - ledger.spare_make_up, 0)


def shortages(
    ledger: Ledger,
    calendar: LedgerCalendar,
    rules: Rules,
    until: date,
    sessions: Sequence[SessionRecord],
    weekdays: AbstractSet[int],
    away: AbstractSet[date] = frozenset(),
) -> tuple[Shortage, ...]:
    """Periods that aren't over and for which the `sessions` ahead are too few; parameters as `needed_until`'s.

    `weekdays` are those on which the line usually meets: a day without school takes something only from them.
    Make-ups that are booked aren't looked at: whoever shows these takes them off.
    """
    spare = ledger.spare_make_up
    found: list[Shortage] = []
    for span, left, ahead in _left(ledger, calendar, rules, until, sessions):
        short = max(left - ahead, 0)
        if short and span.last > ledger.as_of:
            taken = min(spare, short)
            spare -= taken
            if short > taken:
                usual = _usual_days(ledger, span, weekdays)
                closed = tuple(day for day in usual if day not in calendar.in_session)
                missed = tuple(day for day in usual if day in away and day in calendar.in_session)
                found.append(Shortage(span, short - taken, closed, missed))
    return tuple(found)


def _left(
    ledger: Ledger,
    calendar: LedgerCalendar,
    rules: Rules,
    until: date,
    sessions: Sequence[SessionRecord],
) -> Iterator[tuple[Span, int, int]]:
    """Of each period, what it owes and nothing has answered yet, and what its own sessions ahead will give."""
    line = ledger.line.until(until)
    answered = {
        one.span.first: one.delivered + one.made_up + one.carried + one.not_owed + one.undecided
        for one in ledger.periods
    }
    planned = {one.span.first: one.scheduled for one in ledger.periods}
    for span in periods_of(line, calendar):
        ahead = sum(one.minutes for one in sessions if not one.makes_up and one.day in span)
        owed, _ = owed_in(span, calendar, rules, max(planned.get(span.first, 0), ahead))
        yield span, max(owed - answered.get(span.first, 0), 0), ahead


def _usual_days(ledger: Ledger, span: Span, weekdays: AbstractSet[int]) -> list[date]:
    """Days of a week on which the service is in force and usually meets."""
    if ledger.line.frequency.unit not in {FrequencyUnit.DAY, FrequencyUnit.WEEK}:
        return []
    first, last = max(span.first, ledger.line.first), min(span.last, ledger.line.last)
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return [day for day in days if day.weekday() in weekdays]


def sessions_ahead(
    ledger: Ledger,
    calendar: LedgerCalendar,
    sessions: Sequence[SessionRecord],
    published: AbstractSet[date],
    until: date,
    usual: int,
    away: AbstractSet[date] = frozenset(),
) -> tuple[SessionRecord, ...]:
    """Sessions until a date: those of published weeks that wait for their log, and the pattern after that.

    None is held on days to come on which the teacher is `away`.

    `published` are the Mondays of published weeks. Weeks without one repeat the fullest of the latest weeks, on
    the days in session; a frequency that isn't by the week gets what its periods owe, in sessions of `usual`.
    """
    known = (one for one in sessions if one.day <= ledger.as_of or one.day not in away)
    waiting = _waiting(known, until)
    calendar = replace(calendar, in_session=calendar.in_session - away)
    if not published:
        return tuple(waiting)
    unit, turns = ledger.line.frequency.unit, ledger.line.frequency.weeks_of
    if unit is FrequencyUnit.DAY or (unit is FrequencyUnit.WEEK and turns is None):
        more = _by_pattern(ledger, calendar, sessions, published, until)
    else:
        more = _by_period(ledger, calendar, sessions, published, until, usual)
    return (*waiting, *more)


def _waiting(sessions: Iterable[SessionRecord], until: date) -> list[SessionRecord]:
    return [one for one in sessions if one.delivered is None and one.day <= until]


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _by_pattern(
    ledger: Ledger,
    calendar: LedgerCalendar,
    sessions: Iterable[SessionRecord],
    published: AbstractSet[date],
    until: date,
) -> list[SessionRecord]:
    pattern = _pattern(sessions, published)
    line = ledger.line
    days = sorted(
        day
        for day in calendar.in_session
        if ledger.as_of < day <= min(until, line.last) and day >= line.first and _monday(day) not in published
    )
    return [
        SessionRecord(f"ahead-{day}-{number}", day, minutes)
        for day in days
        for number, minutes in enumerate(pattern.get(day.weekday(), ()))
    ]


def _pattern(sessions: Iterable[SessionRecord], published: AbstractSet[date]) -> Mapping[int, list[int]]:
    latest = sorted(published)[-PATTERN_WEEKS:]
    weeks: dict[date, list[SessionRecord]] = defaultdict(list)
    for one in sessions:
        if not one.makes_up and _monday(one.day) in latest:
            weeks[_monday(one.day)].append(one)
    fullest = max(weeks, key=lambda monday: (sum(one.minutes for one in weeks[monday]), monday), default=None)
    found: dict[int, list[int]] = defaultdict(list)
    for one in weeks[fullest] if fullest is not None else ():
        if one.minutes > 0:
            found[one.day.weekday()].append(one.minutes)
    return found


def _by_period(
    ledger: Ledger,
    calendar: LedgerCalendar,
    sessions: Sequence[SessionRecord],
    published: AbstractSet[date],
    until: date,
    usual: int,
) -> list[SessionRecord]:
    """What the planner will have to place: the periods' minutes that no published week holds."""
    line = ledger.line.until(until)
    found: list[SessionRecord] = []
    for span in periods_of(line, calendar):
        free = _free_days(ledger, calendar, span, published, until)
        held = sum(one.minutes for one in sessions if one.day in span and not one.makes_up)
        owed, _ = owed_in(span, calendar, LedgerRules(), 0)
        count = min(-(-max(owed - held, 0) // usual), len(free))
        found += [SessionRecord(f"ahead-{day}", day, usual) for day in free[:count]]
    return found


def _free_days(
    ledger: Ledger, calendar: LedgerCalendar, span: Span, published: AbstractSet[date], until: date
) -> list[date]:
    line = ledger.line
    last = min(until, line.last)
    return sorted(
        day
        for day in calendar.in_session
        if day in span and ledger.as_of < day <= last and day >= line.first and _monday(day) not in published
    )


def outlook(
    *,
    name: str,
    until: date,
    ledger: Ledger,
    calendar: LedgerCalendar,
    rules: Rules,
    sessions: Sequence[SessionRecord],
    published: AbstractSet[date],
    usual: int,
    belief: RateBelief,
    away: AbstractSet[date] = frozenset(),
) -> Outlook:
    """The outlook of one line until a date. `belief` is what past sessions say of how often it is missed.

    On the days in `away` the teacher will be absent, and nobody gives the session in their place.
    """
    ahead = sessions_ahead(ledger, calendar, sessions, published, until, usual, away)
    needed = needed_until(ledger, calendar, rules, until, ahead)
    lengths = [one.minutes for one in sorted(ahead, key=lambda one: one.day) if one.minutes > 0]
    seen = forecast(needed=needed, sessions=lengths, belief=belief, make_up_minutes=usual, tolerated=RESERVED_FOR)
    weekdays = _pattern(sessions, published).keys()
    short = shortages(ledger, calendar, rules, until, ahead, weekdays, away) if seen.gap else ()
    return Outlook(name, until, seen, short)

"""The periods that a line's frequency counts in, and what each of them owes."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from accounts.dates import date_words
from caseload.ledger.terms import (
    SHORT_WEEK_WORDS,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    Rules,
    ShortWeek,
    Span,
    Terms,
    counts_by,
)
from caseload.plans.frequency import PARTS_OF_YEAR, SCHOOL_DAYS_A_WEEK, FrequencyUnit, write_frequency

FRIDAY = 4
BY_WEEKS = {FrequencyUnit.DAY, FrequencyUnit.WEEK}


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _month_end(day: date) -> date:
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)


def _weeks(first: date, last: date, count: int) -> list[Span]:
    spans = []
    start = _monday(first)
    while start <= last:
        end = start + timedelta(days=7 * count - 1)
        name = f"week of {date_words(start)}" if count == 1 else f"{count} weeks from {date_words(start)}"
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


@dataclass(frozen=True, slots=True)
class CountedPeriod(Span):
    """A period with the versions that count in it together; both ends of the span included."""

    terms: tuple[Terms, ...]

    @property
    def span(self) -> Span:
        """Its days and name alone."""
        return Span(self.name, self.first, self.last)

    @property
    def ends(self) -> date:
        """The last day on which it holds a day of the service."""
        return min(self.last, max(one.last for one in self.terms))

    @property
    def unit(self) -> FrequencyUnit:
        """What its versions count in, all of them alike."""
        return self.terms[0].frequency.unit

    @property
    def whole(self) -> int:
        """Minutes of the whole period, of the version that owes most; raises `LedgerError` where one gives none."""
        return max(_whole(one) for one in self.terms)

    def serves(self, day: date) -> bool:
        """Whether the service is in force on a date of it."""
        return day in self and any(day in one for one in self.terms)


def periods_of(line: LedgerLine, calendar: LedgerCalendar) -> tuple[CountedPeriod, ...]:
    """The periods that a service counts in, of one school year, those it touches, oldest first.

    Versions that count alike share their periods: a week in which one follows the other is one week. A season
    outside the school year has those of versions that a plan names for it, the year those of the others. Raises
    `LedgerError` where the calendar lacks what a frequency counts by.
    """
    of_season = [one for one in line.terms if one.extended == calendar.extended]
    found = [one for terms in _alike(of_season) for one in _periods_of(terms, calendar)]
    return tuple(sorted(found, key=lambda one: (max(one.first, one.terms[0].first), one.first)))


def period_holding(periods: Iterable[CountedPeriod], day: date) -> CountedPeriod | None:
    """The period that a date counts in: where several hold it, that of the version in force."""
    holding = [one for one in periods if day in one]
    return next((one for one in holding if one.serves(day)), next(iter(holding), None))


def _alike(every: Iterable[Terms]) -> list[tuple[Terms, ...]]:
    """Versions that follow each other and count in the same unit, together."""
    groups = groupby((one for one in every if one.first <= one.last), key=_counts_by)
    return [tuple(group) for _, group in groups]


def _counts_by(terms: Terms) -> tuple[object, ...]:
    how = terms.frequency
    return counts_by(how.unit, how.cycle_days, how.weeks_of, terms.plan)


def _periods_of(terms: tuple[Terms, ...], calendar: LedgerCalendar) -> list[CountedPeriod]:
    first, last = max(terms[0].first, calendar.year.first), min(terms[-1].last, calendar.year.last)
    if first > last:
        return []
    touched = [span for span in _spans(terms, calendar, first, last) if span.first <= last and span.last >= first]
    every = [CountedPeriod(span.name, span.first, span.last, _within(terms, span)) for span in touched]
    return [one for one in every if one.terms]


def _within(terms: tuple[Terms, ...], span: Span) -> tuple[Terms, ...]:
    """The versions that are in force on some day of a span."""
    return tuple(one for one in terms if one.first <= span.last and one.last >= span.first)


def _spans(terms: tuple[Terms, ...], calendar: LedgerCalendar, first: date, last: date) -> Sequence[Span]:
    """The periods of a frequency's unit, perhaps more than the versions touch between two dates."""
    frequency, begins = terms[0].frequency, terms[0].begins
    unit = frequency.unit
    if unit in BY_WEEKS:
        return _weeks(first if frequency.weeks_of is None else begins, last, frequency.weeks_of or 1)
    if unit is FrequencyUnit.MONTH:
        return _months(first, last)
    if unit is FrequencyUnit.YEAR:
        return [calendar.year]
    if unit is FrequencyUnit.TOTAL:
        return [Span("the whole service", begins, terms[-1].ends)]
    return _spans_of_calendar(unit, terms[0], calendar)


def _spans_of_calendar(unit: FrequencyUnit, terms: Terms, calendar: LedgerCalendar) -> Sequence[Span]:
    if unit is FrequencyUnit.MARKING_PERIOD or unit in PARTS_OF_YEAR:
        spans, what = calendar.marking_periods, "marking periods"
    else:
        spans, what = calendar.turns.get(terms.line_id, calendar.cycles), "cycles of the rotation"
    if not spans:
        raise LedgerError(f"The calendar has no {what}. Add them, or change the service's frequency.")
    return _joined(unit, spans) if unit in PARTS_OF_YEAR else spans


def _joined(unit: FrequencyUnit, marking_periods: Sequence[Span]) -> Sequence[Span]:
    """The district's marking periods as quarters, trimesters or semesters: each of them, or so many together."""
    size, left = divmod(len(marking_periods), PARTS_OF_YEAR[unit])
    if left:
        raise LedgerError(
            f"The school year's {len(marking_periods)} marking periods don't make {PARTS_OF_YEAR[unit]} {unit}s. "
            "Change them, or the service's frequency."
        )
    parts = [marking_periods[at : at + size] for at in range(0, len(marking_periods), size)]
    return [Span(_joined_name(part), part[0].first, part[-1].last) for part in parts]


def _joined_name(part: Sequence[Span]) -> str:
    return part[0].name if len(part) == 1 else f"{part[0].name} to {part[-1].name}"


def _weekdays(span: Span) -> list[date]:
    days = (span.first + timedelta(days=n) for n in range((span.last - span.first).days + 1))
    return [day for day in days if day.weekday() <= FRIDAY]


@dataclass(frozen=True, slots=True)
class _Days:
    """The weekdays of a period, those in session, and those of these on which the service is in force."""

    period: CountedPeriod
    weekdays: list[date]
    in_session: list[date]
    served: list[date]

    @property
    def closed(self) -> int:
        """Weekdays without school."""
        return len(self.weekdays) - len(self.in_session)

    @property
    def weeks(self) -> int:
        """Weeks with a day in session."""
        return len({_monday(day) for day in self.in_session})

    @property
    def are_of_a_week(self) -> bool:
        """Whether the district's rule for short weeks is about them: turns of weeks are longer periods."""
        frequency = self.period.terms[0].frequency
        return frequency.unit is FrequencyUnit.WEEK and frequency.weeks_of is None


def _days_of(period: CountedPeriod, calendar: LedgerCalendar) -> _Days:
    """The days that count: of a whole service all weekdays, since it may outlast what the calendar knows.

    Where it doesn't, and none of its days is in session, it is served on none.
    """
    weekdays = _weekdays(period)
    known = period.unit is not FrequencyUnit.TOTAL
    in_session = [day for day in weekdays if day in calendar.in_session] if known else weekdays
    served = [day for day in in_session if period.serves(day)]
    if not known and _lies_in(period, calendar.year) and calendar.in_session.isdisjoint(served):
        served = []
    return _Days(period, weekdays, in_session, served)


def _lies_in(period: Span, year: Span) -> bool:
    return period.first in year and period.last in year


def _whole(terms: Terms) -> int:
    """Minutes of a whole period under these terms."""
    whole = terms.frequency.minutes_in_period
    if whole is None:
        text = write_frequency(terms.frequency)
        raise LedgerError(f"“{text}” doesn't say how long a session is. Add the minutes of a session.")
    return whole


def _share(days: _Days, full: Callable[[Terms], int], nominal: int) -> int:
    """Minutes of the days in session on which the service is in force (halves up).

    `full` is what `nominal` days owe under a version's terms. Shares are differences of one rounded running total,
    so that the parts of a period add up to the whole. Versions that owe other minutes share by days, rounded once.
    """
    wholes = {one: full(one) for one in days.period.terms}
    if len(set(wholes.values())) > 1:
        exact = sum(wholes[_version_at(days.period, day)] for day in days.served)
        return (2 * exact + nominal) // (2 * nominal)
    whole, served = wholes[days.period.terms[0]], set(days.served)

    def running(count: int) -> int:
        return (2 * whole * count + nominal) // (2 * nominal)

    return sum(running(at + 1) - running(at) for at, day in enumerate(days.in_session) if day in served)


def _version_at(period: CountedPeriod, day: date) -> Terms:
    """The version in force on a date; where none is, the one that follows, else the last."""
    return next((one for one in period.terms if day <= one.last), period.terms[-1])


def _full(days: _Days, terms: Terms) -> int:
    """What the days in session hold of a version's minutes: in a week all, in longer periods all that they can.

    Of a turn of weeks ("3 of 4 weeks") no more weeks than have school; else no more sessions than there are days in
    session for them, at the most as many a day as the plan asks for. A whole service isn't narrowed down: it may
    go on in days that the calendar doesn't know.
    """
    frequency, whole = terms.frequency, _whole(terms)
    if frequency.weeks_on is not None:
        return whole // frequency.weeks_on * min(frequency.weeks_on, days.weeks)
    if frequency.times is None or days.are_of_a_week or frequency.unit is FrequencyUnit.TOTAL:
        return whole
    a_day = -(-frequency.times // max(len(days.weekdays), 1))
    return (frequency.minutes or 0) * min(frequency.times, a_day * len(days.in_session))


def _by_session_days(days: _Days) -> int:
    """The whole, or the share of the days in session on which the service is in force."""
    return _share(days, lambda terms: _full(days, terms), len(days.in_session))


def _in_proportion(days: _Days) -> int:
    """Of each day in session its share of a full week (N.J.S.A. 18A:35-8)."""
    return _share(days, _whole, len(days.weekdays))


def _as_scheduled(days: _Days, scheduled: int) -> int:
    """What was placed in a week that a closing made short; what a full week lacks is owed all the same.

    In the manner of 23 Ill. Adm. Code 1.425(b): what falls on a day of no attendance need not be made up. So a day
    without school takes away no more sessions than a day holds. A service that is in force for a part of the week
    has its share of the most and of the least.
    """
    most = _by_session_days(days)
    if not days.closed:
        return most
    least = _share(days, lambda terms: _least(days, terms), len(days.in_session))
    return max(min(scheduled, most), least)


def _least(days: _Days, terms: Terms) -> int:
    """Minutes of a week that its closed days can't have taken; none where the plan gives no count of sessions."""
    times = terms.frequency.times
    if times is None:
        return 0
    taken = days.closed * -(-times // SCHOOL_DAYS_A_WEEK)
    return (terms.frequency.minutes or 0) * max(times - taken, 0)


def _week_owes(days: _Days, rule: ShortWeek, scheduled: int) -> int:
    """What a week owes by the district's rule for short weeks."""
    if rule is ShortWeek.PROPORTION:
        return _in_proportion(days)
    if rule is ShortWeek.AS_SCHEDULED:
        return _as_scheduled(days, scheduled)
    return _by_session_days(days)


def owes_a_share(period: CountedPeriod, calendar: LedgerCalendar, rules: Rules) -> bool:
    """Whether what a period owes may be minutes that no session holds.

    So it is where the service is in force for a part of it, where other terms share it, and in a short week in
    proportion. What closed days leave by the other rules are whole sessions; a daily service has whole days.
    """
    days = _days_of(period, calendar)
    if period.unit is FrequencyUnit.DAY:
        return False
    in_part = len(days.served) < len(days.in_session) or len({one.frequency for one in period.terms}) > 1
    in_proportion = days.are_of_a_week and rules.on(period.first).short_week is ShortWeek.PROPORTION
    return in_part or (in_proportion and days.closed > 0)


def owed_in(period: CountedPeriod, calendar: LedgerCalendar, rules: Rules, scheduled: int) -> tuple[int, str]:
    """Minutes that a service owes in a period, and why in one sentence.

    `scheduled` are the minutes of sessions placed in the period, for the rule "as scheduled". The rules are those
    that hold on the period's first day. Without a day in session on which the service is in force nothing is owed,
    by no rule. Raises `LedgerError` where the frequency gives no minutes.
    """
    rule = rules.on(period.first).short_week
    days = _days_of(period, calendar)
    said = _terms_words(period)
    owed = _owes(days, rule, scheduled) if days.served else 0
    return owed, f"{period.name}: {said}{_days_words(days, rule)}{_force_words(days)}: {owed} minutes owed."


def _owes(days: _Days, rule: ShortWeek, scheduled: int) -> int:
    """Minutes that a period with a day in session owes."""
    period = days.period
    if period.unit is FrequencyUnit.DAY:
        return sum(_whole(_version_at(period, day)) for day in days.served)
    return _week_owes(days, rule, scheduled) if days.are_of_a_week else _by_session_days(days)


def _terms_words(period: CountedPeriod) -> str:
    """“2 x 30 min/week is 60 minutes”; where versions differ, each with its first day."""
    said = [f"{write_frequency(one.frequency)} is {_whole(one)} minutes" for one in period.terms]
    if len(set(said)) == 1:
        return said[0]
    later = [f"from {date_words(one.first)} {words}" for one, words in zip(period.terms[1:], said[1:], strict=True)]
    return ", ".join([said[0], *later])


def _days_words(days: _Days, rule: ShortWeek) -> str:
    """How many days are in session, and the rule where it matters: for weeks."""
    unit = days.period.unit
    if unit is FrequencyUnit.DAY:
        return f" on each day in session; {len(days.in_session)} days in session"
    words = f"; {len(days.in_session)} of {len(days.weekdays)} days in session"
    return f"{words}, district rule “{SHORT_WEEK_WORDS[rule]}”" if days.are_of_a_week else words


def _force_words(days: _Days) -> str:
    """Said where the service isn't in force on all the days that count."""
    served, counting = len(days.served), len(days.in_session)
    return f"; the service is in force on {served} of {counting} of them" if served < counting else ""

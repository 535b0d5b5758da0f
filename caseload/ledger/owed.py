"""The periods that a line's frequency counts in, and what each of them owes."""

from collections.abc import Iterable, Sequence
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
)
from caseload.plans.frequency import PARTS_OF_YEAR, FrequencyUnit, write_frequency

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

    def serves(self, day: date) -> bool:
        """Whether the service is in force on a date of it."""
        return day in self and any(day in one for one in self.terms)


def periods_of(line: LedgerLine, calendar: LedgerCalendar) -> tuple[CountedPeriod, ...]:
    """The periods that a service counts in, of one school year, those it touches, oldest first.

    Versions that count alike share their periods: a week in which one follows the other is one week. Raises
    `LedgerError` where the calendar lacks what a frequency counts by.
    """
    found = [one for terms in _alike(line.terms) for one in _periods_of(terms, calendar)]
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
    """What two versions must have in common to share periods; a whole service ends with its plan."""
    how = terms.frequency
    return how.unit, how.cycle_days, how.weeks_of, terms.plan if how.unit is FrequencyUnit.TOTAL else ""


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
        return [Span("the whole service", begins, terms[-1].last)]
    return _spans_of_calendar(unit, terms[0].cycles, calendar)


def _spans_of_calendar(unit: FrequencyUnit, cycles: tuple[Span, ...], calendar: LedgerCalendar) -> Sequence[Span]:
    if unit is FrequencyUnit.MARKING_PERIOD or unit in PARTS_OF_YEAR:
        spans, what = calendar.marking_periods, "marking periods"
    else:
        spans, what = cycles or calendar.cycles, "cycles of the rotation"
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


def _share(whole: int, nominal: int, positions: Iterable[int]) -> int:
    """Minutes of the days at these positions, out of `nominal` days that make the whole (halves up)."""

    def running(count: int) -> int:
        return (2 * whole * count + nominal) // (2 * nominal)

    return sum(running(position + 1) - running(position) for position in positions)


def _counting_days(
    period: CountedPeriod, weekdays: list[date], in_session: list[date], rule: ShortWeek
) -> list[date]:
    """The days over which a period's minutes are spread, by the district's rule for short weeks.

    The rule is about weeks: a month, a cycle of the rotation, a marking period or a year owes the whole whatever
    holidays it holds.
    """
    if not _by_week(period) or rule is ShortWeek.WHOLE:
        return weekdays
    if rule is ShortWeek.ANY_DAY:
        return weekdays if any(period.serves(day) for day in in_session) else []
    return in_session


def _by_week(period: CountedPeriod) -> bool:
    return period.terms[0].frequency.unit is FrequencyUnit.WEEK


def _whole(terms: Terms) -> int:
    """Minutes of a whole period under these terms."""
    whole = terms.frequency.minutes_in_period
    if whole is None:
        text = write_frequency(terms.frequency)
        raise LedgerError(f"“{text}” doesn't say how long a session is. Add the minutes of a session.")
    return whole


def _owed_by_days(period: CountedPeriod, counting: list[date], nominal: int) -> int:
    """Minutes of the days in force; versions with other minutes share by days, rounded once (halves up)."""
    wholes = {_whole(one) for one in period.terms}
    if len(wholes) == 1:
        return _share(wholes.pop(), nominal, [at for at, day in enumerate(counting) if period.serves(day)])
    exact = sum(_whole(one) * sum(1 for day in counting if day in one) for one in period.terms)
    return (2 * exact + nominal) // (2 * nominal) if nominal else 0


def owed_in(period: CountedPeriod, calendar: LedgerCalendar, rules: Rules, scheduled: int) -> tuple[int, str]:
    """Minutes that a service owes in a period, and why in one sentence.

    `scheduled` are the minutes of the period's planned sessions, for the rule "as scheduled". The rules are those
    that hold on the period's first day. The proportional one is that of N.J.S.A. 18A:35-8 ("proportionately less
    when holidays fall within the week"). Raises `LedgerError` where the frequency gives no minutes.
    """
    rule = rules.on(period.first).short_week
    weekdays = _weekdays(period)
    in_session = [day for day in weekdays if day in calendar.in_session]
    counting = _counting_days(period, weekdays, in_session, rule)
    served = sum(1 for day in counting if period.serves(day))
    if period.terms[0].frequency.unit is FrequencyUnit.DAY:
        return _owed_daily(period, in_session)
    by_week = _by_week(period)
    if by_week and rule is ShortWeek.AS_SCHEDULED:
        owed = min(scheduled, max(_whole(one) for one in period.terms))
    else:
        owed = _owed_by_days(period, counting, len(weekdays))
    sentence = f"{period.name}: {_terms_words(period)}; {len(in_session)} of {len(weekdays)} days in session"
    sentence += f", district rule “{SHORT_WEEK_WORDS[rule]}”" if by_week else ""
    return owed, f"{sentence}{_force_words(served, len(counting))}: {owed} minutes owed."


def _terms_words(period: CountedPeriod) -> str:
    """“2 x 30 min/week is 60 minutes”; where versions differ, each with its first day."""
    said = [f"{write_frequency(one.frequency)} is {_whole(one)} minutes" for one in period.terms]
    if len(set(said)) == 1:
        return said[0]
    later = [f"from {date_words(one.first)} {words}" for one, words in zip(period.terms[1:], said[1:], strict=True)]
    return ", ".join([said[0], *later])


def _owed_daily(period: CountedPeriod, in_session: Sequence[date]) -> tuple[int, str]:
    """Each day in session on which the service is in force owes its minutes: no day without school, none less."""
    owed = sum(_whole(one) * sum(day in one for day in in_session) for one in period.terms)
    served = sum(period.serves(day) for day in in_session)
    sentence = f"{period.name}: {_terms_words(period)} on each day in session"
    words = f"{sentence}; {len(in_session)} days in session{_force_words(served, len(in_session))}"
    return owed, f"{words}: {owed} minutes owed."


def _force_words(served: int, counting: int) -> str:
    """Said where the service isn't in force on all the days that count."""
    return f"; the service is in force on {served} of {counting} of them" if served < counting else ""

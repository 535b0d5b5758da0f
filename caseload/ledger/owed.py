"""The periods that a line's frequency counts in, and what each of them owes."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from accounts.dates import date_words
from caseload.ledger.terms import (
    SHORT_WEEK_WORDS,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    LedgerRules,
    ShortWeek,
    Span,
)
from caseload.plans.frequency import FrequencyUnit, write_frequency

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


def periods_of(line: LedgerLine, calendar: LedgerCalendar) -> tuple[Span, ...]:
    """The periods that a line's frequency counts in, clipped to the school year, those it touches.

    Raises `LedgerError` where the calendar lacks what the frequency counts by.
    """
    first, last = max(line.first, calendar.year.first), min(line.last, calendar.year.last)
    if first > last:
        return ()
    spans = _spans(line, calendar, first, last)
    return tuple(span for span in spans if span.first <= last and span.last >= first)


def _spans(line: LedgerLine, calendar: LedgerCalendar, first: date, last: date) -> Sequence[Span]:
    """The periods of a frequency's unit, perhaps more than the line touches between two dates."""
    unit = line.frequency.unit
    if unit in BY_WEEKS:
        anchor = first if line.frequency.weeks_of is None else line.begins
        return _weeks(anchor, last, line.frequency.weeks_of or 1)
    if unit is FrequencyUnit.MONTH:
        return _months(first, last)
    if unit is FrequencyUnit.YEAR:
        return [calendar.year]
    if unit is FrequencyUnit.TOTAL:
        return [Span("the whole service", line.begins, line.last)]
    return _spans_of_calendar(unit, calendar)


def _spans_of_calendar(unit: FrequencyUnit, calendar: LedgerCalendar) -> Sequence[Span]:
    if unit is FrequencyUnit.MARKING_PERIOD:
        spans, what = calendar.marking_periods, "marking periods"
    else:
        spans, what = calendar.cycles, "cycles of the rotation"
    if not spans:
        raise LedgerError(f"The calendar has no {what}. Add them, or change the service's frequency.")
    return spans


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

    The rule is about weeks: a month, a cycle of the rotation, a marking period or a year owes the whole whatever
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
    if line.frequency.unit is FrequencyUnit.DAY:
        return _owed_daily(line, span, in_session, whole)
    by_week = line.frequency.unit is FrequencyUnit.WEEK
    if by_week and rules.short_week is ShortWeek.AS_SCHEDULED:
        owed = min(scheduled, whole)
    else:
        owed = _share(whole, len(weekdays), served)
    sentence = f"{span.name}: {text} is {whole} minutes; {len(in_session)} of {len(weekdays)} days in session"
    sentence += f", district rule “{SHORT_WEEK_WORDS[rules.short_week]}”" if by_week else ""
    return owed, f"{sentence}{_force_words(len(served), len(counting))}: {owed} minutes owed."


def _owed_daily(line: LedgerLine, span: Span, in_session: Sequence[date], each: int) -> tuple[int, str]:
    """Each day in session on which the line is in force owes its minutes: no day without school, none less."""
    served = sum(line.first <= day <= line.last for day in in_session)
    sentence = f"{span.name}: {write_frequency(line.frequency)} is {each} minutes on each day in session"
    words = f"{sentence}; {len(in_session)} days in session{_force_words(served, len(in_session))}"
    return each * served, f"{words}: {each * served} minutes owed."


def _force_words(served: int, counting: int) -> str:
    """Said where the line isn't in force on all the days that count."""
    return f"; the service is in force on {served} of {counting} of them" if served < counting else ""

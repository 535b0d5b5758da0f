"""Days on which a teacher will be absent, as far as that is known ahead."""

import datetime as dt
from collections import defaultdict

from accounts.models import Person
from schedule.calendar.models import BusyTime, ContractDay
from schedule.calendar.selectors.covers import covers_between
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.planning.rules import Span, contract_span
from schedule.weeks.selectors.leaving import days_after_leaving

ONE_DAY = dt.timedelta(days=1)


def days_away(teacher: Person, first: dt.date, last: dt.date) -> frozenset[dt.date]:
    """Days between two dates on which the teacher has no minute of the contract day free, or works no more.

    The own calendars say the former. Days that a substitute covers aren't among them. Six queries at most.
    """
    contract = {row.weekday: contract_span(row) for row in ContractDay.objects.filter(teacher=teacher)}
    busy: dict[dt.date, list[Span]] = defaultdict(list)
    rows = BusyTime.objects.filter(calendar__teacher=teacher, date__range=(first, last)).order_by("date", "start")
    for date, start, end in rows.values_list("date", "start", "end"):
        busy[date].append((minutes_of(start), minutes_of(end)))
    full = {date for date, spans in busy.items() if _fill(spans, contract.get(date.weekday()))}
    if full:
        covers = covers_between([teacher.pk], first, last)
        full = {date for date in full if not covers.whole_day(date)}
    days = (first + n * ONE_DAY for n in range((last - first).days + 1))
    return frozenset(full) | days_after_leaving(teacher, days)


def _fill(spans: list[Span], contract: Span | None) -> bool:
    """Whether times, in order of their start, leave nothing of a contract day."""
    if contract is None:
        return False
    free_from, end = contract
    for start, until in spans:
        if start > free_from:
            return False
        free_from = max(free_from, until)
    return free_from >= end

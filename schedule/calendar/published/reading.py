"""Closed and shortened days out of the calendar file that a school website publishes, for a preview.

Timed events become local dates of the district's zone. Nothing is decided here: the preview names what was
recognized, by which words, what was not, and what could not be read. Nothing here reads a clock or a database.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import icalendar

from accounts.dates import span_words
from schedule.calendar.calendars import LONGEST_RANGE_DAYS, ONE_DAY
from schedule.calendar.published.asking import asked, with_ends_asked
from schedule.calendar.published.doubt import weigh
from schedule.calendar.published.labels import DayLabel, label_of
from schedule.calendar.published.occurrences import Occurrences, occurrences_between, title_of
from schedule.calendar.published.parsing import SchoolCalendarError
from schedule.calendar.published.words import CalendarFinding, TitleRule, recognize

_SCHOOL_DAY = dt.timedelta(hours=6)  # Common practice, no source.


@dataclass(frozen=True, slots=True)
class CalendarPreview:
    """What a calendar file says between two dates, in order of date.

    `found`: events that a word rule recognized. `unmatched`: the others. `problems`: a sentence for each event
    that could not be read or was left out, and for each kind of thing of the file that was. `is_cut`: the file
    breaks off, so that nothing may be concluded from what it doesn't say. `labels`: cycle days and A/B weeks that
    it names; they are no events.
    """

    found: tuple[CalendarFinding, ...]
    unmatched: tuple[CalendarFinding, ...]
    problems: tuple[str, ...]
    is_cut: bool = False
    labels: tuple[DayLabel, ...] = ()


@dataclass(frozen=True, slots=True)
class _Span:
    """One occurrence of an event: local dates, both included. `is_brief`: it is over within hours."""

    first: dt.date
    last: dt.date
    title: str
    is_brief: bool = False


def read_school_calendar(
    content: bytes,
    *,
    zone: ZoneInfo,
    first: dt.date,
    last: dt.date,
    rules: Sequence[TitleRule],
    own: str = "",
    places: Sequence[str] = (),
) -> CalendarPreview:
    """Read an iCalendar file for the dates first to last, both included.

    Times with a zone or in UTC are carried to `zone`; times without one are taken as local. Rules are tried
    in their order; `own` and `places` are names of the school whose calendar it is, if it is one's, and of others.
    Raises SchoolCalendarError for a file that is too large, no iCalendar, with too many occurrences, or
    with nothing in the range.
    """
    if not 0 <= (last - first).days <= LONGEST_RANGE_DAYS:
        raise SchoolCalendarError(
            f"{span_words(first, last)} isn't a range of three years or less. Correct the dates."
        )
    read = occurrences_between(content, first=first, last=last)
    problems = _problems(read)
    spans = sorted(
        set(_clip((_span(event, zone) for event in read.events), first, last)),
        key=lambda span: (span.first, span.last, span.title),
    )
    if not spans:
        detail = f" The first problem in it: {problems[0]}" if problems else ""
        raise SchoolCalendarError(
            f"None of the {read.event_count} events of this calendar file falls in {span_words(first, last)}. "
            f"Export the calendar of the right school year, or change the dates.{detail}"
        )
    found: list[CalendarFinding] = []
    rest: list[_Span] = []
    for span in spans:
        findings = _findings(span, rules, own, places)
        found.extend(findings)
        rest.extend([] if findings else [span])
    labels, unmatched = _without_rule(rest)
    return CalendarPreview(tuple(with_ends_asked(found)), unmatched, problems, read.is_cut, labels)


def _findings(
    span: _Span, rules: Sequence[TitleRule], own: str, places: Sequence[str]
) -> Sequence[CalendarFinding]:
    """What the rules say of an event, and else what is to be asked of it."""
    known = recognize(span.first, span.last, span.title, rules)
    weighed = [weigh(one, rules, own=own, places=places, is_brief=span.is_brief) for one in known]
    return weighed or asked(span.first, span.last, span.title)


def _without_rule(spans: Iterable[_Span]) -> tuple[tuple[DayLabel, ...], tuple[CalendarFinding, ...]]:
    """Those that are labels of their days, and the others."""
    labels: list[DayLabel] = []
    unmatched: list[CalendarFinding] = []
    for span in spans:
        label = label_of(span.title)
        if label:
            labels.append(DayLabel(span.first, span.last, label))
        else:
            unmatched.append(CalendarFinding(span.first, span.last, span.title))
    return tuple(labels), tuple(unmatched)


def _problems(read: Occurrences) -> tuple[str, ...]:
    """What was left out: events by title, then the rest of the file."""
    return (*(f'Event "{remark.title}" {remark.said}' for remark in read.remarks), *read.notes)


def _clip(spans: Iterable[_Span], first: dt.date, last: dt.date) -> Iterator[_Span]:
    """The parts that lie between first and last."""
    for span in spans:
        if span.first <= last and span.last >= first:
            yield replace(span, first=max(span.first, first), last=min(span.last, last))


def _span(event: icalendar.Event, zone: ZoneInfo) -> _Span:
    """Local dates of an event; an end at midnight belongs to the day before (RFC 5545 section 3.6.1)."""
    start, end = event.start, event.end
    first = _local_date(start, zone)
    last = _local_date(end, zone)
    if last > first and _is_midnight(end, zone):
        last -= ONE_DAY
    is_brief = isinstance(start, dt.datetime) and end - start < _SCHOOL_DAY
    return _Span(first, last, title_of(event), is_brief)


def _local(moment: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    """A time in the district's zone; one without a zone is local already."""
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment.astimezone(zone)


def _local_date(moment: dt.date, zone: ZoneInfo) -> dt.date:
    """The local date of a date or of a time."""
    return _local(moment, zone).date() if isinstance(moment, dt.datetime) else moment


def _is_midnight(moment: dt.date, zone: ZoneInfo) -> bool:
    """Whether it is the very beginning of its local date."""
    return not isinstance(moment, dt.datetime) or _local(moment, zone).time() == dt.time()

"""What a published calendar may mean by words that no rule of the district has, and breaks without an end.

Neither is saved by itself: a person is asked once, and the answer is kept among the district's words. Common
practice, no source. Pure.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from schedule.calendar.published.doubt import holiday_phrases, left_of, words_of
from schedule.calendar.published.words import CalendarFinding, FindingKind, TitleRule, plain_words, recognize

SOME_ARE_OPEN = "some schools are open on that day"
NOT_IN_TABLE = "your table of words doesn't have these"
WHEN_DOES_IT_END = "the calendar has it on one day only, without its end"
# So many days at most between two days of one break that a calendar lists one by one: a weekend.
_ONE_BY_ONE = dt.timedelta(days=3)
_BREAKS = frozenset({"break", "recess", "vacation"})
_SEASONS = frozenset(
    {
        "winter", "midwinter", "spring", "summer", "fall", "autumn", "christmas", "holiday", "thanksgiving",
        "february", "april",
    }
)  # fmt: skip
_ABBREVIATED = {("mlk",), ("mlk", "day"), ("mlk", "jr", "day"), ("martin", "luther", "king", "day")}
_ASKED = tuple(
    TitleRule(words, kind)
    for kind, listed in (
        (
            FindingKind.NO_STUDENTS,
            (
                "non student day", "non student", "nonstudent day", "student free day", "non attendance day",
                "non attendance", "no student attendance", "students do not attend", "students off",
            ),
        ),
        (FindingKind.CLOSED, ("offices closed", "all schools closed")),
        (
            FindingKind.LAST_DAY,
            (
                "last day staff students", "last day students staff", "last day for staff and students",
                "last day for students and staff", "last day of school for students", "last day students",
                "students last day",
            ),
        ),
        (
            FindingKind.FIRST_DAY,
            (
                "first day staff students", "first day students staff", "first day for staff and students",
                "first day for students and staff", "first day students", "students first day",
            ),
        ),
    )
    for words in listed
)  # fmt: skip


def asked(first: dt.date, last: dt.date, title: str) -> tuple[CalendarFinding, ...]:
    """What is asked of an event that no rule of the district recognizes; ends of the year are looked at anyway."""
    found = recognize(first, last, title, _ASKED)
    if found:
        return tuple(replace(one, doubt=NOT_IN_TABLE) for one in found)
    words = words_of(title)
    phrases = holiday_phrases() | _ABBREVIATED
    if left_of(words, phrases) or not left_of(words, ()):
        return ()
    return (CalendarFinding(first, last, title, FindingKind.CLOSED, " ".join(words), SOME_ARE_OPEN),)


def with_ends_asked(findings: Iterable[CalendarFinding]) -> Iterator[CalendarFinding]:
    """The findings; the end is asked of those that name a break and last one day, with no other of it near."""
    findings = tuple(findings)
    days: dict[str, list[dt.date]] = defaultdict(list)
    for finding in findings:
        days[plain_words(finding.title)].append(finding.first)
    for finding in findings:
        lone = _is_a_lone_day(finding, days[plain_words(finding.title)])
        yield replace(finding, doubt=finding.doubt or WHEN_DOES_IT_END, asks_end=True) if lone else finding


def _is_a_lone_day(finding: CalendarFinding, days: Iterable[dt.date]) -> bool:
    if finding.kind is not FindingKind.CLOSED or finding.first != finding.last:
        return False
    words = set(words_of(finding.title))
    near = [day for day in days if day != finding.first and abs(day - finding.first) <= _ONE_BY_ONE]
    return bool(words & _BREAKS and words & _SEASONS) and not near

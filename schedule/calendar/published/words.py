"""Words of published school calendars and what they say about a day; and public holidays by state.

The table is a start that the user edits: rules are tried in order and the first that matches wins.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import holidays


class HolidayError(ValueError):
    """Holidays that are not known; the message says for where, and which places are known."""


class FindingKind(StrEnum):
    """What an event of a calendar says: the kinds of a calendar entry, and the ends of the school year."""

    CLOSED = "closed"
    NO_STUDENTS = "no_students"
    EARLY_DISMISSAL = "early_dismissal"
    DELAYED_OPENING = "delayed_opening"
    FIRST_DAY = "first_day"
    LAST_DAY = "last_day"


ENDS_OF_YEAR = (FindingKind.FIRST_DAY, FindingKind.LAST_DAY)


@dataclass(frozen=True, slots=True)
class TitleRule:
    """Words that a title must contain, as whole words, whatever their capitals, punctuation or plural s.

    `kind` None: such an event leaves the day as it is ("holiday concert").
    """

    words: str
    kind: FindingKind | None


@dataclass(frozen=True, slots=True)
class CalendarFinding:
    """An event on local dates, both included, and what a rule made of it.

    `matched` holds the words that decided; empty when none did. `kind` None with words: an ordinary day. `doubt`
    says why the words may mean something else (schedule.calendar.published.doubt); empty if nothing speaks against
    them. `asks_end`: it begins a break whose last day isn't said.
    """

    first: date
    last: date
    title: str
    kind: FindingKind | None = None
    matched: str = ""
    doubt: str = ""
    asks_end: bool = False


def _rules(kind: FindingKind | None, *words: str) -> tuple[TitleRule, ...]:
    """One rule for each of the words."""
    return tuple(TitleRule(each, kind) for each in words)


# Common practice, no source. The order decides: "Professional day - no school" is a day for staff, and
# "Early dismissal, winter break begins" is still a school day.
DEFAULT_WORD_RULES: tuple[TitleRule, ...] = (
    *_rules(None, "holiday concert", "holiday party", "holiday show", "holiday fair", "school board meeting"),
    *_rules(FindingKind.FIRST_DAY, "first day of school", "first day for students", "first student day"),
    *_rules(FindingKind.FIRST_DAY, "first day of classes", "school begins", "classes begin"),
    *_rules(FindingKind.LAST_DAY, "last day of school", "last day for students", "last student day"),
    *_rules(FindingKind.LAST_DAY, "last day of classes", "school year ends", "last day staff students"),
    *_rules(FindingKind.EARLY_DISMISSAL, "early dismissal", "early release", "half day", "noon dismissal"),
    *_rules(FindingKind.EARLY_DISMISSAL, "minimum day", "abbreviated day", "early closing", "one session day"),
    *_rules(FindingKind.DELAYED_OPENING, "delayed opening", "delayed start", "late start", "late opening"),
    *_rules(FindingKind.DELAYED_OPENING, "1 hour delay", "2 hour delay", "two hour delay", "90 minute delay"),
    *_rules(FindingKind.NO_STUDENTS, "no students", "no school for students", "student holiday", "staff only"),
    *_rules(FindingKind.NO_STUDENTS, "non student day"),
    *_rules(FindingKind.NO_STUDENTS, "professional day", "professional development", "professional learning"),
    *_rules(FindingKind.NO_STUDENTS, "in service", "inservice", "teacher work day", "teacher workday"),
    *_rules(FindingKind.NO_STUDENTS, "staff development", "superintendent's conference day"),
    *_rules(FindingKind.CLOSED, "no school", "no classes", "school closed", "schools closed", "district closed"),
    *_rules(FindingKind.CLOSED, "holiday", "break", "recess", "vacation", "snow day"),
    *_rules(FindingKind.CLOSED, "labor day", "thanksgiving", "christmas", "new year's day", "memorial day"),
    *_rules(FindingKind.CLOSED, "martin luther king", "presidents' day", "juneteenth"),
)


def plain_words(text: str) -> str:
    """Words in small letters with one space around each; apostrophes are dropped."""
    without_marks = re.sub("['\u2019]", "", text.casefold())
    return f" {' '.join(re.findall(r'[^\W_]+', without_marks))} "


def _matches(rule: TitleRule, plain_title: str) -> bool:
    """Whether the rule's words are in a title, with or without a plural s."""
    words = plain_words(rule.words).rstrip()
    return bool(words) and (f"{words} " in plain_title or f"{words}s " in plain_title)


def recognize(first: date, last: date, title: str, rules: Iterable[TitleRule]) -> tuple[CalendarFinding, ...]:
    """What the first matching rule says of an event, and the first for an end of the year: nothing to two.

    A rule that is the whole title comes before the others: it is the answer to a question about just this event.
    """
    plain_title = plain_words(title)
    matching = [rule for rule in rules if _matches(rule, plain_title)]
    matching.sort(key=lambda rule: plain_words(rule.words) != plain_title)
    ends = [rule for rule in matching if rule.kind in ENDS_OF_YEAR][:1]
    days = [rule for rule in matching if rule.kind not in ENDS_OF_YEAR][:1]
    return tuple(CalendarFinding(first, last, title, rule.kind, rule.words) for rule in ends + days)


def state_holidays(subdivision: str, years: Sequence[int], *, country: str = "US") -> tuple[CalendarFinding, ...]:
    """Public holidays of a state as closed days, in order of date.

    Whether a school closes on each of them is the district's own decision: they are findings for a preview.
    Raises HolidayError for a country, a state or a year that is not known.
    """
    country, subdivision = country.strip().upper(), subdivision.strip().upper()
    known = holidays.list_supported_countries()
    if country not in known:
        raise HolidayError(f'There are no holidays for the country "{country}". Use its two letters, such as US.')
    if subdivision and subdivision not in known[country]:
        raise HolidayError(
            f'"{subdivision}" is not a state of {country}. Use one of: {", ".join(sorted(known[country]))}.'
        )
    if not all(1990 <= year <= 2100 for year in years):
        raise HolidayError("Holidays are known for the years 1990 to 2100.")
    found = holidays.country_holidays(country, subdiv=subdivision or None, years=years, expand=False)
    words = f"public holiday in {subdivision or country}"
    return tuple(CalendarFinding(day, day, name, FindingKind.CLOSED, words) for day, name in sorted(found.items()))

"""The words of frequencies, and the parts that they make, in the order of the text."""

import re
from dataclasses import dataclass, replace
from functools import cache

from lark import Lark, Token, Transformer, v_args

from caseload.plans.frequency.cleaning import NUMBER_PATTERN, number_of
from caseload.plans.frequency.terms import FrequencyError, FrequencyUnit

_GRAMMAR = rf"""
start: (filler* _part)+ filler*
_part: count | days | length | count_and_length | per | adverb | weeks_on | each | into | count_and_unit

count: number _X | number TIMES | number SESSIONS | ONCE
days: number DAYS
length: number _MINUTES | hours | _X (number _MINUTES | hours)
hours: (number | DECIMAL) _HOURS [number _MINUTES]
count_and_length: number _X number                -> bare
                | number _X length                -> count_first
                | number number _MINUTES (TIMES | SESSIONS) -> count_first_of_minutes
                | length _X number                -> length_first
count_and_unit: number _X unit
per: (_PER | _EVERY) unit | total
   | _EVERY _OTHER WEEK                           -> other_week
   | (_PER | _EVERY) number WEEK                  -> some_weeks
unit: WEEK | DAY | MONTH | MARKING_PERIOD | QUARTER | TRIMESTER | SEMESTER | YEAR | CYCLE | CYCLE_DAYS
total: _TOTAL
adverb: DAILY | WEEKLY | MONTHLY | QUARTERLY | YEARLY
weeks_on: WEEKS_ON
each: EACH
into: _INTO number (TIMES | SESSIONS | DAYS)
number: NUMBER
filler: COMMA | BIND

WEEKS_ON.3: /{NUMBER_PATTERN}\s+(?:out\s+)?of\s+(?:every\s+)?{NUMBER_PATTERN}\s+weeks\b/
CYCLE_DAYS.3: /{NUMBER_PATTERN}[- ]?days?[- ]cycle\b/
DECIMAL.2: /\d*\.\d+/
NUMBER: /{NUMBER_PATTERN}/
ONCE: /once\b|twice\b|thrice\b/
TIMES: /times?\b/
SESSIONS: /sessions?\b/
DAYS: /(?:school\s+)?days?\b/
_X: /x|\u00d7|\*/
_MINUTES: /-?\s*min(?:ute)?s?\b\.?/
_HOURS: /-?\s*(?:hours?|hrs?|h)\b\.?/
EACH.3: /(?:per|\/|an?|each|every)\s*(?:session|visit|meeting|lesson)\b|each(?=\s*(?:$|,|;|\/|per\b))/
_PER: /\/|per\b|an?\b|each\b/
_EVERY: /every\b/
_OTHER: /other\b|second\b/
_TOTAL.2: /(?:in\s+)?total\b|in\s+all\b|altogether\b/
_INTO: /(?:(?:divided|split)\s+)?(?:into|in|over|across)\b/
WEEK: /(?:(?:school|calendar)\s+)?(?:weeks?|wks?)\b\.?/
DAY: /(?:school\s+)?day\b/
MONTH: /months?\b|mo\b\.?/
MARKING_PERIOD: /(?:marking|grading|reporting)\s+period\b/
QUARTER: /quarter\b/
TRIMESTER: /trimester\b/
SEMESTER: /semester\b/
YEAR: /(?:school\s+)?(?:years?|yr)\b\.?/
CYCLE: /cycle\b/
DAILY: /daily\b/
WEEKLY: /weekly\b/
MONTHLY: /monthly\b/
QUARTERLY: /quarterly\b/
YEARLY: /yearly\b|annually\b/
COMMA: /,|;|:|and\b|\.(?=\s|$)/
BIND: /for\b|of\b|on\b/
%ignore /\s+/
"""

_UNITS = {
    "DAY": FrequencyUnit.DAY,
    "DAILY": FrequencyUnit.DAY,
    "WEEK": FrequencyUnit.WEEK,
    "WEEKLY": FrequencyUnit.WEEK,
    "MONTH": FrequencyUnit.MONTH,
    "MONTHLY": FrequencyUnit.MONTH,
    "MARKING_PERIOD": FrequencyUnit.MARKING_PERIOD,
    "QUARTER": FrequencyUnit.QUARTER,
    "QUARTERLY": FrequencyUnit.QUARTER,
    "TRIMESTER": FrequencyUnit.TRIMESTER,
    "SEMESTER": FrequencyUnit.SEMESTER,
    "YEAR": FrequencyUnit.YEAR,
    "YEARLY": FrequencyUnit.YEAR,
    "CYCLE": FrequencyUnit.CYCLE,
}


@dataclass(frozen=True, slots=True)
class Saying:
    """One thing a text says; a text may say each thing once. `mark` is a comma, or "of" and "for" that bind."""

    times: int | None = None
    minutes: int | None = None
    days: int | None = None
    unit: FrequencyUnit | None = None
    cycle_days: int | None = None
    weeks_on: int | None = None
    weeks_of: int | None = None
    # "per 9 weeks", not "per 9 calendar weeks": where a marking period has nine, it may be meant.
    bare_weeks: bool = False
    # "every other week": the sessions are all in one of two, or spread over both.
    every_other: bool = False
    # Two numbers with a cross between them and no word which of them are minutes.
    bare: tuple[int, int] | None = None
    # "4 times 30 minutes" multiplies, "4 sessions, 30 minutes a week" doesn't say.
    multiplies: bool = False
    each: bool = False
    into: bool = False
    mark: str = ""


@v_args(inline=True)
class _Reader(Transformer[Token, list[Saying]]):
    """Turns the parse tree into parts."""

    def start(self, *parts: Saying) -> list[Saying]:
        return list(parts)

    def number(self, token: Token) -> int:
        return number_of(token)

    def count(self, value: int | Token, word: Token | None = None) -> Saying:
        if isinstance(value, Token):
            return Saying(times={"once": 1, "twice": 2, "thrice": 3}[value])
        return Saying(times=value, multiplies=word is None or word.type == "TIMES")

    def days(self, value: int, _word: Token) -> Saying:
        return Saying(days=value)

    def length(self, minutes: int) -> Saying:
        return Saying(minutes=minutes)

    def hours(self, hours: int | Token, minutes: int | None) -> int:
        exact = float(hours) * 60
        if exact != int(exact):
            raise FrequencyError(f'"{hours} hours" is not a whole number of minutes. Write the minutes.')
        return int(exact) + (minutes or 0)

    def bare(self, one: int, other: int) -> Saying:
        return Saying(bare=(one, other))

    def count_first(self, times: int, length: Saying) -> Saying:
        return Saying(times=times, minutes=length.minutes)

    def count_first_of_minutes(self, times: int, minutes: int, _word: Token) -> Saying:
        return Saying(times=times, minutes=minutes)

    def length_first(self, length: Saying, times: int) -> Saying:
        return Saying(times=times, minutes=length.minutes)

    def count_and_unit(self, times: int, unit: Saying) -> Saying:
        return replace(unit, times=times)

    def unit(self, token: Token) -> Saying:
        if token.type == "CYCLE_DAYS":
            digits = re.match(NUMBER_PATTERN, token)
            return Saying(unit=FrequencyUnit.CYCLE, cycle_days=number_of(digits[0]) if digits else None)
        return Saying(unit=_UNITS[token.type])

    def adverb(self, token: Token) -> Saying:
        return Saying(unit=_UNITS[token.type])

    def total(self) -> Saying:
        return Saying(unit=FrequencyUnit.TOTAL)

    def per(self, part: Saying) -> Saying:
        return part

    def other_week(self, _week: Token) -> Saying:
        return Saying(unit=FrequencyUnit.WEEK, weeks_on=1, weeks_of=2, every_other=True)

    def some_weeks(self, weeks: int, word: Token) -> Saying:
        if weeks == 1:
            return Saying(unit=FrequencyUnit.WEEK)
        return Saying(unit=FrequencyUnit.WEEK, weeks_of=weeks, bare_weeks="calendar" not in word)

    def weeks_on(self, token: Token) -> Saying:
        found = re.findall(rf"\b{NUMBER_PATTERN}\b", token)
        return Saying(weeks_on=number_of(found[0]), weeks_of=number_of(found[1]))

    def each(self, _token: Token) -> Saying:
        return Saying(each=True)

    def into(self, times: int, _word: Token) -> Saying:
        return Saying(times=times, into=True)

    def filler(self, token: Token) -> Saying:
        return Saying(mark="bind" if token.type == "BIND" else "comma")


@cache
def _parser() -> Lark:
    """The grammar made ready, once."""
    return Lark(_GRAMMAR, parser="lalr")


def parts_of(line: str) -> list[Saying]:
    """The parts of a cleaned text, in its order. Raises what Lark raises, and `FrequencyError` inside that."""
    return list(_Reader().transform(_parser().parse(line)))

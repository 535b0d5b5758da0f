"""How often and how long a service is owed: read from plain text as plans write it, and written back.

Integer minutes throughout. The grammar is small on purpose: text that can be understood in two ways is
refused with examples, never guessed.
"""

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from lark import Lark, Token, Transformer, UnexpectedInput, UnexpectedToken, v_args
from lark.exceptions import VisitError

EXAMPLES = ("2 x 30 min/week", "90 min/month", "1 x 45 min/6-day cycle", "3 of 4 weeks, 30 min")
LONGEST_TEXT = 200
LONGEST_SESSION = 480  # minutes: no school day is longer
SCHOOL_DAYS_A_WEEK = 5


class FrequencyError(ValueError):
    """A frequency that cannot be read or cannot be; the message says what and shows how to write it."""


class FrequencyUnit(StrEnum):
    """The period that a frequency counts in. `day`: each day in session; `total`: the line's whole time."""

    DAY = "day"
    WEEK = "week"
    CYCLE = "cycle"
    MONTH = "month"
    MARKING_PERIOD = "marking_period"
    YEAR = "year"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class Frequency:
    """Sessions owed in each period (`times` of `minutes` each), or minutes owed without a count.

    Exactly one of `times` and `minutes_total` is set; `minutes` may be unknown (None) where a plan states only
    how often. `cycle_days` is the length of a cycle, None for the building's own. `weeks_on` of each
    `weeks_of` weeks narrows a weekly frequency ("3 out of 4 weeks"). Raises FrequencyError.
    """

    times: int | None = None
    minutes: int | None = None
    minutes_total: int | None = None
    unit: FrequencyUnit = FrequencyUnit.WEEK
    cycle_days: int | None = None
    weeks_on: int | None = None
    weeks_of: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no plan can mean."""
        if (self.times is None) == (self.minutes_total is None):
            raise FrequencyError("A frequency gives either a number of sessions or total minutes.")
        if self.minutes is not None and self.times is None:
            raise FrequencyError("Minutes of each session need a number of sessions.")
        _within("The number of sessions", self.times, 1, 999)
        _within("The minutes of a session", self.minutes, 1, LONGEST_SESSION)
        _within("The total minutes", self.minutes_total, 1, 99_999)
        _within("The days of a cycle", self.cycle_days, 2, 10)
        if self.cycle_days is not None and self.unit is not FrequencyUnit.CYCLE:
            raise FrequencyError("Only a frequency per cycle has a number of cycle days.")
        if self.unit is FrequencyUnit.DAY and self.times is None:
            raise FrequencyError("A frequency per day says how many times a day.")
        self._check_weeks()

    def _check_weeks(self) -> None:
        """Hold "3 of 4 weeks" against itself."""
        if self.weeks_on is None and self.weeks_of is None:
            return
        if self.weeks_on is None or self.weeks_of is None or self.unit is not FrequencyUnit.WEEK:
            raise FrequencyError('Weeks on and off are two numbers in a weekly frequency, such as "3 of 4 weeks".')
        _within("The number of weeks it counts out of", self.weeks_of, 2, 52)
        if not 1 <= self.weeks_on < self.weeks_of:
            raise FrequencyError(
                f'"{self.weeks_on} of {self.weeks_of} weeks" must name at least one week and '
                "leave at least one out."
            )

    @property
    def minutes_in_period(self) -> int | None:
        """Minutes owed in one period, None where the length of a session is not known.

        A day's frequency has each day in session for its period: a week owes it as often as it has such days.
        """
        a_week = self.minutes_total
        if self.times is not None:
            a_week = None if self.minutes is None else self.times * self.minutes
        return None if a_week is None else a_week * (self.weeks_on or 1)


def _within(what: str, value: int | None, least: int, most: int) -> None:
    """Refuse a number outside its bounds; None passes."""
    if value is not None and not least <= value <= most:
        raise FrequencyError(f"{what} must be {least} to {most}, not {value}.")


_UNIT_WORDS = {
    FrequencyUnit.DAY: "day",
    FrequencyUnit.CYCLE: "cycle",
    FrequencyUnit.MONTH: "month",
    FrequencyUnit.MARKING_PERIOD: "marking period",
    FrequencyUnit.YEAR: "year",
    FrequencyUnit.WEEK: "week",
}


def write_frequency(frequency: Frequency) -> str:
    """The one canonical text of a frequency; read_frequency reads it back to an equal value."""
    weeks = f"{frequency.weeks_on} of {frequency.weeks_of} weeks" if frequency.weeks_of else ""
    each = f"{frequency.minutes} min" if frequency.minutes else ""
    if weeks and frequency.times == 1:
        return ", ".join(part for part in (weeks, each) if part)
    head = f"{frequency.minutes_total} min" if frequency.times is None else f"{frequency.times} x {each}".rstrip()
    text = head + _write_period(frequency)
    return f"{text}, {weeks}" if weeks else text


def _write_period(frequency: Frequency) -> str:
    """`/week`, `/6-day cycle` or ` in total`."""
    if frequency.unit is FrequencyUnit.TOTAL:
        return " in total"
    days = f"{frequency.cycle_days}-day " if frequency.cycle_days else ""
    return f"/{days}{_UNIT_WORDS[frequency.unit]}"


_ONES = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
_TEENS = [
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_NUMBER_WORDS = {word: value for value, word in enumerate(_ONES + _TEENS, start=1)}
_NUMBER_WORDS |= {word: value * 10 for value, word in enumerate(_TENS, start=2)}
_NUMBER_WORDS |= {f"{ten}-{one}": _NUMBER_WORDS[ten] + _NUMBER_WORDS[one] for ten in _TENS for one in _ONES}
# Longest first: "sixteen" must not be read as "six".
_WORDS_PATTERN = "|".join(sorted(_NUMBER_WORDS, key=len, reverse=True)).replace("-", "[- ]")
_NUMBER_PATTERN = rf"(?:\d+|{_WORDS_PATTERN})"

_GRAMMAR = rf"""
start: (_FILLER* _part)+ _FILLER*
_part: count | length | count_and_length | per | adverb | weeks_on

count: number (_TIMES | _X) | ONCE
length: number _MINUTES | hours
hours: (number | DECIMAL) _HOURS [number _MINUTES]
count_and_length: number _X (number | length)     -> count_first
                | number number _MINUTES _TIMES   -> count_first
                | length _X number                -> length_first
per: (_PER | _EVERY) unit | total
   | _EVERY _OTHER WEEK                           -> other_week
   | (_PER | _EVERY) number WEEK                  -> some_weeks
unit: WEEK | DAY | MONTH | MARKING_PERIOD | YEAR | CYCLE | CYCLE_DAYS
total: _TOTAL
adverb: DAILY | WEEKLY | MONTHLY | QUARTERLY | YEARLY
weeks_on: WEEKS_ON
number: NUMBER

WEEKS_ON.3: /{_NUMBER_PATTERN}\s+(?:out\s+)?of\s+(?:every\s+)?{_NUMBER_PATTERN}\s+weeks\b/
CYCLE_DAYS.3: /{_NUMBER_PATTERN}[- ]?days?[- ]cycle\b/
DECIMAL.2: /\d+\.\d+/
NUMBER: /{_NUMBER_PATTERN}/
ONCE: /once\b|twice\b|thrice\b/
_TIMES: /times?\b|sessions?\b/
_X: /x|\u00d7|\*/
_MINUTES: /-?\s*min(?:ute)?s?\b\.?(?:\s+each(?=\s*(?:$|,|;|\/|per\b)))?/
_HOURS: /-?\s*(?:hours?|hrs?)\b\.?/
_PER: /\/|per\b|an?\b|each\b/
_EVERY: /every\b/
_OTHER: /other\b|second\b/
_TOTAL: /(?:in\s+)?total\b|in\s+all\b|altogether\b/
WEEK: /(?:school\s+)?(?:weeks?|wks?)\b\.?/
DAY: /(?:school\s+)?day\b/
MONTH: /months?\b|mo\b\.?/
MARKING_PERIOD: /(?:marking|grading|reporting)\s+period\b|quarter\b/
YEAR: /(?:school\s+)?(?:years?|yr)\b\.?/
CYCLE: /cycle\b/
DAILY: /daily\b/
WEEKLY: /weekly\b/
MONTHLY: /monthly\b/
QUARTERLY: /quarterly\b/
YEARLY: /yearly\b|annually\b/
_FILLER: /,|;|for\b|of\b|\.(?=\s|$)/
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
    "QUARTERLY": FrequencyUnit.MARKING_PERIOD,
    "YEAR": FrequencyUnit.YEAR,
    "YEARLY": FrequencyUnit.YEAR,
    "CYCLE": FrequencyUnit.CYCLE,
}
# Words that people understand in two ways; each is refused with the two things it could mean.
_AMBIGUOUS = {
    "biweekly": '"2 x 30 min/week" or "1 of 2 weeks, 30 min"',
    "bi-weekly": '"2 x 30 min/week" or "1 of 2 weeks, 30 min"',
    "bimonthly": '"2 x 30 min/month" or the number of times a year',
    "bi-monthly": '"2 x 30 min/month" or the number of times a year',
}


@dataclass(frozen=True, slots=True)
class _Part:
    """One thing a text says; a text may say each thing once."""

    times: int | None = None
    minutes: int | None = None
    unit: FrequencyUnit | None = None
    cycle_days: int | None = None
    weeks_on: int | None = None
    weeks_of: int | None = None
    # "every 3 weeks": weeks_on is 1, and no other count of weeks may be meant.
    every_weeks: bool = False


# What a text means that doesn't say in what period, or in which weeks.
_A_WEEK = _Part(unit=FrequencyUnit.WEEK)
_EVERY_WEEK = _Part()


def _number(text: str) -> int:
    """Value of digits or of a number word."""
    return int(text) if text.isdigit() else _NUMBER_WORDS[text.replace(" ", "-")]


@v_args(inline=True)
class _Reader(Transformer[Token, list[_Part]]):
    """Turns the parse tree into parts."""

    def start(self, *parts: _Part) -> list[_Part]:
        return list(parts)

    def number(self, token: Token) -> int:
        return _number(token)

    def count(self, value: int | Token) -> _Part:
        if isinstance(value, Token):
            return _Part(times={"once": 1, "twice": 2, "thrice": 3}[value])
        return _Part(times=value)

    def length(self, minutes: int) -> _Part:
        return _Part(minutes=minutes)

    def hours(self, hours: int | Token, minutes: int | None) -> int:
        exact = float(hours) * 60
        if exact != int(exact):
            raise FrequencyError(f'"{hours} hours" is not a whole number of minutes. Write the minutes.')
        return int(exact) + (minutes or 0)

    def count_first(self, times: int, length: int | _Part, minutes: int | None = None) -> _Part:
        del minutes
        return _Part(times=times, minutes=length.minutes if isinstance(length, _Part) else length)

    def length_first(self, length: _Part, times: int) -> _Part:
        return _Part(times=times, minutes=length.minutes)

    def unit(self, token: Token) -> _Part:
        if token.type == "CYCLE_DAYS":
            digits = re.match(_NUMBER_PATTERN, token)
            return _Part(unit=FrequencyUnit.CYCLE, cycle_days=_number(digits[0]) if digits else None)
        return _Part(unit=_UNITS[token.type])

    def adverb(self, token: Token) -> _Part:
        return _Part(unit=_UNITS[token.type])

    def total(self) -> _Part:
        return _Part(unit=FrequencyUnit.TOTAL)

    def per(self, part: _Part) -> _Part:
        return part

    def other_week(self, _week: Token) -> _Part:
        return _Part(unit=FrequencyUnit.WEEK, weeks_on=1, weeks_of=2, every_weeks=True)

    def some_weeks(self, weeks: int, _week: Token) -> _Part:
        return _Part(unit=FrequencyUnit.WEEK, weeks_on=1, weeks_of=weeks, every_weeks=True)

    def weeks_on(self, token: Token) -> _Part:
        found = re.findall(rf"\b{_NUMBER_PATTERN}\b", token)
        return _Part(weeks_on=_number(found[0]), weeks_of=_number(found[1]))


@cache
def _parser() -> Lark:
    """The grammar made ready, once."""
    return Lark(_GRAMMAR, parser="lalr")


def read_frequency(text: str) -> Frequency:
    """The frequency that a text states, whatever its order and capitals.

    "Daily" and "a day" mean each day in session. "Every 3 weeks" is recorded as 1 of 3 weeks. Raises
    FrequencyError.
    """
    cleaned = " ".join(unicodedata.normalize("NFKC", text).lower().split())
    if not cleaned:
        raise FrequencyError(_with_examples("There is no frequency."))
    if len(cleaned) > LONGEST_TEXT:
        raise FrequencyError(_with_examples(f"The frequency is longer than {LONGEST_TEXT} characters."))
    for word, meanings in _AMBIGUOUS.items():
        if re.search(rf"\b{word}\b", cleaned):
            raise FrequencyError(f'"{word}" in "{text}" can mean two things. Write {meanings}.')
    try:
        parts = _Reader().transform(_parser().parse(cleaned))
        return _join(parts)
    except UnexpectedInput as error:
        raise FrequencyError(_with_examples(_say_where(text, cleaned, error))) from error
    except VisitError as error:
        raise FrequencyError(_with_examples(f'"{text}": {error.orig_exc}')) from error
    except FrequencyError as error:
        raise FrequencyError(_with_examples(f'"{text}": {error}')) from error


def _say_where(text: str, cleaned: str, error: UnexpectedInput) -> str:
    """Which words could not be read."""
    if isinstance(error, UnexpectedToken) and error.token.type == "$END":
        return f'"{text}" stops before it says how often and how long.'
    return f'Could not read "{cleaned[error.pos_in_stream :]}" in "{text}".'


def _with_examples(message: str) -> str:
    """A message with the ways to write a frequency."""
    return f"{message} Write it like " + ", ".join(f'"{example}"' for example in EXAMPLES) + "."


def _only[T](values: list[T], what: str) -> T | None:
    """The one value that a text gives, or None; more than one is refused."""
    if len(values) > 1:
        raise FrequencyError(f"It says {what} more than once.")
    return values[0] if values else None


def _join(parts: list[_Part]) -> Frequency:
    """One frequency from the parts of a text."""
    told = _only([part.times for part in parts if part.times is not None], "how many times")
    minutes = _only([part.minutes for part in parts if part.minutes is not None], "how many minutes")
    period = _only([part for part in parts if part.unit is not None], "in what period")
    weeks = _only([part for part in parts if part.weeks_of is not None], "which weeks")
    return _frequency(_times(told, period, weeks), minutes, period, weeks)


def _times(told: int | None, period: _Part | None, weeks: _Part | None) -> int | None:
    """How many times in the period, or None where a text gives minutes alone."""
    if period is None and weeks is None:
        raise FrequencyError("It does not say in what period, such as a week or a month.")
    if weeks is not None and weeks.every_weeks and told not in (None, 1):
        raise FrequencyError("Say how many times in one week, and in which of the weeks: 2 x/week, 1 of 3 weeks.")
    if period is None:
        return 1 if told is None else told
    return 1 if told is None and period.unit is FrequencyUnit.DAY else told


def _frequency(times: int | None, minutes: int | None, period: _Part | None, weeks: _Part | None) -> Frequency:
    period, weeks = period or _A_WEEK, weeks or _EVERY_WEEK
    if times is None and minutes is None:
        raise FrequencyError("It says neither how many times nor how many minutes.")
    return Frequency(
        times=times,
        minutes=None if times is None else minutes,
        minutes_total=minutes if times is None else None,
        unit=period.unit or FrequencyUnit.WEEK,
        cycle_days=period.cycle_days,
        weeks_on=weeks.weeks_on,
        weeks_of=weeks.weeks_of,
    )


def session_lengths(total_minutes: int, longest: int) -> tuple[int, ...]:
    """Whole-minute sessions that add up to `total_minutes`, as few and as equal as `longest` allows.

    Longer ones first; no two differ by more than a minute. Raises FrequencyError below one minute.
    """
    if total_minutes < 0 or longest < 1:
        raise FrequencyError(f"Cannot divide {total_minutes} minutes into sessions of at most {longest} minutes.")
    count = -(-total_minutes // longest)
    if count == 0:
        return ()
    shorter, longer_ones = divmod(total_minutes, count)
    return (shorter + 1,) * longer_ones + (shorter,) * (count - longer_ones)

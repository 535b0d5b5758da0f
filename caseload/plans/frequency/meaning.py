"""What a text means, put together from its parts; a question where people understand it in two ways.

34 CFR 300.320(a)(7) asks a plan for the frequency, location and duration of services. A statement that gives a
total and a count doesn't say whether the total is of all sessions or of each: that is asked, never guessed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lark import UnexpectedInput, UnexpectedToken
from lark.exceptions import VisitError

from caseload.plans.frequency.alternatives import alternatives_in
from caseload.plans.frequency.cleaning import clean, range_in
from caseload.plans.frequency.grammar import Saying, parts_of
from caseload.plans.frequency.terms import (
    EXAMPLES,
    PARTS_OF_YEAR,
    Frequency,
    FrequencyError,
    FrequencyQuestionError,
    FrequencyUnit,
)
from caseload.plans.frequency.writing import GRADING_WEEKS, things_words, write_frequency

LONGEST_TEXT = 200
SHORTEST_SESSION = 5
MOST_SESSIONS = {FrequencyUnit.DAY: 6, FrequencyUnit.WEEK: 15, FrequencyUnit.CYCLE: 30, FrequencyUnit.MONTH: 60}
"""Sessions of one service beyond which "30 x 5 a week" can't be thirty: three a school day. Common practice."""


def read_frequency(text: str, marking_periods: int | None = None) -> Frequency:
    """The frequency that a text states, whatever its order and capitals.

    "Daily" and "a day" mean each day in session. `marking_periods` is how many the district's year has, None where
    that isn't known. Raises FrequencyError; `FrequencyQuestionError`, with the readings, where it has two meanings.
    """
    readings = _readings_of(text, marking_periods)
    if len(readings) > 1:
        words = " or ".join(f"“{write_frequency(one)}”" for one in readings)
        raise FrequencyQuestionError(
            f"“{_short(text)}” can mean {things_words(len(readings))}: {words}. Choose one, or write it so.",
            readings,
        )
    return readings[0]


def _short(text: str) -> str:
    return " ".join(text.split())


def _readings_of(text: str, marking_periods: int | None) -> list[Frequency]:
    """Everything a text can mean; at least one. Raises FrequencyError."""
    line = clean(text)
    if not line:
        raise FrequencyError(_with_examples("There is no frequency."))
    if len(line) > LONGEST_TEXT:
        raise FrequencyError(_with_examples(f"The frequency is longer than {LONGEST_TEXT} characters."))
    groups = alternatives_in(line)
    if not groups:
        return _of_line(text, line, marking_periods)
    return _of_alternatives(text, groups, enough=1 if range_in(line) else 2)


def _of_alternatives(text: str, groups: Sequence[Sequence[str]], *, enough: int) -> list[Frequency]:
    """What the text says with each word or number that may stand in the place of another.

    `enough` readings of a group are what it says: a word of two meanings that has one beside the others says a
    thing twice; a range may leave one number that is a session at all ("2-30 min sessions a week").
    """
    for lines in groups:
        found = dict.fromkeys(one for line in lines for one in _if_read(text, line) if _is_likely(one))
        if len(found) >= enough:
            return list(found)
    raise FrequencyError(
        _with_examples(
            f"“{_short(text)}” can mean several things, or says one of them twice. Write what is owed once."
        )
    )


def _if_read(text: str, line: str) -> list[Frequency]:
    try:
        return _of_line(text, line, None)
    except FrequencyError:
        return []  # this can't be meant beside the others of the text


def _is_likely(one: Frequency) -> bool:
    """Whether somebody may mean so few minutes and so many sessions."""
    fewest = min(
        (value for value in (one.minutes, one.minutes_total) if value is not None), default=SHORTEST_SESSION
    )
    return fewest >= SHORTEST_SESSION and (one.times or 1) <= MOST_SESSIONS.get(one.unit, one.times or 1)


def _of_line(text: str, line: str, marking_periods: int | None) -> list[Frequency]:
    try:
        told = _Told.of(parts_of(line))
        found = list(dict.fromkeys(_in_the_calendar(told, marking_periods)))
        if not found:
            raise FrequencyError("The minutes can't be shared out. Write the minutes of each session.")
        return found
    except UnexpectedInput as error:
        raise FrequencyError(_with_examples(_say_where(text, line, error))) from error
    except VisitError as error:
        raise FrequencyError(_with_examples(f'"{text}": {error.orig_exc}')) from error
    except FrequencyError as error:
        raise FrequencyError(_with_examples(f'"{text}": {error}')) from error


def _say_where(text: str, line: str, error: UnexpectedInput) -> str:
    """Which words could not be read."""
    if isinstance(error, UnexpectedToken) and error.token.type == "$END":
        return f'"{text}" stops before it says how often and how long.'
    return f'Could not read "{line[error.pos_in_stream :]}" in "{text}".'


def _with_examples(message: str) -> str:
    """A message with the ways to write a frequency."""
    return f"{message} Write it like " + ", ".join(f'"{example}"' for example in EXAMPLES) + "."


# ---- what the parts say together ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Told:
    """What a text tells, each thing once. `open_total`: its minutes may be of all sessions or of each."""

    times: int | None
    minutes: int | None
    days: int | None
    period: Saying | None
    weeks: Saying | None
    bare: tuple[int, int] | None
    daily: bool
    into: bool
    open_total: bool

    @classmethod
    def of(cls, parts: Sequence[Saying]) -> "_Told":
        """From the parts in their order; raises FrequencyError where a thing is told twice."""
        told = _only_times(parts)
        units = [part for part in parts if part.unit is not None]
        days = _only(_all_of(parts, "days"), "on how many days")
        daily = [part for part in units if part.unit is FrequencyUnit.DAY]
        if days is not None:
            # "30 min a day, 3 days a week": the day's part is one thing, the week another.
            units = [part for part in units if part not in daily]
            _only(daily, "in what period")
        return cls(
            times=told.times,
            minutes=_only(_all_of(parts, "minutes"), "how many minutes"),
            days=days,
            period=_only(units, "in what period"),
            weeks=_only([part for part in parts if part.weeks_of is not None], "which weeks"),
            bare=_only(_all_of(parts, "bare"), "how many times"),
            daily=bool(daily),
            into=told.into,
            open_total=_is_open(parts),
        )


def _all_of(parts: Sequence[Saying], name: str) -> list[Any]:
    """What the parts say of one thing."""
    return [getattr(part, name) for part in parts if getattr(part, name) is not None]


def _only_times(parts: Sequence[Saying]) -> Saying:
    return _only([part for part in parts if part.times is not None], "how many times") or Saying()


def _only[T](values: Sequence[T], what: str) -> T | None:
    """The one value that a text gives, or None; more than one is refused."""
    if len(values) > 1:
        raise FrequencyError(f"It says {what} more than once.")
    return values[0] if values else None


def _is_open(parts: Sequence[Saying]) -> bool:
    """Whether a length stands by its period, and the count apart from both: "60 minutes per week, 2 sessions".

    A count before the period, or bound by "of", "for" or "each", says what each session has.
    """
    daily = any(part.unit is FrequencyUnit.DAY for part in parts)
    kinds = [_kind(part, daily=daily) for part in parts]
    if "L" not in kinds or "C" not in kinds or any(part.each for part in parts):
        return False
    at = kinds.index("L")
    multiplied = parts[at - 1].multiplies
    return _order_is_open("".join(kinds[:at]), "".join(kinds[at + 1 :]), multiplied=multiplied)


def _order_is_open(before: str, after: str, *, multiplied: bool) -> bool:
    """The same, from what stands before the length and after it."""
    if after.lstrip(",").startswith("P"):
        # "2 sessions, 60 minutes per week": nothing binds the count to the length.
        return "C" in after or (before[-1] in "C," and not multiplied)
    return before.rstrip(",").endswith("P") and "C" in after


def _kind(part: Saying, *, daily: bool) -> str:
    """C count, L length, P period, "," comma, "~" a binding word; "" what tells nothing about order.

    "3 days a week" counts, unless the minutes are a day's.
    """
    if part.mark:
        return "," if part.mark == "comma" else "~"
    if part.unit is not None:
        return "P"
    if part.minutes is not None:
        return "L"
    if part.days is not None:
        return "" if daily else "C"
    return "C" if part.times is not None else ""


def _in_the_calendar(told: _Told, marking_periods: int | None) -> Iterator[Frequency]:
    """What a text tells, where its words for parts of the year are held against the district's."""
    for one in _frequencies(told):
        yield from _parts_of_year(one, marking_periods)
        if told.weeks is not None and told.weeks.bare_weeks:
            yield from _grading_weeks(one, marking_periods)


def _parts_of_year(frequency: Frequency, marking_periods: int | None) -> Iterator[Frequency]:
    """ "A quarter" where the district has trimesters: one marking period, or four times that in a year."""
    parts = PARTS_OF_YEAR.get(frequency.unit)
    if not parts or not marking_periods or marking_periods % parts == 0:
        yield frequency
        return
    yield replace(frequency, unit=FrequencyUnit.MARKING_PERIOD)
    yield replace(
        frequency,
        unit=FrequencyUnit.YEAR,
        times=frequency.times and frequency.times * parts,
        minutes_total=frequency.minutes_total and frequency.minutes_total * parts,
    )


def _grading_weeks(frequency: Frequency, marking_periods: int | None) -> Iterator[Frequency]:
    """ "Nine weeks" is what many call a marking period of four in the year."""
    if frequency.weeks_of == GRADING_WEEKS.get(marking_periods or 4):
        yield replace(frequency, unit=FrequencyUnit.MARKING_PERIOD, weeks_of=None)


def _frequencies(told: _Told) -> Iterator[Frequency]:
    """Every frequency that the parts may mean."""
    if told.bare is not None:
        for times, minutes in _ways_round(told.bare, told):
            yield from _frequency(replace(told, times=times, minutes=minutes))
        return
    if told.minutes is not None and (told.into or told.open_total):
        yield from _in_all(told, told.minutes, told.times or told.days or 1)
    if not told.into:
        yield from _frequency(told)


def _in_all(told: _Told, minutes: int, count: int) -> Iterator[Frequency]:
    """The minutes are those of all sessions: shared out, or where that leaves a rest, without a count."""
    each, left = divmod(minutes, count)
    if not left and each >= SHORTEST_SESSION:
        yield from _frequency(replace(told, minutes=each))
    elif told.period is None or told.period.unit is not FrequencyUnit.DAY:
        days = told.days or 1 if told.daily else 1
        period = told.period or Saying(unit=FrequencyUnit.WEEK)
        yield from _frequency(replace(told, times=None, days=None, minutes=minutes * days, period=period))


def _ways_round(bare: tuple[int, int], told: _Told) -> list[tuple[int, int]]:
    """How many times and how long: "2 x 30" is plain, "30 x 5 a week" too, "30 x 10 a month" isn't."""
    if told.times is not None or told.minutes is not None:
        raise FrequencyError("It says how many times more than once.")
    one, other = bare
    if one <= other:
        return [bare]
    unit = (told.period or Saying()).unit or FrequencyUnit.WEEK
    if other < SHORTEST_SESSION or one > MOST_SESSIONS.get(unit, one):
        return [(other, one)]
    return [bare, (other, one)]


def _times(told: _Told) -> int | None:
    """How many times in the period, or None where a text gives minutes alone."""
    if told.period is None and told.weeks is None:
        raise FrequencyError("It does not say in what period, such as a week or a month.")
    if told.days is not None:
        if told.times is not None and not told.daily:
            raise FrequencyError("It says how many times more than once.")
        return told.days * (told.times or 1)
    once = told.period is None or told.period.unit is FrequencyUnit.DAY
    return 1 if told.times is None and once else told.times


def _frequency(told: _Told) -> Iterator[Frequency]:
    """The frequency; a second one where "every other week" may be one of two weeks, or both together."""
    period, weeks = told.period or Saying(), told.weeks or Saying()
    times = _times(told)
    if times is None and told.minutes is None:
        raise FrequencyError("It says neither how many times nor how many minutes.")
    each, total = (None, told.minutes) if times is None else (told.minutes, None)
    one = Frequency(
        times=times,
        minutes=each,
        minutes_total=total,
        unit=period.unit or FrequencyUnit.WEEK,
        cycle_days=period.cycle_days,
        weeks_on=weeks.weeks_on,
        weeks_of=weeks.weeks_of,
    )
    yield one
    if weeks.every_other and times not in {None, 1}:
        yield replace(one, weeks_on=None)

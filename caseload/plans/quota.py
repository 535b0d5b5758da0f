"""How many sessions of a service line a planning week has to place, and why, in one sentence.

Integer minutes and local dates. The caller says which school days belong to the period that the frequency
counts in (the week, the turn of the cycle, the month, the marking period, the year, or the turn of weeks).
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from caseload.plans.frequency import Frequency, FrequencyUnit, session_lengths, write_frequency


class QuotaError(ValueError):
    """A question about a week that has no answer; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class Quota:
    """Sessions to place this week: their lengths in minutes, longest first, and the reasoning in a sentence."""

    lengths: tuple[int, ...]
    reason: str

    @property
    def sessions(self) -> int:
        """How many."""
        return len(self.lengths)

    @property
    def minutes(self) -> int:
        """Minutes in all."""
        return sum(self.lengths)


@dataclass(frozen=True, slots=True)
class _Days:
    """School days of the period: in all, while the line is in force, gone by when this week ends, left."""

    period: int
    in_force: int
    through_week: int
    left: int
    this_week: int


def week_quota(
    frequency: Frequency,
    *,
    line_first: date,
    line_last: date,
    week_days: Collection[date],
    period_days: Collection[date],
    placed: Sequence[int] = (),
    longest: int | None = None,
    proportional: bool = False,
    held: int = 0,
) -> Quota:
    """Sessions that a week has to place for one line in one period.

    `placed` holds the minutes of each session already placed in the period's other weeks. `longest` is the
    longest session in minutes, needed where the plan gives minutes without a count. With `proportional`, a
    line that begins or ends inside the period owes only its share of it, rounded to the nearest whole session
    or minute (halves up); by default it owes the whole. `held` sessions stand in this week already: the period has
    counted on them, so they stay as far as it owes them.

    The week gets its share of what remains, `remaining * school days this week / school days left`, rounded
    up, but never more than keeps an even pace through the period: three sessions a year do not all come in
    September. The period's last week always gets all that remains. Common practice, no source.
    Raises QuotaError.
    """
    text = write_frequency(frequency)
    _require_lengths(frequency, text, longest)
    days = _count_days(period_days, week_days, line_first, line_last)
    if frequency.unit is FrequencyUnit.DAY:
        return _quota_of_days(frequency, text, days, len(placed))
    if days.this_week == 0:
        return Quota((), f"{text}: no school day of this week falls in the service's dates and this period.")
    if frequency.times is not None and frequency.minutes is not None:
        owed = _owed(frequency.times * (frequency.weeks_on or 1), days, proportional=proportional)
        # In a turn of weeks several weeks' sessions may be left; no week holds more than its own.
        count = min(_share(owed, len(placed), days, held), frequency.times)
        lengths = (frequency.minutes,) * count
        return Quota(lengths, _sentence(text, owed, len(placed), count, days, "sessions"))
    owed = _owed(frequency.minutes_in_period or 0, days, proportional=proportional)
    return _quota_of_minutes(frequency, days, owed, sum(placed), longest or 1, held)


def _quota_of_days(frequency: Frequency, text: str, days: _Days, placed: int) -> Quota:
    """Its times on each school day of the week; `placed` are sessions that the same week holds already."""
    count = max((frequency.times or 0) * days.this_week - placed, 0)
    reason = f"{text}: {days.this_week} school days of this week, so {count} this week."
    return Quota((frequency.minutes or 0,) * count, reason)


def _require_lengths(frequency: Frequency, text: str, longest: int | None) -> None:
    if frequency.times is not None and frequency.minutes is None:
        raise QuotaError(f'"{text}" does not say how long a session is. Add the minutes of a session.')
    if frequency.times is None and longest is None:
        raise QuotaError(f'"{text}" has no count of sessions. Say how long one session may be at most.')


def _quota_of_minutes(frequency: Frequency, days: _Days, owed: int, placed: int, longest: int, held: int) -> Quota:
    """Whole sessions, cut from the minutes that remain, until the week's share is covered."""
    pieces = even_lengths(max(owed - placed, 0), longest)
    # Pieces already placed are counted as such by their minutes; what is left keeps the even pace in pieces.
    done = len(even_lengths(min(placed, owed), longest))
    count = _share(done + len(pieces), done, days, held)
    lengths = pieces[:count]
    if frequency.weeks_on is not None and frequency.minutes_total is not None:
        lengths = even_lengths(min(sum(pieces), frequency.minutes_total), longest) if count else ()
    text = write_frequency(frequency)
    return Quota(lengths, _sentence(text, owed, placed, sum(lengths), days, "minutes"))


def even_lengths(total: int, longest: int) -> tuple[int, ...]:
    """Sessions that add up to `total` minutes, of one length if a count up to twice the fewest allows.

    So none is longer than `longest` or shorter than half of it for the sake of evenness. Where no count divides the
    total they are as `session_lengths` cuts them. Raises FrequencyError below one minute.
    """
    pieces = session_lengths(total, longest)
    for count in range(max(len(pieces), 1), 2 * total // longest + 1):
        if total % count == 0:
            return (total // count,) * count
    return pieces


def _count_days(
    period_days: Collection[date], week_days: Collection[date], line_first: date, line_last: date
) -> _Days:
    """Count what the shares are made of."""
    in_force = sorted({day for day in period_days if line_first <= day <= line_last})
    this_week = [day for day in in_force if day in set(week_days)]
    if not this_week:
        return _Days(len(set(period_days)), len(in_force), 0, 0, 0)
    return _Days(
        period=len(set(period_days)),
        in_force=len(in_force),
        through_week=sum(day <= this_week[-1] for day in in_force),
        left=sum(day >= this_week[0] for day in in_force),
        this_week=len(this_week),
    )


def _owed(whole: int, days: _Days, *, proportional: bool) -> int:
    """The period's whole, or the share of a line that is in force for part of it."""
    if not proportional:
        return whole
    return (2 * whole * days.in_force + days.period) // (2 * days.period)


def _share(owed: int, placed: int, days: _Days, held: int) -> int:
    """The week's share of what remains, held to an even pace (see week_quota); what it holds already stays."""
    remaining = max(owed - placed, 0)
    share = _divide_up(remaining * days.this_week, days.left)
    pace = max(_divide_up(owed * days.through_week, days.in_force) - placed, 0)
    return max(min(share, pace), min(held, remaining))


def _divide_up(dividend: int, divisor: int) -> int:
    """Quotient of whole numbers, rounded up."""
    return -(-dividend // divisor)


def _sentence(text: str, owed: int, placed: int, count: int, days: _Days, what: str) -> str:
    """The reasoning in words."""
    if days.this_week == days.period:
        return f"{text}: {owed} {what} owed, {placed} placed before, so {count} this week."
    return (
        f"{text}: {owed} {what} owed in the period, {placed} placed in its other weeks; {days.this_week} of the "
        f"{days.left} school days left fall in this week, so {count} this week."
    )

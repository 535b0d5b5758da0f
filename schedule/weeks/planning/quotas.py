"""How many sessions a week owes on each service line, given what other weeks of the same period hold.

The period is the one that the line's frequency counts in; its days are those on which the student's building is
open and the teacher works.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from caseload.delivery.in_force import counted_together, frequency_of, in_force
from caseload.ledger.terms import Span
from caseload.plans.frequency import PARTS_OF_YEAR, Frequency, FrequencyError, FrequencyUnit
from caseload.plans.models import ServiceLine
from caseload.plans.quota import Quota, QuotaError, even_lengths, week_quota
from schedule.calendar.models import MarkingPeriod, SchoolYear
from schedule.weeks.planning.shared_periods import VersionPart, owed_together, part_of_week

USUAL_SESSION = 30
"""Minutes of a session where a plan gives minutes without a count and no length. Common practice, no source."""

type Placed = tuple[dt.date, int]

BY_PERIOD = frozenset(
    {
        FrequencyUnit.MONTH,
        FrequencyUnit.MARKING_PERIOD,
        FrequencyUnit.QUARTER,
        FrequencyUnit.TRIMESTER,
        FrequencyUnit.SEMESTER,
        FrequencyUnit.YEAR,
        FrequencyUnit.TOTAL,
    }
)
"""Periods of several weeks, whose sessions a term shares out; weeks, turns and rotations stay as they are."""


@dataclass(frozen=True, slots=True)
class Owed:
    """Sessions of one length that a week owes on a line, and the reasoning. ``problem`` says what is missing.

    ``dates``: where only some dates of the week will do, those (a week of two months that holds sessions of one).
    """

    sessions: int
    minutes: int
    reason: str = ""
    problem: str = ""
    dates: frozenset[dt.date] | None = None


@dataclass(frozen=True, slots=True)
class Periods:
    """What frequencies count in: the school year, its marking periods, and a building's days and cycles.

    ``days`` are those on which the teacher works, ``school`` all days in session: what versions of two teachers
    share is counted alike for both. None: the same.
    """

    year: SchoolYear
    marking_periods: tuple[MarkingPeriod, ...]
    days: tuple[dt.date, ...]
    cycles: tuple[tuple[dt.date, ...], ...]
    school: tuple[dt.date, ...] | None = None


def owed_in_week(
    line: ServiceLine,
    monday: dt.date,
    periods: Periods,
    placed: Sequence[Placed],
    known_from: dt.date,
    versions: Sequence[ServiceLine] = (),
    held: Sequence[dt.date] = (),
) -> Owed:
    """Sessions that the week of ``monday`` owes on the line.

    A week that lies in two periods (months, cycles) owes its share of each. Where a plan gives minutes without a
    count, sessions of one week are equally long, and the shortest piece decides: never more is planned than is
    owed, and what is left goes into the period's later weeks. ``placed`` holds (date, minutes) of the sessions in
    other weeks. Nothing is known of what was held before ``known_from``, the first week that was ever planned: of a
    period that began earlier only the share from then on is owed, or the first week in use would owe all that was
    served before it. ``versions`` are all versions of the line's service, oldest first, where there are several: a
    period in which the service changes is shared by them, and ``placed`` then holds the sessions of all. ``held``:
    dates of sessions that the week itself holds already. A term may have put more of a month there than an even
    pace does, and its other weeks count on them.
    """
    week = [monday + dt.timedelta(days=n) for n in range(7)]
    try:
        frequency = frequency_of(line)
        dated = list(_dated(frequency, line, week, periods, known_from, versions))
        quotas = [_quota(line, frequency, one, placed, held) for one in dated]
    except (FrequencyError, QuotaError) as error:
        return Owed(0, line.minutes or USUAL_SESSION, problem=f"{line.plan.student.marked_code}: {error}")
    return _owed_of(quotas, line.minutes or USUAL_SESSION)


@dataclass(frozen=True, slots=True)
class PeriodOwed:
    """What some weeks together owe of one period: its school days in them, and its name."""

    name: str
    days: tuple[dt.date, ...]
    quota: Quota


def owed_by_period(
    line: ServiceLine,
    days: Sequence[dt.date],
    periods: Periods,
    placed: Sequence[Placed],
    known_from: dt.date,
    versions: Sequence[ServiceLine] = (),
) -> list[PeriodOwed]:
    """What a line owes of each month, marking period or year on these days together, as ``owed_in_week`` counts.

    A period that goes on after them owes its days' share. Raises ``QuotaError`` or ``FrequencyError`` where the
    calendar or the frequency lacks something.
    """
    frequency = frequency_of(line)
    first, last = in_force(line)
    return [
        PeriodOwed(
            _name_of(frequency.unit, one.week, periods),
            tuple(day for day in one.week if first <= day <= last),
            _quota(line, frequency, one, placed),
        )
        for one in _dated(frequency, line, days, periods, known_from, versions)
    ]


def _name_of(unit: FrequencyUnit, days: Collection[dt.date], periods: Periods) -> str:
    """What a period is called."""
    first = min(days)
    if unit is FrequencyUnit.MONTH:
        return f"{first:%B %Y}"
    if unit is FrequencyUnit.TOTAL:
        return "the whole service"
    marking = next((one.name for one in periods.marking_periods if one.first_day <= first <= one.last_day), "")
    return periods.year.name if unit is FrequencyUnit.YEAR or not marking else marking


def _owed_of(quotas: Sequence[Quota], usual: int) -> Owed:
    """What a week's periods owe together."""
    lengths = [length for quota in quotas for length in quota.lengths]
    minutes = min(lengths, default=usual)
    reasons = [quota.reason for quota in quotas if quota.lengths]
    left = sum(lengths) - len(lengths) * minutes
    if left:
        reasons.append(f"Sessions of one week are equally long, so {left} of these minutes are left.")
    return Owed(len(lengths), minutes, " ".join(reasons))


@dataclass(frozen=True, slots=True)
class _Dated:
    """School days of a period and of the week in it, the line's first and last date, and where knowing begins.

    ``school`` are all days in session of the period, for the ``versions`` of the service that share it.
    """

    period: Collection[dt.date]
    week: Collection[dt.date]
    first: dt.date
    last: dt.date
    known_from: dt.date
    school: Collection[dt.date]
    versions: Sequence[ServiceLine]

    def holds(self, date: dt.date) -> bool:
        """Days without school still hold sessions if a plan was published before a closure came."""
        return min(self.period) <= date <= max(self.period)


def _dated(
    frequency: Frequency,
    line: ServiceLine,
    week: Sequence[dt.date],
    periods: Periods,
    known_from: dt.date,
    versions: Sequence[ServiceLine],
) -> Iterator[_Dated]:
    first, last = in_force(line)
    school = periods.days if periods.school is None else periods.school
    together = counted_together(line, versions or [line])
    such = Span("such terms", together[0].start, together[-1].end)
    whole = list(_periods_of(frequency, such, week, replace(periods, days=school))) if versions else []
    for days in _periods_of(frequency, such, week, periods):
        around = next((one for one in whole if days[0] in one), days)
        yield _Dated(days, [day for day in days if day in week], first, last, known_from, around, versions)


def _quota(
    line: ServiceLine,
    frequency: Frequency,
    dated: _Dated,
    placed: Sequence[Placed],
    held: Sequence[dt.date] = (),
) -> Quota:
    before = [minutes for date, minutes in placed if dated.holds(date)]
    stays = sum(map(dated.holds, held))
    longest = (line.minutes or USUAL_SESSION) if frequency.times is None else None
    sharing = _sharing(frequency, dated)
    if len(sharing) > 1:
        return _shared_quota(line, _as_sessions(frequency, longest), dated, sharing, before)
    served = [day for day in dated.period if dated.first <= day <= dated.last]
    if not served or min(served) >= dated.known_from:
        return week_quota(
            frequency,
            line_first=dated.first,
            line_last=dated.last,
            week_days=dated.week,
            period_days=dated.period,
            placed=before,
            longest=longest,
            held=stays,
        )
    quota = week_quota(
        _as_sessions(frequency, longest),
        line_first=max(dated.first, dated.known_from),
        line_last=dated.last,
        week_days=dated.week,
        period_days=served,
        placed=before,
        proportional=True,
        held=stays,
    )
    return Quota(
        quota.lengths, f"{quota.reason} Nothing is planned before {dated.known_from}, so only its share counts."
    )


def _sharing(frequency: Frequency, dated: _Dated) -> list[tuple[ServiceLine, VersionPart]]:
    """The versions that count in the same periods and are in force in this one, each with its part."""
    if frequency.unit is FrequencyUnit.DAY:
        return []  # Each day is owed by the terms that hold then.
    parts = [(one, _part_of(one, frequency, dated)) for one in dated.versions]
    return [(one, part) for one, part in parts if part is not None]


def _part_of(version: ServiceLine, frequency: Frequency, dated: _Dated) -> VersionPart | None:
    """A version's part; None where it counts otherwise, or isn't in force in this period."""
    other = frequency_of(version)
    first, last = in_force(version)
    days = tuple(day for day in dated.school if first <= day <= last)
    ways = [(one.unit, one.cycle_days, one.weeks_of) for one in (other, frequency)]
    if ways[0] != ways[1] or not days:
        return None
    monday = min(dated.week) - dt.timedelta(days=min(dated.week).weekday())
    sunday = max(dated.week) + dt.timedelta(days=6 - max(dated.week).weekday())
    return VersionPart(_sessions_in(other, version), days, _between(days, monday, sunday))


def _sessions_in(frequency: Frequency, version: ServiceLine) -> int:
    """Sessions of one whole period, also of a turn of weeks."""
    longest = (version.minutes or USUAL_SESSION) if frequency.times is None else None
    whole = _as_sessions(frequency, longest)
    return (whole.times or 0) * (whole.weeks_on or 1)


def _shared_quota(
    line: ServiceLine,
    frequency: Frequency,
    dated: _Dated,
    sharing: Sequence[tuple[ServiceLine, VersionPart]],
    before: Sequence[int],
) -> Quota:
    """The line's part of what the versions of its service owe together this week."""
    parts = [part for _, part in sharing]
    own = next((at for at, (one, _) in enumerate(sharing) if one.pk == line.pk), None)
    owed = owed_together(parts, dated.known_from)
    days = [day for part in parts for day in part.days if day >= dated.known_from]
    if own is None or not owed:
        return Quota((), "")
    together = week_quota(
        replace(frequency, times=owed, weeks_on=None),
        line_first=min(days),
        line_last=max(days),
        week_days=dated.week,
        period_days=days,
        placed=before,
    )
    count = part_of_week(_of_a_week(together, frequency), parts, own)
    words = f"The service changes in this period: {count} of them on the days of these terms."
    return Quota((frequency.minutes or USUAL_SESSION,) * count, f"{together.reason} {words}")


def _of_a_week(together: Quota, frequency: Frequency) -> int:
    """Sessions of the week: no week of a turn holds more than its own."""
    most = frequency.times if frequency.weeks_on is not None else None
    return min(together.sessions, most or together.sessions)


def _as_sessions(frequency: Frequency, longest: int | None) -> Frequency:
    """Minutes without a count as whole sessions: a share of them would leave a session of a few minutes."""
    if frequency.times is not None or longest is None:
        return frequency
    pieces = even_lengths(frequency.minutes_in_period or 0, longest)
    return replace(
        frequency, times=len(pieces), minutes=min(pieces), minutes_total=None, weeks_on=None, weeks_of=None
    )


def _periods_of(
    frequency: Frequency, such: Span, week: Sequence[dt.date], periods: Periods
) -> Iterator[tuple[dt.date, ...]]:
    """The periods, as their days, that the week has a school day in; `such` is how long terms count alike."""
    for days in _all_periods(frequency, such, week, periods):
        if any(day in week for day in days):
            yield days


def _all_periods(
    frequency: Frequency, such: Span, week: Sequence[dt.date], periods: Periods
) -> list[tuple[dt.date, ...]]:
    days = periods.days
    match frequency.unit:
        case FrequencyUnit.DAY | FrequencyUnit.WEEK:
            first, last = _turn_of_weeks(frequency, such.first, week[0])
            return [_between(days, first, last)]
        case FrequencyUnit.CYCLE:
            return _cycles(frequency, such.first, periods)
        case FrequencyUnit.MONTH:
            return _months(days)
        case FrequencyUnit.MARKING_PERIOD:
            found = [_between(days, one.first_day, one.last_day) for one in periods.marking_periods]
            # Without marking periods the year is the only one that is known.
            return found or [tuple(days)]
        case FrequencyUnit.QUARTER | FrequencyUnit.TRIMESTER | FrequencyUnit.SEMESTER:
            return _parts_of_year(frequency.unit, periods)
        case FrequencyUnit.YEAR:
            return [_between(days, periods.year.first_day, periods.year.last_day)]
        case FrequencyUnit.TOTAL:
            return [_between(days, such.first, such.last)]


def _parts_of_year(unit: FrequencyUnit, periods: Periods) -> list[tuple[dt.date, ...]]:
    """The district's marking periods, or so many together; raises `QuotaError` where they don't make these."""
    every = sorted(periods.marking_periods, key=lambda one: one.first_day)
    size, left = divmod(len(every), PARTS_OF_YEAR[unit])
    if left or not every:
        message = f"The school year's {len(every)} marking periods don't make {PARTS_OF_YEAR[unit]} {unit}s."
        raise QuotaError(f"{message} Change them, or the service's frequency.")
    parts = [every[at : at + size] for at in range(0, len(every), size)]
    return [_between(periods.days, part[0].first_day, part[-1].last_day) for part in parts]


def _turn_of_weeks(frequency: Frequency, begins: dt.date, monday: dt.date) -> tuple[dt.date, dt.date]:
    """The week itself, or the turn ("3 of 4 weeks") that it is in, counted from the first week of such terms."""
    if frequency.weeks_of is None:
        return monday, monday + dt.timedelta(days=6)
    origin = begins - dt.timedelta(days=begins.weekday())
    number = (monday - origin).days // 7
    first = monday - dt.timedelta(weeks=number % frequency.weeks_of)
    return first, first + dt.timedelta(weeks=frequency.weeks_of, days=-1)


def _months(days: Iterable[dt.date]) -> list[tuple[dt.date, ...]]:
    months: dict[tuple[int, int], list[dt.date]] = defaultdict(list)
    for day in days:
        months[day.year, day.month].append(day)
    return [tuple(month) for month in months.values()]


def _cycles(frequency: Frequency, begins: dt.date, periods: Periods) -> list[tuple[dt.date, ...]]:
    """The building's own turns; where it has none, or others, so many of its school days since such terms began."""
    length, known = frequency.cycle_days, set(periods.days)
    turns: Sequence[Sequence[dt.date]] = periods.cycles
    if not turns or length not in {None, max(map(len, turns))}:
        turns = _counted_turns(length or 5, begins, periods)
    return [tuple(day for day in turn if day in known) for turn in turns]


def _counted_turns(size: int, begins: dt.date, periods: Periods) -> list[tuple[dt.date, ...]]:
    """So many days in session each, whether the teacher works on them or not: as the ledger counts them."""
    school = periods.days if periods.school is None else periods.school
    days = tuple(day for day in school if day >= begins)
    return [days[n : n + size] for n in range(0, len(days), size)]


def _between(days: Sequence[dt.date], first: dt.date, last: dt.date) -> tuple[dt.date, ...]:
    return tuple(day for day in days if first <= day <= last)

"""What a term's weeks owe of months, marking periods and years, shared out over them from rows.

Each week is loaded once with one session of every such service, to see where it fits; the allotment is decided from
that, and says what each week is then loaded with (``Base.counts``).
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.terms.allotment.lines import TERM, LineMinutes
from schedule.terms.allotment.question import (
    Allotment,
    AllotmentQuestion,
    Allotted,
    Share,
    ShareKind,
    WeekChance,
    minutes_in,
)
from schedule.terms.allotment.reading import days_of, place_of
from schedule.terms.allotment.solve import allot
from schedule.terms.allotment.words import allotted_words, behind_words, proof_words
from schedule.terms.selectors.reserve import KnownMinutes, known_of, made_good, reserve_of, weekly_reserves
from schedule.terms.selectors.room import TermRoom
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.load import LinePeriods, periods_owed
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.planning.quotas import USUAL_SESSION, Owed, PeriodOwed
from schedule.weeks.versions.content import SessionContent

type Counts = Mapping[int, Owed]
type Load = Callable[[dt.date, Counts], WeekInput | None]


@dataclass(frozen=True, slots=True)
class TermMinutes:
    """What the weeks of a term hold of each service: counts by week and line, make-ups by week, and why.

    ``loaded``: the weeks as they were read, where nothing is shared out they needn't be read again.
    """

    counts: Mapping[dt.date, Counts] = field(default_factory=dict)
    make_ups: Mapping[dt.date, Mapping[MakeUp, int]] = field(default_factory=dict)
    lines: tuple[LineMinutes, ...] = ()
    notes: tuple[str, ...] = ()
    loaded: Mapping[dt.date, WeekInput] = field(default_factory=dict)

    @property
    def behind(self) -> tuple[LineMinutes, ...]:
        """Services that will be behind."""
        return tuple(one for one in self.lines if one.behind)


@dataclass(frozen=True, slots=True)
class _Made:
    """A share with the line and the dates that it is of."""

    line: ServiceLine
    dates: frozenset[dt.date]
    share: Share


def term_minutes(
    teacher: Person,
    mondays: Sequence[dt.date],
    load: Load,
    today: dt.date,
    settled: Mapping[dt.date, Sequence[SessionContent]] | None = None,
) -> TermMinutes:
    """Decide what each week of a term holds of what months, marking periods and years owe, and where room stays.

    ``load`` gives a week's problem with these counts, or None where the week can't be planned, and is asked once
    for each of ``mondays``, in their order. ``settled``: sessions of these weeks that stay whatever is decided.
    Raises as ``load_week`` does.
    """
    owing = periods_owed(teacher, mondays)
    weeks = _read(mondays, load, owing)
    known = known_of(teacher, mondays[0], mondays[-1] + dt.timedelta(days=6), today)
    made = [found for one in owing for found in _made(one, weeks, settled or {})]
    weekly = list(weekly_reserves(weeks, known, TERM))
    good = made_good(weeks, known, Counter(_make_up_lines(settled)))
    shares = (*(one.share for one in made), *good, *_kept(made, weekly, known))
    found = allot(AllotmentQuestion(tuple(week.room for week in weeks.values()), shares))
    return TermMinutes(
        _all_counts(owing, made, found, weeks),
        _make_ups(found),
        tuple(_line_minutes(found, known, Names.of(weeks.values()), weekly)),
        (proof_words(found),),
        _as_read(weeks, owing),
    )


def _as_read(weeks: Mapping[dt.date, TermRoom], owing: Sequence[LinePeriods]) -> dict[dt.date, WeekInput]:
    """The weeks, unless they hold services only to see where these fit."""
    return {monday: week.loaded for monday, week in weeks.items() if not owing}


def _make_up_lines(settled: Mapping[dt.date, Sequence[SessionContent]] | None) -> Iterator[int]:
    """The lines of each make-up that stays."""
    for sessions in (settled or {}).values():
        for one in sessions:
            yield from one.lines if one.makes_up else ()


def _read(mondays: Sequence[dt.date], load: Load, owing: Sequence[LinePeriods]) -> dict[dt.date, TermRoom]:
    """Each week with one session of every service that is shared out."""
    shared, one_each = {one.line.pk for one in owing}, {one.line.pk: Owed(1, _length(one)) for one in owing}
    found = ((monday, load(monday, one_each)) for monday in mondays)
    return {monday: TermRoom.of(loaded, shared) for monday, loaded in found if loaded is not None}


def _all_counts(
    owing: Sequence[LinePeriods], made: Sequence[_Made], found: Allotment, weeks: Mapping[dt.date, TermRoom]
) -> dict[dt.date, Counts]:
    """What each week is loaded with; nothing where it owes only what it owes anyway."""
    none = {one.line.pk: Owed(0, _length(one)) for one in owing}
    return {monday: {**none, **_counts(made, found.allotted, week)} for monday, week in weeks.items() if owing}


def _kept(made: Iterable[_Made], weekly: Iterable[tuple[Share, int]], known: KnownMinutes) -> Iterator[Share]:
    """Room for what will be missed: of each period, and of what is owed by the week."""
    yield from filter(None, (reserve_of(one.share, known) for one in made))
    yield from (share for share, _ in weekly)


def _make_ups(found: Allotment) -> dict[dt.date, Counter[MakeUp]]:
    """Make-ups of short weeks, by the week in which they are held."""
    made: dict[dt.date, Counter[MakeUp]] = defaultdict(Counter)
    for one in found.of(ShareKind.MAKE_GOOD):
        for monday, count in one.weeks.items():
            made[monday][MakeUp((one.share.line,), one.share.minutes)] += count
    return dict(made)


def _length(one: LinePeriods) -> int:
    lengths = [minutes for period in one.periods for minutes in period.quota.lengths]
    return max(lengths, default=one.line.minutes or USUAL_SESSION)


# ---- shares ----------------------------------------------------------------------------------------------


def _made(
    one: LinePeriods, weeks: Mapping[dt.date, TermRoom], stays: Mapping[dt.date, Sequence[SessionContent]]
) -> Iterator[_Made]:
    """The sessions of each period, those of each length together."""
    for period in one.periods:
        lengths = Counter(period.quota.lengths)
        for number, (minutes, count) in enumerate(sorted(lengths.items(), reverse=True)):
            chances = tuple(_chances(one.line, period, count, weeks, stays if number == 0 else {}))
            services = [week.service(one.line.pk) for week in weeks.values()]
            known = [service for service in services if service is not None]
            share = Share(
                line=one.line.pk,
                kind=ShareKind.OWED,
                period=period.name,
                minutes=minutes,
                count=count,
                chances=chances,
                company=next((service.id for service in known if service.id.startswith("class-")), ""),
                apart=all(service.days_apart for service in known),
            )
            yield _Made(one.line, frozenset(period.days), share)


def _chances(
    line: ServiceLine,
    period: PeriodOwed,
    count: int,
    weeks: Mapping[dt.date, TermRoom],
    stays: Mapping[dt.date, Sequence[SessionContent]],
) -> Iterator[WeekChance]:
    """The weeks in which so many sessions of a period can be held; more than twice the even pace is bunched."""
    for monday, week in weeks.items():
        dates, service = week.dates & set(period.days), week.service(line.pk)
        place = place_of(service) if service is not None else None
        if service is None or place is None or not dates:
            continue
        most = days_of(service, dates)
        settled = sum(
            line.pk in one.lines and one.date in dates for one in stays.get(monday, ()) if not one.makes_up
        )
        pace = -(-2 * count * len(dates) // len(period.days))
        yield WeekChance(monday, place, most, len(dates), min(settled, most), pace)


def _counts(made: Sequence[_Made], found: Sequence[Allotted], week: TermRoom) -> Counts:
    """What a week is loaded with, sessions of one length each; services that it holds nothing of are left out."""
    counts: dict[int, Owed] = {}
    for one, allotted in zip(made, found, strict=False):
        held = allotted.weeks.get(week.loaded.monday, 0)
        if held:
            counts[one.line.pk] = _together(counts.get(one.line.pk), held, one, week.dates)
    return counts


def _together(before: Owed | None, held: int, one: _Made, week: frozenset[dt.date]) -> Owed:
    """Sessions of one more period, each on a date of its own periods."""
    dates = one.dates & week
    if before is not None:
        return replace(before, sessions=before.sessions + held, dates=(before.dates or frozenset()) | dates)
    return Owed(held, one.share.minutes, reason="Shared out over the term.", dates=dates)


# ---- what is said ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Names:
    """What buildings are called, by code, and services, by line: what is taught as one, and the student's code."""

    buildings: Mapping[str, str]
    taught: Mapping[int, str]
    lines: Mapping[int, ServiceLine]

    @classmethod
    def of(cls, weeks: Iterable[TermRoom]) -> "Names":
        """From all weeks of a term."""
        buildings, taught, lines = dict[str, str](), dict[int, str](), dict[int, ServiceLine]()
        for week in weeks:
            buildings |= {code: one.name for code, one in week.loaded.buildings.items()}
            taught |= {line: week.label(line) for line in week.unit_of}
            lines |= {line: one.line for line, one in week.loaded.lines.items()}
        return cls(buildings, taught, lines)

    def named(self, one: LineMinutes) -> LineMinutes:
        """With who it is of: of a service by the week the class, if it is taught in one."""
        line = self.lines[one.line]
        who = self.taught[one.line] if one.period == TERM else line.plan.student.marked_code
        return replace(one, who=who, statement=line.statement)


def _line_minutes(
    found: Allotment, known: KnownMinutes, names: Names, weekly: Iterable[tuple[Share, int]]
) -> Iterator[LineMinutes]:
    """Each service and period with what it owes, holds and keeps in reserve.

    ``weekly``: with each reserve of a service by the week the
    sessions that it owes.
    """
    by_week = {share.line: count for share, count in weekly}
    groups: dict[tuple[int, str], list[Allotted]] = defaultdict(list)
    for one in found.allotted:
        groups[one.share.line, one.share.period].append(one)
    for (line, period), several in groups.items():
        words = tuple(allotted_words(one, names.buildings, found.trips) for one in several if one.share.count)
        count = by_week[line] if period == TERM else 0
        yield names.named(_told(several, count, known, words))


def _told(several: Sequence[Allotted], by_week: int, known: KnownMinutes, words: tuple[str, ...]) -> LineMinutes:
    """One service in one period. ``by_week``: sessions that it owes by the week, all of which have one."""
    share = several[0].share
    due = [one for one in several if one.share.kind is not ShareKind.RESERVE]
    kept = [one for one in several if one.share.kind is ShareKind.RESERVE]
    owed, weekly = _asked(due), by_week * share.minutes
    lengths = [*_lengths(due), *by_week * [share.minutes], *_lengths(kept)]
    seen = known.forecast(share.line, owed + weekly, lengths, share.minutes).ends_short
    missing = sum(one.missing_minutes for one in due)
    return LineMinutes(
        line=share.line,
        period=share.period,
        owed=owed + weekly,
        placed=minutes_in(due) + weekly,
        reserve_wanted=_asked(kept),
        reserve=minutes_in(kept),
        ends_short=seen,
        words=words,
        behind=behind_words(missing, seen),
    )


def _asked(several: Iterable[Allotted]) -> int:
    return sum(one.share.count * one.share.minutes for one in several)


def _lengths(several: Iterable[Allotted]) -> list[int]:
    """The sessions that have a week, in minutes."""
    return [one.share.minutes for one in several for _ in range(one.placed)]

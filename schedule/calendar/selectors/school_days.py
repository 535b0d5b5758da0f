"""Rows of bells, rotations and calendar entries as the school days of each building."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice

from accounts.dates import span_words
from accounts.errors import ApplicationError
from accounts.models import District
from accounts.models.sql_once import SqlOnce
from caseload.plans.grades import read_grades
from schedule.calendar.bells import BellError, BellKind, Bells, Period, PeriodKind
from schedule.calendar.calendars import (
    BellDefaults,
    CalendarError,
    CycleDay,
    EntryKind,
    SchoolDay,
    SpecialDays,
    in_force,
)
from schedule.calendar.day_words import NamedDays, parts_of, read_part
from schedule.calendar.laid_out import DayFacts, lay_out_days
from schedule.calendar.models import BellPeriod, BellRule, DayRotation, SchoolYear
from schedule.calendar.models import BellSchedule as BellScheduleRow
from schedule.calendar.models import CalendarEntry as CalendarEntryRow
from schedule.calendar.rotations import Rotation, group_cycles
from schedule.calendar.selectors.rotations import ROTATIONS, labels_at, rotations_of
from travel.places.models import Building

YEARS = SqlOnce(
    lambda district, first, last: SchoolYear.objects.filter(
        district=district, first_day__lte=last, last_day__gte=first
    ).order_by("first_day")
)
BELLS = SqlOnce(lambda buildings: BellScheduleRow.objects.filter(building__in=buildings))
PERIODS = SqlOnce(lambda buildings: BellPeriod.objects.filter(schedule__building__in=buildings))
RULES = SqlOnce(lambda buildings: BellRule.objects.filter(building__in=buildings).select_related("schedule"))
ENTRIES = SqlOnce(
    lambda district, first, last: CalendarEntryRow.objects.filter(
        district=district, first_date__lte=last, last_date__gte=first
    ).select_related("bell_schedule")
)


def minutes_of(time: dt.time) -> int:
    """A time of day as minutes after midnight."""
    return time.hour * 60 + time.minute


def time_of(minutes: int) -> dt.time:
    """Minutes after midnight as a time of day."""
    return dt.time(minutes // 60, minutes % 60)


@dataclass(frozen=True, slots=True)
class BellsFrom:
    """What a bell schedule rings from a first day on, until the next; None: as long as anybody knows."""

    first: dt.date | None
    bells: Bells


@dataclass(frozen=True)
class BuildingCalendar:
    """A building's days over a school year, its bells by name, and its rotations, its own first.

    What takes all days of the year is worked out once for all services; what it is made from doesn't change.
    """

    building: Building
    days: Mapping[dt.date, SchoolDay]
    bells: Mapping[str, Sequence[BellsFrom]]
    rotations: tuple[Rotation, ...] = (Rotation(),)

    def facts(self, date: dt.date) -> DayFacts:
        """What the date is in this building; closed outside the school year."""
        day = self.days.get(date)
        if day is None:
            return self._outside(date)
        bells = self.bells_on(day.bell, date)
        problem = day.problem
        if day.open and bells is None and not problem:
            problem = self._without_bells(day.bell)
        if bells is not None and (day.opens is not None or day.closes is not None):
            bells = bells.between(day.opens, day.closes)
            problem = problem or ("" if bells else f"No period of {self.building.name} is left on this day.")
        first = day.turning[0]
        return DayFacts(date, day.open, bells, first.label, day.reason, problem, first.by_week, day.turning)

    def bells_on(self, name: str, date: dt.date) -> Bells | None:
        """What the bells of a name ring on a date; None where there are none, or not yet."""
        found = in_force(self.bells.get(name, ()), date)
        return None if found is None else found.bells

    def _without_bells(self, name: str) -> str:
        if name in self.bells:
            return f"{self.building.name} has the bells “{name}” from a later day on only: say what rang before."
        return f"{self.building.name} has no bell schedule: add its regular one."

    def _outside(self, date: dt.date) -> DayFacts:
        held = (one.on(date) for one in self.rotations)
        turning = tuple(CycleDay() if one is None else one.day_at(None) for one in held)
        own = turning[0].by_week
        return DayFacts(date, open=False, reason="outside the school year", by_week=own, turning=turning)

    def bell_name(self, date: dt.date) -> str:
        """The name of the bells that ring, empty when closed."""
        day = self.days.get(date)
        return day.bell if day else ""

    @cached_property
    def open_dates(self) -> frozenset[dt.date]:
        """Every date with students."""
        return frozenset(date for date, day in self.days.items() if day.open)

    def cycles(self, grade: str) -> tuple[tuple[dt.date, ...], ...]:
        """School days in cycles of the rotation that a grade follows; empty for a plain week."""
        if grade not in self._cycles:
            self._cycles[grade] = group_cycles(tuple(self.days.values()), [grade] if grade else [])
        return self._cycles[grade]

    @cached_property
    def _cycles(self) -> dict[str, tuple[tuple[dt.date, ...], ...]]:
        """What was asked for already, by grade."""
        return {}


def school_year_of(district: District, first: dt.date, last: dt.date) -> SchoolYear:
    """The school year that holds any of the dates; raises ``ApplicationError`` (code ``no_school_year``)."""
    year = year_among(district, first, last)
    if year is None:
        raise ApplicationError(
            f"No school year covers {span_words(first, last)}. Add the school year under Calendar, or choose other "
            "dates.",
            code="no_school_year",
        )
    return year


def year_among(district: District, first: dt.date, last: dt.date) -> SchoolYear | None:
    """The first school year that holds any of the dates; None where there is none."""
    return next(iter(YEARS(district.pk, first, last)), None)


COMING_DAYS = 10


def coming_days(building: Building, today: dt.date) -> list[DayFacts]:
    """The next school days of a building whose days rotate, with the day of each rotation; none where none does.

    Raises ``ApplicationError`` where bells or rotation can't be used.
    """
    last = today + dt.timedelta(days=4 * COMING_DAYS)
    year = year_among(building.district, today, last) if labels_at(building) else None
    if year is None:
        return []
    calendar = load_calendars(building.district, [building], year)[building.pk]
    days = (today + dt.timedelta(days=n) for n in range(4 * COMING_DAYS))
    found = (facts for date in days if (facts := calendar.facts(date)).open)
    return list(islice(found, COMING_DAYS))


def load_calendars(
    district: District, buildings: Sequence[Building], year: SchoolYear
) -> dict[int, BuildingCalendar]:
    """The calendar of each building over a school year, by building id.

    Raises ``ApplicationError`` naming the building where bells or rotation can't be used.
    """
    ids = [building.pk for building in buildings]
    schedules, periods = _by_building(BELLS(ids)), _by_schedule(PERIODS(ids))
    rules = _by_building(RULES(ids))
    rotations = _by_building(ROTATIONS(ids))
    every = ENTRIES(district.pk, year.first_day, year.last_day)
    found: dict[int, BuildingCalendar] = {}
    for building in buildings:
        try:
            found[building.pk] = _calendar_of(
                building,
                {row: periods[row.pk] for row in schedules[building.pk]},
                rules[building.pk],
                rotations[building.pk],
                every,
                year,
            )
        except (BellError, CalendarError) as error:
            raise ApplicationError(f"{building.name}: {error}", code="calendar_unusable") from error
    return found


def _by_building[M: (BellScheduleRow, BellRule, DayRotation)](rows: Iterable[M]) -> dict[int, list[M]]:
    found: dict[int, list[M]] = defaultdict(list)
    for row in rows:
        found[row.building_id].append(row)
    return found


def _by_schedule(rows: Iterable[BellPeriod]) -> dict[int, list[BellPeriod]]:
    found: dict[int, list[BellPeriod]] = defaultdict(list)
    for row in rows:
        found[row.schedule_id].append(row)
    return found


def _calendar_of(
    building: Building,
    schedules: Mapping[BellScheduleRow, Sequence[BellPeriod]],
    rules: list[BellRule],
    rotations: list[DayRotation],
    entries: list[CalendarEntryRow],
    year: SchoolYear,
) -> BuildingCalendar:
    mine = [_entry_of(row) for row in entries if row.building_id in {None, building.pk}]
    own, *others = turning = rotations_of(rotations)
    days = lay_out_days(
        year.first_day,
        year.last_day,
        bells=_bell_defaults(schedules, rules, [label for one in turning for label in one.every_label]),
        rotation=own,
        others=others,
        entries=[*mine, *_end_of(building, year)],
        allow_none=True,
    )
    named = {row.name: _sets_of(row, periods) for row, periods in schedules.items() if periods}
    return BuildingCalendar(building, days, named, turning)


def _end_of(building: Building, year: SchoolYear) -> Iterator[SpecialDays]:
    """The days of a year after a building's last one: it is closed for good."""
    last = building.last_day
    if last is not None and last < year.last_day:
        first = max(last + dt.timedelta(days=1), year.first_day)
        yield SpecialDays(first, year.last_day, EntryKind.CLOSED, "Closed for good", precedence=2)


def _sets_of(row: BellScheduleRow, periods: Iterable[BellPeriod]) -> tuple[BellsFrom, ...]:
    """What a bell schedule rings from each of its first days on; raises ``BellError``."""
    sets: dict[dt.date | None, list[BellPeriod]] = defaultdict(list)
    for one in periods:
        sets[one.first_day].append(one)
    return tuple(BellsFrom(first, _bells_of(row, rung)) for first, rung in sets.items())


def _bells_of(row: BellScheduleRow, periods: Iterable[BellPeriod]) -> Bells:
    """A bell schedule's rows as the pure thing; raises ``BellError``."""
    rung = tuple(
        Period(p.name, minutes_of(p.start), minutes_of(p.end), PeriodKind(p.kind), _grades(p.grades))
        for p in periods
    )
    return Bells(row.name, rung, BellKind(row.kind), row.passing_minutes)


def _grades(text: str) -> frozenset[str]:
    return read_grades(text) if text else frozenset()


def _bell_defaults(
    schedules: Iterable[BellScheduleRow], rules: list[BellRule], labels: Sequence[str]
) -> BellDefaults:
    kinds = {row.kind: row.name for row in sorted(schedules, key=lambda row: row.pk, reverse=True)}
    by_kind = {
        EntryKind(kind): kinds[kind]
        for kind in (EntryKind.EARLY_DISMISSAL.value, EntryKind.DELAYED_OPENING.value)
        if kind in kinds
    }
    named = list(_named_days(rules, labels))
    return BellDefaults.of_days(kinds.get(BellScheduleRow.Kind.REGULAR, ""), by_kind, named)


def _named_days(rules: list[BellRule], labels: Sequence[str]) -> Iterator[tuple[NamedDays, str]]:
    """What each part of the rules names, and which bells ring then."""
    for rule in rules:
        for part in parts_of(rule.day):
            if (days := read_part(part, labels)) is not None:
                yield days, rule.schedule.name


def _entry_of(row: CalendarEntryRow) -> SpecialDays:
    return SpecialDays(
        row.first_date,
        row.last_date,
        EntryKind(row.kind),
        row.title,
        row.bell_schedule.name if row.bell_schedule else "",
        precedence=0 if row.building_id is None else 1,
        opens=None if row.opens_at is None else minutes_of(row.opens_at),
        closes=None if row.closes_at is None else minutes_of(row.closes_at),
    )

"""A teacher's dated week as a planning problem.

``load_week`` reads what one Monday-week needs and gives it to the pure parts. Nothing is written here, and no name
of a student goes into the problem: codes only.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from accounts.errors import ApplicationError
from accounts.models import District, Person
from caseload.plans.frequency import FrequencyError
from caseload.plans.models import ServiceLine, Student, enrollments_of
from caseload.plans.quota import QuotaError
from schedule.calendar.happened import joined
from schedule.calendar.models import BusyTime, ContractDay, MarkingPeriod, Meeting, SchoolYear, TeacherRules
from schedule.calendar.selectors.happened import away_times, days_away
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, minutes_of, school_year_of
from schedule.calendar.words import week_words
from schedule.meetings.selectors import common_meetings_of
from schedule.weeks.planning.assemble import Base, Parts, TeacherRows, WeekInput, assemble
from schedule.weeks.planning.line_week import LineWeek, line_week
from schedule.weeks.planning.make_up_services import make_ups_of
from schedule.weeks.planning.owing.counted import PeriodsOf, placed_of, sessions_counted, versions_of
from schedule.weeks.planning.quotas import (
    BY_PERIOD,
    Owed,
    PeriodOwed,
    owed_by_period,
)
from schedule.weeks.planning.rules import Span, contract_span
from schedule.weeks.planning.sources import Sources, load_sources
from schedule.weeks.planning.units import build_units
from schedule.weeks.selectors.leaving import days_after_leaving
from schedule.weeks.versions.content import WeekContent
from schedule.weeks.versions.history import known_from
from travel.places.models import Building

DAY_OVER = "Nothing is left to plan then: your day is over, or you are away."


def monday_of(date: dt.date) -> dt.date:
    """The Monday of the date's week."""
    return date - dt.timedelta(days=date.weekday())


type LoadCalendars = Callable[[District, Sequence[Building], SchoolYear], Mapping[int, BuildingCalendar]]


@dataclass(frozen=True, slots=True)
class WeekRows:
    """What one Monday-week is planned from, as it was read; whatever it is to hold, it needn't be read again.

    ``every`` are the calendars of all buildings that its lines' periods need, also outside the week.
    """

    mine: TeacherRows
    monday: dt.date
    year: SchoolYear
    lines: Sequence[ServiceLine]
    buildings: tuple[Building, ...]
    every: Mapping[int, BuildingCalendar]
    sources: Sources


def load_week(teacher: Person, monday: dt.date, base: Base | None = None) -> WeekInput:
    """The problem of one week.

    Raises ``ApplicationError`` with a remedy where something is missing: rules, contract days, a school year,
    school days, service lines, drive times, bells.
    """
    base = base or Base()
    return week_input(week_rows(teacher, monday, base), base)


def week_rows(
    teacher: Person, monday: dt.date, base: Base, calendars_of: LoadCalendars = load_calendars
) -> WeekRows:
    """Read what a week is planned from. Raises as ``load_week`` does."""
    frame = _frame(teacher, monday, base, calendars_of)
    sources = load_sources(
        teacher=teacher,
        district=frame.district,
        calendars=frame.taught,
        contract=frame.contract,
        students=_students_of(frame.lines),
        together=base.together,
        follow=base.follow,
    )
    return WeekRows(frame.mine, monday, frame.year, frame.lines, frame.buildings, frame.every, sources)


def sessions_owed(teacher: Person, monday: dt.date, lines: Collection[int], base: Base) -> dict[int, Owed]:
    """What the week owes on some of its lines, by their ids; nothing is read of what is in the way of sessions.

    Raises as ``load_week`` does, except for drive times and rules that contradict each other.
    """
    frame = _frame(teacher, monday, base, load_calendars)
    asked = [one for one in frame.lines if one.pk in lines]
    return sessions_counted(frame.mine, asked, frame.every, frame.year, monday, base)


@dataclass(frozen=True, slots=True)
class _Frame:
    """A week without what is in the way of its sessions. ``taught``: the calendars of ``every`` that it goes by."""

    mine: TeacherRows
    district: District
    year: SchoolYear
    lines: Sequence[ServiceLine]
    buildings: tuple[Building, ...]
    every: Mapping[int, BuildingCalendar]
    taught: Mapping[int, BuildingCalendar]
    contract: Mapping[dt.date, Span]


def _frame(teacher: Person, monday: dt.date, base: Base, calendars_of: LoadCalendars) -> _Frame:
    """Read it. Raises as ``load_week`` does."""
    mine, district = load_teacher(teacher), district_of_teacher(teacher)
    year = school_year_of(district, monday, monday + dt.timedelta(days=6))
    lines = lines_of(teacher, monday)
    if not lines and base.owed is None:
        raise _no_services(monday)
    buildings = _buildings(mine, lines, monday, base.keep_buildings)
    check_one_clock(buildings, monday)
    every = calendars_of(district, _known(buildings, lines), year)
    schools = _taught(every, lines, monday, base.keep_buildings)
    taught = schools | {key: every[key] for key in held_elsewhere(lines)}
    contract = _contract_kept(_contract(mine, schools, monday), base)
    if base.rest is not None and not any(map(base.takes, contract)):
        raise ApplicationError(DAY_OVER, code="no_school_days")
    if not contract:
        raise _no_school_days(monday)
    return _Frame(mine, district, year, lines, buildings, every, taught, contract)


def week_input(rows: WeekRows, base: Base) -> WeekInput:
    """The problem of a week that was read. Raises as ``load_week`` does."""
    mine, monday = rows.mine, rows.monday
    weeks = _owed(mine, rows.lines, rows.every, rows.year, monday, base)
    owing = [one for one in weeks if one.owed.sessions > 0]
    keep = [*base.keep_groups, *(one.key for one in base.settled)]
    units = build_units(owing, rows.sources, mine.rules, keep, _make_ups(rows.lines, monday, base))
    problems = tuple(filter(None, (one.owed.problem for one in weeks)))
    return assemble(mine, Parts(monday, rows.buildings, rows.sources, units, owing, problems), base)


def _taught(
    calendars: Mapping[int, BuildingCalendar], lines: Iterable[ServiceLine], monday: dt.date, keep: Collection[int]
) -> dict[int, BuildingCalendar]:
    """The calendars of the buildings with students to teach in the week, and of those that are kept."""
    sunday = monday + dt.timedelta(days=6)
    taught = {place for line in lines for place in line.places(monday, sunday)} | set(keep)
    return {key: calendar for key, calendar in calendars.items() if key in taught}


def held_elsewhere(lines: Iterable[ServiceLine]) -> set[int]:
    """Buildings to which students of some lines go from their own."""
    return {line.held_in.building_id for line in lines if line.held_in is not None}


def _known(buildings: Iterable[Building], lines: Iterable[ServiceLine]) -> list[Building]:
    """The buildings of the week, and those where its students are otherwise: periods are longer than weeks."""
    found = {one.building_id: one.building for line in lines for one in enrollments_of(line.plan.student)}
    return list((found | {building.pk: building for building in buildings}).values())


def _students_of(lines: Iterable[ServiceLine]) -> list[Student]:
    """Each student once."""
    return list({line.plan.student.pk: line.plan.student for line in lines}.values())


def _no_services(monday: dt.date) -> ApplicationError:
    return ApplicationError(
        f"No service line of yours is in force in {week_words(monday)}. Add service lines, or choose other dates.",
        code="no_services",
    )


def _no_school_days(monday: dt.date) -> ApplicationError:
    return ApplicationError(
        f"In {week_words(monday)} there is no school day on which you work. Choose other dates, or check the "
        "calendar and your contract days.",
        code="no_school_days",
    )


def _contract_kept(contract: Mapping[dt.date, Span], base: Base) -> dict[dt.date, Span]:
    """The contract days that are planned, each with the leeway that the week in force has taken."""
    kept = {date: span for date, span in contract.items() if base.takes(date) or base.in_force is not None}
    kept = kept if base.rest is None else base.rest.spans(kept)
    return {date: (max(0, a - base.leeway), b + base.leeway) for date, (a, b) in kept.items()}


def load_teacher(teacher: Person) -> TeacherRows:
    """The teacher's rules, contract days and meetings; raises ``ApplicationError`` where they are missing."""
    rules = TeacherRules.objects.filter(teacher=teacher).select_related("start_place", "end_place").first()
    if rules is None:
        raise ApplicationError("Your rules are missing (lunch, preparation). Save them once.", code="no_rules")
    contract = {row.weekday: row for row in ContractDay.objects.filter(teacher=teacher)}
    if not contract:
        raise ApplicationError(
            "No contract hours are entered. Enter when your day begins and ends, for each weekday.",
            code="no_contract_days",
        )
    own = Meeting.objects.filter(teacher=teacher).select_related("building")
    meetings = (*own, *common_meetings_of(teacher))
    return TeacherRows(teacher, rules, contract, meetings, _busy(teacher))


def _busy(teacher: Person) -> dict[dt.date, tuple[tuple[int, int], ...]]:
    """Times of the teacher's own calendars and when the teacher is away, by date; joined where they overlap."""
    found: dict[dt.date, list[tuple[int, int]]] = defaultdict(list, away_times(teacher))
    rows = BusyTime.objects.filter(calendar__teacher=teacher)
    for date, begin, end in rows.values_list("date", "start", "end"):
        found[date].append((minutes_of(begin), minutes_of(end)))
    return {date: joined(spans) for date, spans in found.items()}


def lines_of(teacher: Person, first: dt.date, last: dt.date | None = None) -> list[ServiceLine]:
    """The teacher's own service lines in force on any day of the week (or up to ``last``), with what they need."""
    until = last or first + dt.timedelta(days=6)
    rows = ServiceLine.objects.filter(provider=teacher, plan__student__district=teacher.district)
    rows = rows.owed_between(first, until).filter(extended_year__in=_seasons(teacher, first, until))
    rows = rows.select_related(
        "plan__student__building", "plan__student__home_class", "pushed_into", "held_in__building"
    )
    where = ("plan__student__enrollments__building", "plan__student__enrollments__home_class")
    return list(rows.prefetch_related("allowed_spaces", *where).order_by("plan__student__code", "pk"))


def buildings_taught(lines: Iterable[ServiceLine], first: dt.date, last: dt.date) -> list[Building]:
    """The buildings where the lines' students are on any day of a stretch, or are taught, each once."""
    taught = list(lines)
    found = {
        one.building_id: one.building
        for line in taught
        for one in enrollments_of(line.plan.student)
        if one.building_id in line.places(first, last)
    }
    found |= {one.held_in.building_id: one.held_in.building for one in taught if one.held_in is not None}
    return list(found.values())


def _seasons(teacher: Person, first: dt.date, last: dt.date) -> set[bool]:
    """Whether these days are of an extended school year, of the school year, or of both."""
    years = SchoolYear.objects.filter(district=teacher.district, first_day__lte=last, last_day__gte=first)
    return set(years.values_list("extended", flat=True)) or {False}


def district_of_teacher(teacher: Person) -> District:
    """The teacher's district; raises ``ApplicationError`` for a person without one."""
    if teacher.district is None:
        raise ApplicationError("This person doesn't belong to a district.", code="no_district")
    return teacher.district


def _buildings(
    mine: TeacherRows, lines: Sequence[ServiceLine], monday: dt.date, kept: Sequence[int]
) -> tuple[Building, ...]:
    """Every building that the week may go to: students', the day's ends, meetings'."""
    found = {one.pk: one for one in buildings_taught(lines, monday, monday + dt.timedelta(days=6))}
    ends = [mine.rules.start_place, mine.rules.end_place]
    held = [row.building for row in mine.meetings if row.date is None or monday_of(row.date) == monday]
    for building in [*ends, *held, *Building.objects.filter(district=mine.person.district, pk__in=kept)]:
        if building is not None:
            found.setdefault(building.pk, building)
    return tuple(found[key] for key in sorted(found))


def check_one_clock(buildings: Sequence[Building], monday: dt.date) -> None:
    """Refuse a week across time zones: minutes of one day would mean two things."""
    noon = dt.datetime.combine(monday, dt.time(12))
    offsets = {noon.replace(tzinfo=ZoneInfo(building.zone)).utcoffset() for building in buildings}
    if len(offsets) > 1:
        names = ", ".join(sorted(building.name for building in buildings))
        raise ApplicationError(
            f"The buildings {names} are in different time zones. A week can be planned only within one "
            "time zone: check the time zone of each building.",
            code="two_time_zones",
        )


def _contract(
    mine: TeacherRows, calendars: Mapping[int, BuildingCalendar], monday: dt.date
) -> dict[dt.date, tuple[int, int]]:
    """Contract hours of each date on which the teacher works and any building has students."""
    dates = [monday + dt.timedelta(days=n) for n in range(7)]
    gone = days_after_leaving(mine.person, dates) | days_away(mine.person)
    return {
        date: contract_span(mine.contract[date.weekday()])
        for date in dates
        if date not in gone
        and date.weekday() in mine.contract
        and any(c.facts(date).open for c in calendars.values())
    }


def _owed(
    mine: TeacherRows,
    lines: Sequence[ServiceLine],
    calendars: Mapping[int, BuildingCalendar],
    year: SchoolYear,
    monday: dt.date,
    base: Base,
) -> list[LineWeek]:
    if base.owed is not None:
        settled = base.owed
        return [line_week(line, Owed(*settled[line.pk]), monday) for line in lines if line.pk in settled]
    counted = sessions_counted(mine, lines, calendars, year, monday, base)
    return [line_week(line, counted[line.pk], monday) for line in lines]


@dataclass(frozen=True, slots=True)
class LinePeriods:
    """A line that owes by periods of several weeks, and what the weeks of a term owe of each."""

    line: ServiceLine
    periods: tuple[PeriodOwed, ...]


def periods_owed(teacher: Person, mondays: Sequence[dt.date]) -> list[LinePeriods]:
    """What the teacher's lines by the month, marking period or year owe in these weeks together.

    Other published weeks of the same periods count as placed; these weeks as if they were empty. Lines whose
    frequency can't be counted are left out: each week says what is missing. Raises as ``load_week`` does.
    """
    first, last = mondays[0], mondays[-1] + dt.timedelta(days=6)
    mine, district = load_teacher(teacher), district_of_teacher(teacher)
    lines = [one for one in lines_of(teacher, first, last) if one.unit in BY_PERIOD]
    if not lines:
        return []
    year = school_year_of(district, first, last)
    periods = PeriodsOf(
        mine,
        load_calendars(district, _known((), lines), year),
        year,
        tuple(MarkingPeriod.objects.filter(school_year=year)),
    )
    empty = Base(planned={monday: WeekContent() for monday in mondays})
    versions = versions_of(lines)
    placed = placed_of(teacher, lines, versions, year, first, empty)
    known = known_from(teacher, first, empty.planned)
    days = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
    found = []
    for line in lines:
        with suppress(QuotaError, FrequencyError):
            owed = owed_by_period(
                line, days, periods.of(line), placed[line.pk], known, versions.get(line.service_id, ())
            )
            found.append(LinePeriods(line, tuple(owed)))
    return found


def _make_ups(lines: Sequence[ServiceLine], monday: dt.date, base: Base) -> list[tuple[LineWeek, ...]]:
    """Make-ups that are asked for, and those that stay, of services in force."""
    wanted = Counter(base.make_ups) | make_ups_of(base.settled)
    by_id = {line.pk: line for line in lines}
    return [
        tuple(line_week(by_id[line], Owed(count, one.minutes, "A make-up."), monday) for line in one.lines)
        for one, count in sorted(wanted.items())
        if all(line in by_id for line in one.lines)
    ]

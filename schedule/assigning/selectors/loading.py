"""A district's teachers, students and buildings as the question who serves whom, in the first usual week of a day.

What is owed, and when it could begin, is counted as for planned weeks; weeks in force of the teachers who take part
are in nobody's way. Nothing is written here, and no name of a student goes into the question: codes only.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from accounts.errors import ApplicationError
from accounts.models import District, Person
from caseload.plans.enrollment.selectors import students_to_hand_over
from caseload.plans.models import ServiceLine
from schedule.assigning.asking import BaseFacts, Shareable, grouped, post_minutes
from schedule.assigning.selectors.posts import PostFacts, posts_on
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, school_year_of
from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.days import Day, Place
from schedule.planner.requirements import ProblemError
from schedule.weeks.planning.assemble import Base, TeacherRows
from schedule.weeks.planning.line_week import line_week
from schedule.weeks.planning.load import (
    buildings_taught,
    check_one_clock,
    lines_of,
    load_teacher,
    monday_of,
)
from schedule.weeks.planning.owing.counted import sessions_counted
from schedule.weeks.planning.rules import Span, contract_span, planner_days
from schedule.weeks.planning.sources import load_sources
from schedule.weeks.planning.units import Units, build_units
from travel.drives.selectors import Clock, DriveTable, drive_table
from travel.drives.time_of_day import DAY_MINUTES
from travel.places.models import Building

WEEK, TO_SUNDAY = dt.timedelta(days=7), dt.timedelta(days=6)
LOOK_AHEAD = 6
"""Weeks from the first day among which the one with the most school days is taken."""


@dataclass(frozen=True, slots=True)
class LoadedStaffing:
    """The question, and what is told of it. ``riders``: students without minutes that week, by teacher's id."""

    question: Staffing
    monday: dt.date
    riders: Mapping[str, tuple[BaseFacts, ...]]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Ground:
    """What all teachers have in common."""

    district: District
    monday: dt.date
    calendars: Mapping[int, BuildingCalendar]
    contract: Mapping[dt.date, Span]
    rows: Mapping[int, TeacherRows]
    posts: Mapping[int, PostFacts]
    lines: Mapping[int, Sequence[ServiceLine]]
    buildings: Mapping[int, Building]


def staffing_load(
    district: District,
    teachers: Sequence[Person],
    first_day: dt.date,
    asker: Person,
    beside: Building | None = None,
) -> LoadedStaffing:
    """Read everything. Raises ``ApplicationError`` with a remedy that names teacher or building.

    ``beside``: a building that has part in it though nobody may be served there yet.

    Drives are the roads' and the district's: whoever will drive isn't known, so nobody's own minutes count.
    """
    ground = _ground(district, teachers, first_day, beside)
    served: list[YearService] = []
    notes: list[str] = []
    for teacher in teachers:
        if ground.lines[teacher.pk]:
            units = _units(ground, teacher)
            served += _services(ground, teacher, units)
            notes += _unclear(teacher, units)
    if not served:
        raise ApplicationError(
            "None of these teachers has a service in force then. Choose another first day, or enter services.",
            code="no_services",
        )
    drives = drive_table(asker, ground.buildings.values(), clock=_hours(ground.contract))
    drives.refuse_gaps()
    try:
        question = _question(ground, teachers, served, drives, beside)
    except ProblemError as error:
        raise ApplicationError(f"{error.message} {error.remedy}", code="rules_contradict") from error
    riders = {str(one.pk): tuple(_riders(ground, one, served)) for one in teachers}
    return LoadedStaffing(question, ground.monday, riders, (*notes, *drives.warnings))


# ---- the week and who works in it -----------------------------------------------------------------------------


def _ground(district: District, teachers: Sequence[Person], first_day: dt.date, beside: Building | None) -> _Ground:
    rows, posts = {one.pk: _rows(one) for one in teachers}, posts_on(teachers, first_day)
    until = first_day + LOOK_AHEAD * WEEK
    every = {one.pk: lines_of(one, first_day, until) for one in teachers}
    taught = buildings_taught(chain.from_iterable(every.values()), first_day, until)
    more = () if beside is None else (beside,)
    buildings = {one.pk: one for one in [*taught, *_ends(rows.values(), posts.values()), *more]}
    year = school_year_of(district, first_day, until)
    calendars = load_calendars(district, list(buildings.values()), year)
    monday = _usual_monday(first_day, [calendars[one.pk] for one in taught])
    check_one_clock(list(buildings.values()), monday)
    contract = _widest(rows.values(), monday, calendars.values())
    lines = {pk: _owed(several, monday) for pk, several in every.items()}
    return _Ground(district, monday, calendars, contract, rows, posts, lines, buildings)


def _rows(teacher: Person) -> TeacherRows:
    """The teacher's rules without what is in the way on single dates: a year is shared out, not a week."""
    try:
        mine = load_teacher(teacher)
    except ApplicationError as error:
        raise ApplicationError(f"{teacher}: {error.message}", code=error.code) from error
    return replace(mine, busy={}, meetings=tuple(one for one in mine.meetings if one.date is None))


def _ends(rows: Iterable[TeacherRows], posts: Iterable[PostFacts]) -> Iterator[Building]:
    """Where days begin and end, and where meetings are held."""
    for one in rows:
        places = [one.rules.start_place, one.rules.end_place, *(meeting.building for meeting in one.meetings)]
        yield from (place for place in places if place is not None)
    yield from (one.base for one in posts if one.base is not None)


def _owed(lines: Iterable[ServiceLine], monday: dt.date) -> list[ServiceLine]:
    """Those that are in force in the week."""
    return [one for one in lines if one.start <= monday + TO_SUNDAY and one.end >= monday]


def _usual_monday(first_day: dt.date, calendars: Sequence[BuildingCalendar]) -> dt.date:
    """The first of the weeks ahead in which the buildings are open most."""
    first = monday_of(first_day) if first_day.weekday() == 0 else monday_of(first_day) + WEEK

    def days_open(monday: dt.date) -> int:
        return sum(one.facts(monday + dt.timedelta(days=n)).open for one in calendars for n in range(7))

    return max((first + n * WEEK for n in range(LOOK_AHEAD)), key=days_open)


def _widest(
    rows: Iterable[TeacherRows], monday: dt.date, calendars: Iterable[BuildingCalendar]
) -> dict[dt.date, Span]:
    """From the first start to the last end of all contracts, on each date with school on which somebody works."""
    known, calendars = list(rows), list(calendars)
    dates = [monday + dt.timedelta(days=n) for n in range(7)]
    spans = {date: _spans(known, date) for date in dates if any(date in one.open_dates for one in calendars)}
    found = {date: (min(a for a, _ in each), max(z for _, z in each)) for date, each in spans.items() if each}
    if not found:
        raise ApplicationError(
            "In the weeks after the first day there is no school day on which these teachers work. Choose another "
            "first day, or check the calendar and the contract days.",
            code="no_school_days",
        )
    return found


def _spans(rows: Iterable[TeacherRows], date: dt.date) -> list[Span]:
    """The contract hours of everybody who works on a date."""
    return [contract_span(one.contract[date.weekday()]) for one in rows if date.weekday() in one.contract]


def _hours(contract: Mapping[dt.date, Span]) -> Clock:
    return Clock(first=min(begin for begin, _ in contract.values()), last=max(end for _, end in contract.values()))


# ---- what is owed ---------------------------------------------------------------------------------------------


def _units(ground: _Ground, teacher: Person) -> Units:
    """The teacher's services of the week, with every start that anybody's contract leaves."""
    mine, lines = ground.rows[teacher.pk], ground.lines[teacher.pk]
    places = {one.pk for one in buildings_taught(lines, ground.monday, ground.monday + TO_SUNDAY)}
    calendars = {pk: calendar for pk, calendar in ground.calendars.items() if pk in places}
    sources = load_sources(
        teacher=teacher,
        district=ground.district,
        calendars=calendars,
        contract=ground.contract,
        students=list({line.plan.student.pk: line.plan.student for line in lines}.values()),
        together=list(ground.rows),
    )
    year = school_year_of(ground.district, ground.monday, ground.monday + TO_SUNDAY)
    owed = sessions_counted(mine, lines, ground.calendars, year, ground.monday, Base())
    weeks = [line_week(one, owed[one.pk], ground.monday) for one in lines]
    return build_units([one for one in weeks if one.owed.sessions > 0], sources, mine.rules)


def _services(ground: _Ground, teacher: Person, units: Units) -> list[YearService]:
    students = {line.pk: str(line.plan.student_id) for line in ground.lines[teacher.pk]}
    licensed = first_field(ground.posts[teacher.pk])
    return [
        YearService(
            id=f"{teacher.pk}:{one.key}",
            place=ground.buildings[one.building].code,
            field=licensed,
            minutes=one.minutes,
            sessions=one.sessions,
            students=tuple(dict.fromkeys(students[line] for line in one.lines)),
            klass=f"{teacher.pk}:{one.school_class}" if one.school_class is not None else None,
            last=str(teacher.pk),
            starts=one.starts,
            days_apart=one.days_apart,
            label=one.label,
        )
        for one in grouped(_served(units))
    ]


def _served(units: Units) -> Iterator[Shareable]:
    """Each service and group of a week, as it is shared out."""
    by_id = {one.id: one for one in units.services}
    for key, info in units.infos.items():
        if key in by_id:
            service = by_id[key]
            members: tuple[str, ...] = (key,)
            minutes, starts = service.minutes, service.starts
        else:
            group = next(one for one in units.groups if one.id == key)
            members, minutes, starts = group.members, group.minutes, group.starts
            service = by_id[members[0]]
        counts = {by_id[one].sessions for one in members}
        yield Shareable(
            key=key,
            members=members,
            lines=info.lines,
            building=info.building,
            school_class=info.school_class,
            minutes=minutes,
            sessions=service.sessions if len(counts) == 1 else 0,
            days_apart=max(by_id[one].days_apart for one in members),
            starts=starts,
            label=info.label,
        )


def _unclear(teacher: Person, units: Units) -> Iterator[str]:
    """What has no possible time as bells and classes stand now: it is counted at any bell."""
    count = sum(not one.starts for one in units.services)
    if count:
        services = "1 service has" if count == 1 else f"{count} services have"
        yield f"{teacher}: {services} no possible time as bells, classes and spaces stand; any bell counts for it."


def _riders(ground: _Ground, teacher: Person, served: Iterable[YearService]) -> Iterator[BaseFacts]:
    """The teacher's students without minutes in that week: they are handed over with the others."""
    known = {student for one in served if one.last == str(teacher.pk) for student in one.students}
    rows = students_to_hand_over(teacher, ground.monday).select_related("building").order_by("pk")
    for student in rows:
        if str(student.pk) not in known:
            yield BaseFacts(str(student.pk), student.building.code, student.marked_code)


# ---- the question ---------------------------------------------------------------------------------------------


def first_field(post: PostFacts) -> str:
    """The field of a teacher's own students: the first that is named."""
    return fields_of(post)[0]


def fields_of(post: PostFacts) -> tuple[str, ...]:
    """The fields of a post, in the order in which they were entered; one without a name where none was."""
    return tuple(one.strip().casefold() for one in post.field.split(",") if one.strip()) or ("",)


def _question(
    ground: _Ground,
    teachers: Sequence[Person],
    served: Sequence[YearService],
    drives: DriveTable,
    beside: Building | None,
) -> Staffing:
    taught = {one.place for one in served} | ({beside.code} if beside is not None else set())
    sites = [one for one in ground.buildings.values() if one.code in taught]
    whole = max(_contract_minutes(one) for one in ground.rows.values())
    return Staffing(
        teachers=tuple(_itinerant(ground, one, served, whole) for one in teachers),
        sites=tuple(_site(ground, one) for one in sites),
        services=tuple(served),
        drive_minutes=_matrix(ground, lambda one, other: min(drives.minutes(one, other), DAY_MINUTES)),
        bases=tuple(_place(one) for one in ground.buildings.values() if one.code not in taught),
        miles=_matrix(ground, lambda one, other: _tenths(drives, one, other)),
    )


def _contract_minutes(mine: TeacherRows) -> int:
    return sum(end - begin for begin, end in map(contract_span, mine.contract.values()))


def _itinerant(ground: _Ground, teacher: Person, served: Sequence[YearService], whole: int) -> Itinerant:
    mine, post = ground.rows[teacher.pk], ground.posts[teacher.pk]
    base = post.base or mine.rules.start_place
    days = _days(ground, mine, base)
    if not days:
        raise ApplicationError(
            f"{teacher} has no contract day on a school day of that week. Check the contract hours, or leave the "
            "teacher out.",
            code="no_school_days",
        )
    names = {one.pk: one.code for one in ground.buildings.values()}
    return Itinerant(
        id=str(teacher.pk),
        name=str(teacher),
        base=base.code if base is not None else _most_served(served, str(teacher.pk)),
        days=days,
        fields=frozenset(fields_of(post)),
        most_minutes=post_minutes(post.share, whole, _contract_minutes(mine), _kept_free(mine)),
        not_places=frozenset(names[pk] for pk in post.not_at if pk in names),
    )


def _kept_free(mine: TeacherRows) -> int:
    """Minutes a day that no session may take."""
    rules = mine.rules
    daily = rules.preparation_minutes if rules.preparation_per == rules.PreparationPer.DAY else 0
    return rules.lunch_minutes + daily


def _days(ground: _Ground, mine: TeacherRows, base: Building | None) -> tuple[Day, ...]:
    """The teacher's contract days; a post's base is where they begin and end."""
    dates = [one for one in ground.contract if one.weekday() in mine.contract]
    days = planner_days(dates, mine.contract, mine.rules, mine.meetings).days
    return days if base is None else tuple(replace(one, start_place=base.code, end_place=base.code) for one in days)


def _most_served(served: Sequence[YearService], teacher: str) -> str:
    """Where most of a teacher's minutes are, of one whose base nobody entered."""
    minutes: dict[str, int] = {}
    for one in served:
        minutes[one.place] = minutes.get(one.place, 0) + (one.week_minutes if one.last == teacher else 0)
    return max(minutes, key=lambda place: (minutes[place], place))


def _site(ground: _Ground, building: Building) -> Site:
    """The building with its bells of the week."""
    periods = list(_periods(ground, building))
    bells = tuple(sorted({begin for begin, _ in periods}))
    spans = periods or list(ground.contract.values())
    return Site(_place(building), min(begin for begin, _ in spans), max(end for _, end in spans), bells)


def _periods(ground: _Ground, building: Building) -> Iterator[Span]:
    """Start and end of each period of the week's open days."""
    for date in ground.contract:
        facts = ground.calendars[building.pk].facts(date)
        if facts.open and facts.bells is not None:
            yield from ((one.start, one.end) for one in facts.bells.periods)


def _place(building: Building) -> Place:
    return Place(building.code, building.name, building.arrive_minutes, building.leave_minutes)


def _tenths(drives: DriveTable, one: int, other: int) -> int:
    """Tenths of a mile; 0 where nobody knows the distance."""
    leg = drives.distances.get((one, other))
    return 0 if leg is None or leg.miles is None else round(10 * leg.miles)


def _matrix(ground: _Ground, value: Callable[[int, int], int]) -> dict[str, dict[str, int]]:
    rows = ground.buildings.values()
    return {one.code: {other.code: value(one.pk, other.pk) for other in rows if other.pk != one.pk} for one in rows}

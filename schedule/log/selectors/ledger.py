"""The minutes ledger of students: calendar, published weeks and log put together for caseload's core.

The number of queries is fixed: it depends neither on how many students are asked for nor on the size of the
district. `docs/minutes-ledger.md` says how a number comes about.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Min

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_THERE
from caseload.delivery.in_force import counted_together, in_force
from caseload.delivery.models import LedgerSettings
from caseload.delivery.rows import (
    LedgerRow,
    LineLedger,
    LoggedEntry,
    PlanChange,
    PlannedDate,
    StudentLedger,
    build_line_ledger,
    by_service,
    join_log,
    rows_by_service,
    under_versions,
    version_on,
)
from caseload.delivery.selectors.compensatory import compensatory_of, with_given
from caseload.delivery.selectors.known import entries_known, lines_known, rule_book_known
from caseload.delivery.selectors.log import entries_of, plan_changes_of, rule_book_of, settings_of
from caseload.ledger.compensatory import CompensatoryAccount
from caseload.ledger.terms import LedgerCalendar, RuleBook, Span
from caseload.plans.enrollment.selectors import enrollments_known
from caseload.plans.frequency import FrequencyUnit
from caseload.plans.models import ServiceLine, Student, enrollments_of, stays_of
from schedule.calendar.models import MarkingPeriod, SchoolYear
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, minutes_of
from schedule.calendar.selectors.student_days import StudentDays
from schedule.log.known import KnownOn
from schedule.weeks.models import SessionAttendee, WeekPlan
from schedule.weeks.selectors.leaving import gone_among, teacher_gone
from travel.places.models import Building

NO_YEAR = "The calendar has no school year for this date. Add the school year."
ONE_DAY = dt.timedelta(days=1)


def student_ledger(viewer: Person, student: Student, as_of: dt.date, known: KnownOn | None = None) -> StudentLedger:
    """The ledger of a student up to a date (included), now or as it was known on a day.

    Raises `ApplicationError`: 404 for a student whom the viewer can't see, ``calendar_unusable`` where the
    building's bells or rotation can't be read.
    """
    found = student_ledgers(viewer, [student.pk], as_of, known)
    if not found:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return found[0]


def student_ledgers(
    viewer: Person, students: Iterable[int], as_of: dt.date, known: KnownOn | None = None
) -> tuple[StudentLedger, ...]:
    """The ledgers of those students whom the viewer may see, by name; the number of queries is fixed."""
    rows = Student.objects.visible_to(viewer).filter(pk__in=list(students)).select_related("building__district")
    found = list(rows)
    if not found or viewer.district is None:
        return ()
    return ledgers_of(viewer.district, found, as_of, known)


def ledgers_of(
    district: District, students: Sequence[Student], as_of: dt.date, known: KnownOn | None = None
) -> tuple[StudentLedger, ...]:
    """The ledgers of students of one district, whoever looks: the caller has narrowed them down.

    As they were `known` on a day: log, decisions, services, enrollments and rules of then; the calendar and weeks
    of now.
    """
    loaded = _load(district, students, as_of, known)
    return tuple(_student_ledger(loaded, student) for student in students)


@dataclass(frozen=True, slots=True)
class _PastYear:
    """A school year before the one asked for, with the calendars of its buildings."""

    year: SchoolYear
    marking_periods: tuple[Span, ...]
    calendars: Mapping[int, BuildingCalendar]


@dataclass(frozen=True, slots=True)
class _Loaded:
    """Everything that the ledgers of some students are made of."""

    as_of: dt.date
    year: SchoolYear | None
    window: Span | None
    settings: LedgerSettings
    rules: RuleBook
    marking_periods: tuple[Span, ...]
    calendars: Mapping[int, BuildingCalendar]
    earlier: tuple[_PastYear, ...]
    lines: Mapping[int, list[ServiceLine]]
    planned: Mapping[int, list[PlannedDate]]
    logged: Mapping[int, list[LoggedEntry]]
    first_weeks: Mapping[int, dt.date]
    changes: Mapping[int, list[PlanChange]]
    compensatory: Mapping[int, list[CompensatoryAccount]]


def _load(district: District, students: Sequence[Student], as_of: dt.date, known: KnownOn | None) -> _Loaded:
    ids = [student.pk for student in students]
    years = _years(district)
    year, window = _year_at(years, as_of)
    lines = list(
        ServiceLine.objects.filter(plan__student__in=ids)
        .select_related("plan__student__building", "provider")
        .prefetch_related("plan__student__enrollments__building")
        .order_by("start", "pk")
    )
    if known is not None:
        lines = lines_known(district, lines, known.moment)
        _enroll_as_known(district, [*students, *(line.plan.student for line in lines)], known)
    buildings = {one.building_id: one.building for line in lines for one in enrollments_of(line.plan.student)}
    settings = settings_of(district, as_of)
    return _Loaded(
        as_of=as_of,
        year=year,
        window=window,
        settings=settings,
        rules=rule_book_of(district) if known is None else rule_book_known(district, known.moment),
        marking_periods=_marking_periods(year),
        calendars=_calendars(district, buildings.values(), year),
        earlier=_past_years(district, buildings.values(), _before(years, year, lines)),
        lines=_grouped(lines, lambda line: line.plan.student_id),
        planned=_planned(ids),
        logged=entries_of(ids) if known is None else entries_known(ids, known.moment),
        first_weeks=_first_weeks({line.provider_id for line in lines}),
        changes=plan_changes_of(lines),
        compensatory=compensatory_of(ids, as_of, None if known is None else known.moment),
    )


def _enroll_as_known(district: District, students: Iterable[Student], known: KnownOn) -> None:
    """Have students be where they were known to be."""
    every = list(students)
    then = enrollments_known(district, {one.pk for one in every}, known.moment)
    for one in every:
        one.enrollments_then = then.get(one.pk, ())


def _grouped[R](rows: Iterable[R], key: Callable[[R], int]) -> dict[int, list[R]]:
    found: dict[int, list[R]] = defaultdict(list)
    for row in rows:
        found[key(row)].append(row)
    return found


def _years(district: District) -> list[SchoolYear]:
    return list(SchoolYear.objects.filter(district=district).order_by("first_day"))


def _year_at(years: Sequence[SchoolYear], day: dt.date) -> tuple[SchoolYear | None, Span | None]:
    """The school year that holds a date or ended before it, with the days until the next one begins."""
    begun = [year for year in years if year.first_day <= day]
    year = begun[-1] if begun else next(iter(years), None)
    if year is None:
        return None, None
    following = [other.first_day for other in years if other.first_day > year.first_day]
    last = min(following) - ONE_DAY if following else max(year.last_day, day)
    return year, Span(year.name, year.first_day, last)


def _marking_periods(year: SchoolYear | None) -> tuple[Span, ...]:
    if year is None:
        return ()
    rows = MarkingPeriod.objects.filter(school_year=year).order_by("first_day")
    return tuple(Span(row.name, row.first_day, row.last_day) for row in rows)


def _calendars(
    district: District, buildings: Iterable[Building], year: SchoolYear | None
) -> dict[int, BuildingCalendar]:
    return load_calendars(district, list(buildings), year) if year is not None else {}


def _before(years: Iterable[SchoolYear], year: SchoolYear | None, lines: Iterable[ServiceLine]) -> list[SchoolYear]:
    """The school years before one in which some of these services were in force, oldest first."""
    since = min((line.start for line in lines), default=None)
    if year is None or since is None:
        return []
    return [one for one in years if one.first_day < year.first_day and one.last_day >= since]


def _past_years(
    district: District, buildings: Iterable[Building], years: Iterable[SchoolYear]
) -> tuple[_PastYear, ...]:
    """School years with the calendars of some buildings."""
    return tuple(_PastYear(one, _marking_periods(one), _calendars(district, buildings, one)) for one in years)


def _planned(students: Collection[int]) -> dict[int, list[PlannedDate]]:
    """Sessions of published weeks by student."""
    published = SessionAttendee.objects.filter(
        student__in=students, session__week__status=WeekPlan.Status.PUBLISHED
    )
    held = published.exclude(teacher_gone("session__week__teacher", "session__date"))
    gone = gone_among(held)
    rows = held.values_list(
        "session__uid",
        "service_line_id",
        "student_id",
        "session__date",
        "session__start",
        "session__end",
        "session__makes_up",
        "session__week__teacher_id",
    )
    off = gone.left | gone.handed_over
    dates = (
        PlannedDate(uid, line, student, date, start, minutes_of(end) - minutes_of(start), makes_up, teacher)
        for uid, line, student, date, start, end, makes_up, teacher in rows
        if (uid, line) not in off
    )
    return _grouped(dates, lambda one: one.student_id)


def _first_weeks(teachers: Collection[int]) -> dict[int, dt.date]:
    """The first Monday that was ever published, by teacher."""
    rows = WeekPlan.objects.filter(teacher__in=teachers, status=WeekPlan.Status.PUBLISHED).values("teacher")
    return {row["teacher"]: row["first"] for row in rows.annotate(first=Min("monday")).order_by()}


# ---- one student -----------------------------------------------------------------------------------------


def _student_ledger(loaded: _Loaded, student: Student) -> StudentLedger:
    lines = loaded.lines.get(student.pk, [])
    planned = under_versions(loaded.planned.get(student.pk, ()), lines)
    logged = [one for one in loaded.logged.get(student.pk, ()) if one.compensatory is None]
    given = [one for one in loaded.logged.get(student.pk, ()) if one.date <= loaded.as_of]
    rows = join_log(planned, under_versions(logged, lines))
    found = rows_by_service(rows, lines)
    known_from = _known_from(loaded, rows)
    ledgers = [
        _service_ledger(loaded, versions, found.get(service, []), known_from)
        for service, versions in by_service(lines).items()
    ]
    return StudentLedger(
        student=student,
        as_of=loaded.as_of,
        year=loaded.window,
        rules=loaded.rules,
        lines=tuple(one for one in ledgers if one is not None),
        changes=tuple(loaded.changes.get(student.pk, ())),
        compensatory=with_given(loaded.compensatory.get(student.pk, ()), given),
    )


type _KnownFrom = Callable[[Sequence[ServiceLine]], dt.date]


def _known_from(loaded: _Loaded, rows: Iterable[LedgerRow]) -> _KnownFrom:
    """From which day a service's minutes are counted.

    The district's own day; or else the first week that was published for one of its teachers or for the student, or
    the first entry of the log: nothing is known of what was held before. Before anything is planned, this week.
    """
    earliest = min((row.record.day for row in rows), default=None)

    def of(versions: Sequence[ServiceLine]) -> dt.date:
        if loaded.settings.counts_from is not None:
            return loaded.settings.counts_from
        published = (loaded.first_weeks.get(one.provider_id) for one in versions)
        known = [day for day in (earliest, *published) if day is not None]
        first = min(known, default=loaded.as_of)
        return first - dt.timedelta(days=first.weekday())

    return of


def _service_ledger(
    loaded: _Loaded, versions: Sequence[ServiceLine], rows: list[LedgerRow], known_from: _KnownFrom
) -> LineLedger | None:
    """A service's ledger, or None for one of another year that nothing stands under."""
    counts_from = known_from(versions)
    if loaded.year is None or loaded.window is None:
        current = version_on(versions, loaded.as_of)
        return LineLedger(current, tuple(versions), counts_from, tuple(rows), problem=NO_YEAR)
    if not _concerns(versions, rows, loaded.window, loaded.as_of):
        return None
    found = build_line_ledger(
        versions,
        _until(versions, rows, loaded.window.last),
        _calendar_for(versions, loaded.year, loaded.marking_periods, loaded.calendars),
        loaded.rules,
        counts_from,
        loaded.as_of,
        [_calendar_for(versions, one.year, one.marking_periods, one.calendars) for one in loaded.earlier],
    )
    is_now = any(_touches(one, loaded.year, loaded.window, loaded.as_of) for one in versions)
    return found if is_now or found.has_something else None


def _until(versions: Iterable[ServiceLine], rows: list[LedgerRow], last: dt.date) -> list[LedgerRow]:
    """Sessions up to the end of a year; a whole service may go on after it."""
    goes_on = any(one.unit == FrequencyUnit.TOTAL for one in versions)
    return rows if goes_on else [row for row in rows if row.record.day <= last]


def _touches(line: ServiceLine, year: SchoolYear, window: Span, as_of: dt.date) -> bool:
    """Whether a version is in force in the year, on a day that has come; a season has those named for it."""
    if line.extended_year != year.extended:
        return False
    first, last = in_force(line)
    return first <= min(window.last, as_of) and last >= window.first


def _concerns(versions: Iterable[ServiceLine], rows: Iterable[LedgerRow], window: Span, as_of: dt.date) -> bool:
    """Whether a service may have something to say: in force by now, or with a session of the year."""
    begun = min(window.last, as_of)
    return any(in_force(one)[0] <= begun for one in versions) or any(row.record.day in window for row in rows)


def _calendar_for(
    versions: Sequence[ServiceLine],
    year: SchoolYear,
    marking_periods: tuple[Span, ...],
    calendars: Mapping[int, BuildingCalendar],
) -> LedgerCalendar:
    """The days in session where the student was on each, and the turns of each version that counts in turns."""
    span = Span(year.name, year.first_day, year.last_day)
    stays = stays_of(versions[0].plan.student)
    found = {one.building_id: StudentDays(calendars, stays, one.building_id, span) for one in versions}
    turns = {
        str(one.pk): found[one.building_id].cycles(one.cycle_days, counted_together(one, versions)[0].start)
        for one in versions
        if one.unit == FrequencyUnit.CYCLE
    }
    return LedgerCalendar(span, _in_session(versions, found), marking_periods, turns=turns, extended=year.extended)


def _in_session(versions: Sequence[ServiceLine], found: Mapping[int | None, StudentDays]) -> frozenset[dt.date]:
    """Each day by the building that the version of that day names, where they name several."""
    if len(found) == 1:
        return next(iter(found.values())).in_session()
    return frozenset(
        day
        for building, days in found.items()
        for day in days.in_session()
        if version_on(versions, day).building_id == building
    )

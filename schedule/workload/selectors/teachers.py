"""Workloads of some teachers in one week: what plans owe on average, and what the week in force makes of it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from accounts.models import Person
from caseload.delivery.in_force import frequency_of, in_force
from caseload.ledger.workload import WorkloadWeek, YearLength, minutes_a_week, preparation_counted, rounded
from caseload.plans.frequency import FrequencyError
from caseload.plans.models import ServiceLine
from schedule.calendar.models import ContractDay, SchoolYear, TeacherRules
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, UnplacedSession, WeekPlan

WEEK = dt.timedelta(days=7)
SUPPORT = (DayItem.Kind.PREPARATION, DayItem.Kind.MEETING)
Type = ServiceLine.Type


@dataclass(frozen=True, slots=True)
class PlannedWorkload:
    """What a week in force is made of, in minutes, as it was published; closings since then change nothing here.

    `support` is preparation and meetings; `preparation` is the part of it in blocks that are long enough to count.
    `travel` runs from packing up to being signed in, `wheel` is its part at the wheel. `above` the contract's
    minutes without lunch, negative where there is room; None without contract days. `unplaced` is owed and found no
    place.
    """

    week_id: int
    direct: int
    consultation: int
    support: int
    preparation: int
    travel: int
    wheel: int
    miles: Decimal
    total: int
    above: int | None
    unplaced: int

    @property
    def room(self) -> int:
        """Minutes that the contract leaves; 0 where it leaves none or isn't known."""
        return max(0, -(self.above or 0))


@dataclass(frozen=True, slots=True)
class TeacherWorkload:
    """One teacher: whom plans name as provider. `owed_*` are minutes of an average week.

    `unclear`: services whose plan doesn't say how much that is. `contract`: minutes of a usual week without lunch,
    None without contract days. `planned` is None where no week is in force.
    """

    teacher_id: int
    teacher: str
    students: int
    schools: int
    owed_direct: int
    owed_consultation: int
    unclear: int
    contract: int | None
    planned: PlannedWorkload | None

    @property
    def owed(self) -> int:
        """Minutes of both kinds."""
        return self.owed_direct + self.owed_consultation


def places_of(lines: Iterable[ServiceLine], monday: dt.date) -> set[int]:
    """The buildings where services are given in a week: where students are, or another one in which it is held."""
    last = monday + WEEK - dt.timedelta(days=1)
    return {place for line in lines for place in _places_of(line, monday, last)}


def _places_of(line: ServiceLine, first: dt.date, last: dt.date) -> Collection[int]:
    return line.places(first, last) if line.held_in is None else (line.held_in.building_id,)


def workloads_of(viewer: Person, teachers: Sequence[Person], monday: dt.date) -> tuple[TeacherWorkload, ...]:
    """The workload of some teachers, in their order; the caller has narrowed them to what the viewer may see.

    The number of queries doesn't grow with the teachers, but the rows that are read do: ask for a page of them.
    """
    lines = _lines(viewer, teachers, monday)
    planned = _planned(viewer, teachers, monday)
    year = year_length(viewer, monday)
    return tuple(_teacher(one, lines[one.pk], planned[one.pk], year, monday) for one in teachers)


# ---- what plans owe --------------------------------------------------------------------------------------


def _lines(viewer: Person, teachers: Sequence[Person], monday: dt.date) -> Mapping[int, list[ServiceLine]]:
    """Services in force on any day of the week, by provider; none for a student who isn't at the school then."""
    last = monday + WEEK - dt.timedelta(days=1)
    rows = ServiceLine.objects.visible_to(viewer).filter(provider__in=teachers).owed_between(monday, last)
    found: dict[int, list[ServiceLine]] = defaultdict(list)
    rows = rows.select_related("plan__student__building", "held_in")
    for row in rows.prefetch_related("plan__student__enrollments"):
        begins, ends = in_force(row)
        if begins <= min(ends, last) and ends >= monday:
            found[row.provider_id].append(row)
    return found


def year_length(viewer: Person, monday: dt.date) -> YearLength | None:
    """The school year in which a week lies, for averages; None without one."""
    years = SchoolYear.objects.visible_to(viewer).filter(first_day__lt=monday + WEEK, last_day__gte=monday)
    year = years.prefetch_related("marking_periods").order_by("first_day").first()
    if year is None:
        return None
    return YearLength(weeks_touched(year.first_day, year.last_day), len(year.marking_periods.all()))


def weeks_touched(first: dt.date, last: dt.date) -> int:
    """Weeks that two dates touch, from Monday to Sunday."""
    start = first - dt.timedelta(days=first.weekday())
    return (last - start).days // 7 + 1


def _owed(lines: Iterable[ServiceLine], year: YearLength | None) -> tuple[int, int]:
    """Minutes of an average week, and how many services leave them open."""
    total, unclear = Fraction(0), 0
    for line in lines:
        try:
            minutes = minutes_a_week(frequency_of(line), year, weeks_touched(*in_force(line)))
        except FrequencyError:
            minutes = None
        total += minutes or 0
        unclear += minutes is None
    return rounded(total), unclear


# ---- what the week in force holds ------------------------------------------------------------------------


@dataclass(slots=True)
class _Planned:
    """Rows of one week in force, and the teacher's rules."""

    week_id: int
    sessions: list[PlannedSession]
    items: list[DayItem]
    consultation: set[int]
    unplaced: int
    smallest: int


@dataclass(frozen=True, slots=True)
class _Loaded:
    contract: int | None
    week: _Planned | None


def _planned(viewer: Person, teachers: Sequence[Person], monday: dt.date) -> dict[int, _Loaded]:
    weeks = WeekPlan.objects.visible_to(viewer).filter(
        teacher__in=teachers, monday=monday, status=WeekPlan.Status.PUBLISHED
    )
    rules = {row.teacher_id: row for row in TeacherRules.objects.visible_to(viewer).filter(teacher__in=teachers)}
    contract = _contract(viewer, teachers, rules)
    by_week = {}
    for week in weeks:
        own = rules.get(week.teacher_id)
        by_week[week.pk] = _Planned(week.pk, [], [], set(), 0, own.preparation_smallest_block if own else 1)
    _fill(by_week)
    by_teacher = {week.teacher_id: by_week[week.pk] for week in weeks}
    return {one.pk: _Loaded(contract.get(one.pk), by_teacher.get(one.pk)) for one in teachers}


def _fill(by_week: Mapping[int, _Planned]) -> None:
    """Sessions, items and what found no place, of all weeks at once."""
    for session in PlannedSession.objects.filter(week__in=by_week):
        by_week[session.week_id].sessions.append(session)
    for item in DayItem.objects.filter(week__in=by_week):
        by_week[item.week_id].items.append(item)
    for row in UnplacedSession.objects.filter(week__in=by_week):
        by_week[row.week_id].unplaced += row.minutes
    consulting = SessionAttendee.objects.filter(
        session__week__in=by_week, service_line__service_type=Type.CONSULTATION
    )
    for week_id, session_id in consulting.values_list("session__week", "session"):
        by_week[week_id].consultation.add(session_id)


def _contract(viewer: Person, teachers: Sequence[Person], rules: Mapping[int, TeacherRules]) -> dict[int, int]:
    """Minutes of a usual week by teacher: contract days, each less the duty-free lunch."""
    found: dict[int, int] = defaultdict(int)
    for day in ContractDay.objects.visible_to(viewer).filter(teacher__in=teachers):
        lunch = rules[day.teacher_id].lunch_minutes if day.teacher_id in rules else 0
        found[day.teacher_id] += minutes_of(day.end) - minutes_of(day.start) - lunch
    return found


# ---- together --------------------------------------------------------------------------------------------


def _teacher(
    teacher: Person,
    lines: Sequence[ServiceLine],
    loaded: _Loaded,
    year: YearLength | None,
    monday: dt.date,
) -> TeacherWorkload:
    direct, unclear = _owed((one for one in lines if one.service_type == Type.DIRECT), year)
    consultation, unclear_too = _owed((one for one in lines if one.service_type == Type.CONSULTATION), year)
    return TeacherWorkload(
        teacher_id=teacher.pk,
        teacher=str(teacher),
        students=len({line.plan.student_id for line in lines}),
        schools=len(places_of(lines, monday)),
        owed_direct=direct,
        owed_consultation=consultation,
        unclear=unclear + unclear_too,
        contract=loaded.contract,
        planned=None if loaded.week is None else _week(loaded.week, loaded.contract),
    )


def _of_kind(found: _Planned, kind: str) -> list[DayItem]:
    return [one for one in found.items if one.kind == kind]


def _week(found: _Planned, contract: int | None) -> PlannedWorkload:
    consultation = sum(_length(one) for one in found.sessions if one.pk in found.consultation)
    drives = _of_kind(found, DayItem.Kind.DRIVE)
    made = WorkloadWeek(
        direct=sum(map(_length, found.sessions)) - consultation,
        consultation=consultation,
        support=sum(_length(one) for one in found.items if one.kind in SUPPORT),
        travel=sum(map(_length, drives)),
    )
    blocks = [_length(one) for one in _of_kind(found, DayItem.Kind.PREPARATION)]
    return PlannedWorkload(
        week_id=found.week_id,
        direct=made.direct,
        consultation=made.consultation,
        support=made.support,
        preparation=preparation_counted(blocks, found.smallest),
        travel=made.travel,
        wheel=sum(one.drive_minutes for one in drives),
        miles=sum((one.miles for one in drives), Decimal(0)),
        total=made.total,
        above=None if contract is None else made.over(contract),
        unplaced=found.unplaced,
    )


def _length(row: PlannedSession | DayItem) -> int:
    return minutes_of(row.end) - minutes_of(row.start)

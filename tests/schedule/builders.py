"""Small builders of a district to plan in: two schools, bells, a teacher with rules. Invented names only.

The school year is 2026-27; September 14, 2026 is a Monday.
"""

import datetime as dt

from accounts.models import Person
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student
from schedule.calendar.models import (
    BellPeriod,
    BellSchedule,
    CalendarEntry,
    ContractDay,
    DayRotation,
    SchoolYear,
    TeacherRules,
)
from schedule.planner.problem import Session
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.outcome import Told, content_of, sessions_of_plan
from schedule.weeks.services.content import content_write
from schedule.weeks.timing import time_week
from schedule.weeks.versions.content import WeekContent
from tests.conftest import Cast
from travel.places.models import Building

MONDAY = dt.date(2026, 9, 14)
YEAR_START, YEAR_END = dt.date(2026, 9, 1), dt.date(2027, 6, 18)
# (name, start, end, kind, grades)
PERIODS = (
    ("1", "8:30", "9:15", "instruction", ""),
    ("2", "9:20", "10:05", "instruction", ""),
    ("3", "10:10", "10:55", "instruction", ""),
    ("Lunch", "11:00", "11:30", "lunch", ""),
    ("4", "11:35", "12:20", "instruction", ""),
    ("5", "12:25", "13:10", "instruction", ""),
    ("6", "13:15", "14:00", "instruction", ""),
)
SHORT_PERIODS = (
    ("1", "8:30", "9:00", "instruction", ""),
    ("2", "9:05", "9:35", "instruction", ""),
    ("3", "9:40", "10:10", "instruction", ""),
)


def at(text: str) -> dt.time:
    """``8:05`` as a time."""
    hour, minute = text.split(":")
    return dt.time(int(hour), int(minute))


def minute(text: str) -> int:
    """``8:05`` as minutes after midnight."""
    return at(text).hour * 60 + at(text).minute


def date(offset: int) -> dt.date:
    """A date of the week being planned: 0 is the Monday."""
    return MONDAY + dt.timedelta(days=offset)


def make_bells(
    building: Building,
    *,
    name: str = "Regular",
    kind: str = "regular",
    periods: tuple[tuple[str, str, str, str, str], ...] = PERIODS,
) -> BellSchedule:
    """A bell schedule with its periods."""
    bells = BellSchedule.objects.create(building=building, name=name, kind=kind, passing_minutes=5)
    for period, start, end, period_kind, grades in periods:
        BellPeriod.objects.create(
            schedule=bells, name=period, start=at(start), end=at(end), kind=period_kind, grades=grades
        )
    return bells


def make_ground(cast: Cast) -> TeacherRules:
    """School year, bells in both schools, contract 8:00 to 15:00, lunch; what every plan needs."""
    SchoolYear.objects.create(district=cast.district, name="2026-27", first_day=YEAR_START, last_day=YEAR_END)
    make_bells(cast.north)
    make_bells(cast.south)
    for weekday in range(5):
        ContractDay.objects.create(
            district=cast.district, teacher=cast.teacher, weekday=weekday, start=at("8:00"), end=at("15:00")
        )
    return TeacherRules.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        lunch_earliest=at("10:45"),
        lunch_latest_end=at("13:30"),
        preparation_minutes=30,
    )


def make_line(
    cast: Cast,
    code: str,
    *,
    building: Building | None = None,
    grade: str = "3",
    teacher: Person | None = None,
    home_class: SchoolClass | None = None,
    **values: object,
) -> ServiceLine:
    """A student with a plan and one line: 1 x 30 a week in a small group unless ``values`` say otherwise."""
    student = Student.objects.create(
        district=cast.district,
        building=building or cast.north,
        caseload_teacher=teacher or cast.teacher,
        code=code,
        first_name="Ilsabet",
        last_name=f"Quernmore-{code}",
        grade=grade,
        home_class=home_class,
    )
    plan = Plan.objects.create(student=student, start=YEAR_START, end=YEAR_END)
    fields: dict[str, object] = {
        "statement": "1 x 30 min/week",
        "times": 1,
        "minutes": 30,
        "setting": ServiceLine.Setting.SMALL_GROUP,
        "largest_group": 4,
        "start": plan.start,
        "end": plan.end,
    }
    fields.update(values)
    line = ServiceLine(plan=plan, provider=teacher or cast.teacher, **fields)
    line.full_clean()
    line.save()
    return line


def make_entry(
    cast: Cast, day: dt.date, kind: str, building: Building | None = None, title: str = "Wind day"
) -> CalendarEntry:
    """A calendar entry for one date, of the district or of one building."""
    return CalendarEntry.objects.create(
        district=cast.district, first_date=day, last_date=day, kind=kind, building=building, title=title
    )


def make_cycle(building: Building, *, length: int = 6, first: dt.date = MONDAY) -> DayRotation:
    """A rotation of so many days in which ``first`` is Day 1."""
    return DayRotation.objects.create(building=building, kind="cycle", length=length, anchor_date=first)


def starts_of(week: WeekInput, unit: str, day: dt.date | None = None) -> set[tuple[str, int]]:
    """(date, minute) of a unit's starts, of one date if given."""
    starts = week.problem.unit(unit).starts
    return {(one.day, one.at) for one in starts if day is None or one.day == day.isoformat()}


def minutes_on(week: WeekInput, unit: str, day: dt.date) -> set[int]:
    """Minutes at which a unit may begin on one date."""
    return {minute for _, minute in starts_of(week, unit, day)}


def make_week(
    cast: Cast, sessions: list[tuple[str, dt.date, str]], *, monday: dt.date = MONDAY, teacher: Person | None = None
) -> WeekPlan:
    """A draft with the given (unit, date, clock time) sessions, timed and judged as an edit would be."""
    owner = teacher or cast.teacher
    loaded = load_week(owner, monday)
    held = []
    for unit, day, clock in sessions:
        starts = [s for s in loaded.problem.unit(unit).starts if (s.day, s.at) == (day.isoformat(), minute(clock))]
        assert starts, f"{unit} has no start at {clock} on {day}"
        held.append(Session(unit, day.isoformat(), minute(clock), starts[0].place, starts[0].space))
    plan = time_week(loaded.problem, held)
    content: WeekContent = content_of(loaded, sessions_of_plan(loaded, plan, None), plan, Told())
    week = WeekPlan.objects.create(
        district=cast.district,
        teacher=owner,
        monday=monday,
        last_date=monday + dt.timedelta(days=6),
        created_by=owner,
    )
    content_write(week, content)
    return week

"""How far a district is set up, by a fixed number of queries."""

import datetime as dt

from django.db.models import Exists, Model, OuterRef, QuerySet
from django.urls import reverse

from accounts.models import Person
from caseload.plans.enrollment.selectors import students_anywhere
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student
from schedule.beginning.steps import SetUp, SetUpStep, StepWay, named, state_of
from schedule.calendar.models import BellSchedule, CalendarEntry, ContractDay, SchoolYear
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.pages import teachers_for
from travel.places.models import Building, Space


def set_up(viewer: Person, today: dt.date) -> SetUp:
    """What a first week needs, in the order in which it can be entered, with what of it is there."""
    schools = list(Building.objects.visible_to(viewer).order_by("name"))
    students = Student.objects.visible_to(viewer).filter(students_anywhere(today)).distinct()
    some = students.exists()
    steps = (
        *([_people(viewer)] if viewer.has_perm("people.change") else []),
        _schools(schools),
        _of_schools(
            "bells",
            "Bells",
            "When periods begin and end, for each sort of day. Sessions and lunch follow them.",
            schools,
            BellSchedule.objects.filter(kind=BellSchedule.Kind.REGULAR),
            "have no bells of a usual day",
            "bell-schedules",
        ),
        _of_schools(
            "spaces",
            "Gyms and other spaces",
            "Where classes meet, how many fit, and when others have them.",
            schools,
            Space.objects.all(),
            "have no space yet",
            "spaces",
        ),
        _year(viewer, today),
        _closings(viewer, today),
        _of_schools(
            "classes",
            "Classes",
            "Own classes and general classes that students are taught with.",
            schools,
            SchoolClass.objects.all(),
            "have none",
            "classes",
            optional=True,
        ),
        _students(students, ready=bool(schools), some=some),
        _services(viewer, students, today, some=some),
        _hours(viewer),
        _week(viewer, ready=some),
    )
    return SetUp(steps)


def _way(words: str, name: str, *args: object) -> StepWay:
    return StepWay(words, reverse(name, args=args))


def _table(kind: str) -> StepWay:
    return _way("From a table", "import_upload", kind)


def _count(number: int, one: str, several: str) -> str:
    return f"1 {one}" if number == 1 else f"{number} {several}"


def _people(viewer: Person) -> SetUpStep:
    people = Person.objects.filter(district=viewer.district_id, is_active=True).exclude(pk=viewer.pk).count()
    teachers = teachers_for(viewer).filter(is_active=True).count()
    missing = "" if teachers else "Nobody teaches yet: students and weeks need a teacher."
    return SetUpStep(
        "people",
        "Who signs in",
        "Teachers first; offices, substitutes and others when they are needed.",
        state_of(teachers, 0),
        _count(people, "other person", "other people") if people else "",
        missing,
        (_table("people"), _way("Add a person", "person_new")),
    )


def _schools(schools: list[Building]) -> SetUpStep:
    nowhere = [one.name for one in schools if one.latitude is None or one.longitude is None]
    missing = f"No place on the map: {named(nowhere)}. Drives need one." if nowhere else ""
    return SetUpStep(
        "schools",
        "Schools",
        "Where they are, where to park, and how long it takes from the car to the gym.",
        state_of(len(schools), len(nowhere)),
        _count(len(schools), "school", "schools") if schools else "",
        missing,
        (_table("buildings"), _way("Add a school", "building_new")),
    )


def _of_schools[M: Model](
    key: str,
    name: str,
    why: str,
    schools: list[Building],
    rows: QuerySet[M],
    lack: str,
    table: str,
    *,
    optional: bool = False,
) -> SetUpStep:
    """Something that each school has; where it is `optional`, one school that has it is enough."""
    have = set(rows.filter(building__in=schools).values_list("building", flat=True))
    without = [one for one in schools if one.pk not in have]
    lacking = [] if optional and have else without
    return SetUpStep(
        key,
        name,
        why,
        state_of(len(have), len(lacking), ready=bool(schools)),
        f"{len(have)} of {_count(len(schools), 'school', 'schools')}" if have else "",
        f"These {lack}: {named([one.name for one in lacking])}." if lacking else "",
        (_table(table), *(_way(f"By hand: {one.name}", "building_detail", one.pk) for one in without[:1])),
    )


def _year(viewer: Person, today: dt.date) -> SetUpStep:
    years = SchoolYear.objects.visible_to(viewer).filter(last_day__gte=today)
    return SetUpStep(
        "year",
        "The school year",
        "Its first and last day; minutes are counted in it.",
        state_of(years.count(), 0),
        ", ".join(str(one) for one in years[:3]),
        "",
        (_way("Add a school year", "school_year_new"),),
    )


def _closings(viewer: Person, today: dt.date) -> SetUpStep:
    ahead = CalendarEntry.objects.visible_to(viewer).filter(last_date__gte=today).count()
    return SetUpStep(
        "calendar",
        "Days without school",
        "Holidays, recesses and short days: nothing is planned on closed ones.",
        state_of(ahead, 0),
        _count(ahead, "special day ahead", "special days ahead") if ahead else "",
        "",
        (
            _way("From a calendar file", "calendar_import"),
            _way("From an address", "calendar_source_new"),
            _way("Public holidays", "holidays_import"),
            _way("Add a special day", "calendar_entry_new"),
        ),
    )


def _students(students: QuerySet[Student], *, ready: bool, some: bool) -> SetUpStep:
    return SetUpStep(
        "students",
        "Students",
        "Who has a plan, or waits for one, with school, grade and class.",
        state_of(int(some), 0, ready=ready),
        _count(students.count(), "student", "students") if some else "",
        "",
        (_table("students"), _way("Add a student", "student_new")),
    )


def _services(viewer: Person, students: QuerySet[Student], today: dt.date, *, some: bool) -> SetUpStep:
    lines = ServiceLine.objects.owed_between(today, dt.date.max).filter(plan__student=OuterRef("pk"))
    without = students.exclude(Exists(lines)).count()
    plans = Plan.objects.visible_to(viewer).filter(end__gte=today).count()
    missing = f"{_count(without, 'student has', 'students have')} no service in force or ahead." if without else ""
    return SetUpStep(
        "plans",
        "Plans and services",
        "What each plan owes: how often, how long, in which setting, from when to when.",
        state_of(plans, without, ready=some),
        _count(plans, "plan in force or ahead", "plans in force or ahead") if plans else "",
        missing,
        (_table("plans"), _way("Open the students", "student_list")),
    )


def _hours(viewer: Person) -> SetUpStep:
    teachers = list(teachers_for(viewer).filter(is_active=True))
    have = set(ContractDay.objects.filter(teacher__in=teachers).values_list("teacher", flat=True))
    without = [str(one) for one in teachers if one.pk not in have]
    return SetUpStep(
        "hours",
        "Teachers' hours and rules",
        "When each works, lunch, preparation, and what a week should keep to.",
        state_of(len(have), len(without), ready=bool(teachers)),
        f"{len(have)} of {_count(len(teachers), 'teacher', 'teachers')}" if have else "",
        f"No hours yet: {named(without)}." if without else "",
        (
            StepWay("Hours from a table", reverse("import_upload", args=["contract-days"])),
            StepWay("Rules from a table", reverse("import_upload", args=["teacher-rules"])),
            _way("By hand", "teacher_rules"),
        ),
    )


def _week(viewer: Person, *, ready: bool) -> SetUpStep:
    weeks = WeekPlan.objects.visible_to(viewer).filter(status=WeekPlan.Status.PUBLISHED).count()
    return SetUpStep(
        "week",
        "The first week",
        "Plan it, look at it, change it, publish it; or plan the term at once.",
        state_of(weeks, 0, ready=ready),
        _count(weeks, "week in force", "weeks in force") if weeks else "",
        "",
        (_way("Plan", "plan"),),
    )

"""The generated district of `benchmarks.ledger`, and its pages. Imported once Django is set up."""

import datetime as dt
import resource
import time
import uuid
from collections.abc import Callable
from typing import Any

from django.core.management import call_command
from django.db import connection

from accounts.models import District, Person, PersonRole
from benchmarks.ledger import TASKS, Measured
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, MissedReason
from caseload.ledger.defaults import DEFAULT_REASONS
from caseload.plans.models import ContinuingService, Plan, ServiceLine, Student
from schedule.attention.selectors.attention import attention
from schedule.calendar.models import BellPeriod, BellSchedule, MarkingPeriod, SchoolYear
from schedule.log.selectors.ledger import student_ledger
from schedule.reports.selectors.places import building_report, district_report
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from travel.places.models import Building

STUDENTS_EACH, WEEKS = 30, 36
SESSIONS_A_WEEK = 3
GROUP = 3
FIRST = dt.date(2026, 9, 7)
LAST = FIRST + dt.timedelta(weeks=WEEKS, days=-3)
TODAY = LAST
BATCH = 4000


def measure(task: str) -> Measured:
    """Work one page out once and measure it."""
    work = _task(task)
    queries = 0

    def count(execute: Any, sql: Any, params: Any, many: Any, context: Any) -> Any:
        nonlocal queries
        queries += 1
        return execute(sql, params, many, context)

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.monotonic()
    with connection.execute_wrapper(count):
        work()
    seconds = time.monotonic() - began
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return Measured(round(seconds, 3), queries, (after - before) / 1024)


def _task(task: str) -> Callable[[], object]:
    teacher = Person.objects.get(username="teacher0")
    coordinator = Person.objects.get(username="coordinator")
    student = teacher.caseload.get(code="S0")
    return {
        TASKS[0]: lambda: attention(teacher, teacher, TODAY),
        TASKS[1]: lambda: student_ledger(teacher, student, TODAY),
        TASKS[2]: lambda: building_report(coordinator, student.building, TODAY, TODAY),
        TASKS[3]: lambda: district_report(coordinator, TODAY, TODAY),
    }[task]


# ---- the district --------------------------------------------------------------------------------------


def generate(teachers: int) -> str:
    """A district of so many teachers, each with one building, 30 students and a year of logged weeks."""
    call_command("migrate", verbosity=0)
    district, people, reasons = _ground(teachers)
    counts: dict[str, int] = {}
    for number, teacher in enumerate(people):
        for name, rows in _caseload(district, teacher, number, reasons).items():
            counts[name] = counts.get(name, 0) + rows
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return ", ".join(f"{count} {name}" for name, count in counts.items())


def _ground(teachers: int) -> tuple[District, list[Person], list[MissedReason]]:
    district = District.objects.create(name="Generated", time_zone="America/New_York")
    year = SchoolYear.objects.create(district=district, name="2026-27", first_day=FIRST, last_day=LAST)
    MarkingPeriod.objects.create(district=district, school_year=year, name="Year", first_day=FIRST, last_day=LAST)
    Person.objects.create(username="coordinator", district=district, role=Person.Role.COORDINATOR)
    people = Person.objects.bulk_create(
        Person(username=f"teacher{n}", district=district, role=Person.Role.TEACHER) for n in range(teachers)
    )
    PersonRole.objects.bulk_create(PersonRole(person=one, role=one.role) for one in people)
    reasons = MissedReason.objects.bulk_create(
        MissedReason(district=district, code=one.code, words=one.words, effect=one.effect.value, position=at)
        for at, one in enumerate(DEFAULT_REASONS)
    )
    return district, people, reasons


def _caseload(district: District, teacher: Person, number: int, reasons: list[MissedReason]) -> dict[str, int]:
    building = Building.objects.create(district=district, code=f"B{number}", name=f"School {number}")
    bells = BellSchedule.objects.create(building=building, name="Regular", kind="regular")
    BellPeriod.objects.create(schedule=bells, name="1", start=dt.time(8), end=dt.time(15))
    base = number * STUDENTS_EACH
    students = Student.objects.bulk_create(
        Student(
            district=district,
            building=building,
            caseload_teacher=teacher,
            code=f"S{base + at}",
            first_name="Generated",
            last_name=f"Student {base + at}",
            grade="3",
        )
        for at in range(STUDENTS_EACH)
    )
    plans = Plan.objects.bulk_create(Plan(student=one, start=FIRST, end=LAST) for one in students)
    services = ContinuingService.objects.bulk_create(ContinuingService(student=one) for one in students)
    lines = ServiceLine.objects.bulk_create(
        ServiceLine(
            plan=plan,
            service=service,
            provider=teacher,
            statement="3 x 30 min/week",
            times=SESSIONS_A_WEEK,
            minutes=30,
            setting=ServiceLine.Setting.SMALL_GROUP,
            largest_group=GROUP,
            start=FIRST,
            end=LAST,
        )
        for plan, service in zip(plans, services, strict=True)
    )
    weeks = WeekPlan.objects.bulk_create(
        WeekPlan(
            district=district,
            teacher=teacher,
            monday=FIRST + dt.timedelta(weeks=at),
            last_date=FIRST + dt.timedelta(weeks=at, days=6),
            status=WeekPlan.Status.PUBLISHED,
            version=1,
            created_by=teacher,
        )
        for at in range(WEEKS)
    )
    return _year(building, teacher, list(zip(students, lines, strict=True)), weeks, reasons)


def _year(
    building: Building,
    teacher: Person,
    served: list[tuple[Student, ServiceLine]],
    weeks: list[WeekPlan],
    reasons: list[MissedReason],
) -> dict[str, int]:
    """Groups of three, three times a week, and their log: one in twelve missed, one in a hundred open."""
    sessions: list[PlannedSession] = []
    groups: list[list[tuple[Student, ServiceLine]]] = []
    for week in weeks:
        for at in range(0, len(served), GROUP):
            for time_ in range(SESSIONS_A_WEEK):
                hour, half = divmod(at // GROUP, 2)
                sessions.append(
                    PlannedSession(
                        week=week,
                        date=week.monday + dt.timedelta(days=2 * time_),
                        start=dt.time(9 + hour, 30 * half),
                        end=dt.time(9 + hour, 30 * half + 29),
                        building=building,
                        setting="small_group",
                        planner_key="group",
                    )
                )
                groups.append(served[at : at + GROUP])
    sessions = PlannedSession.objects.bulk_create(sessions, BATCH)
    attendees = [
        SessionAttendee(session=session, service_line=line, student=student)
        for session, group in zip(sessions, groups, strict=True)
        for student, line in group
    ]
    SessionAttendee.objects.bulk_create(attendees, BATCH)
    entries = DeliveryEntry.objects.bulk_create(
        [
            DeliveryEntry(
                client_id=uuid.uuid4(),
                service_line=line,
                student=student,
                session_uid=session.uid,
                date=session.date,
                start=session.start,
                planned_minutes=29,
                setting="small_group",
            )
            for number, (session, group) in enumerate(zip(sessions, groups, strict=True))
            for student, line in group
            if number % 100
        ],
        BATCH,
    )
    versions = [
        DeliveryVersion(
            entry=entry,
            delivered_minutes=0 if at % 12 == 0 else 29,
            reason=reasons[at // 12 % len(reasons)] if at % 12 == 0 else None,
            logged_by=teacher,
        )
        for at, entry in enumerate(entries)
    ]
    DeliveryVersion.objects.bulk_create(versions, BATCH)
    return {
        "entries": len(entries),
        "versions": len(versions),
        "attendances": len(attendees),
        "sessions": len(sessions),
    }

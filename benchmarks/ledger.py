"""Minutes of a whole district: pages of one teacher, one student and everyone, at a tenth and at the whole of the data.

Run: ``python -m benchmarks.ledger`` (``--quick``: a hundredth and a tenth, SQLite only). A district of 300 teachers,
9,000 students and 180 school days is generated (about 2 million rows of the log, nearly 4 million in all), on SQLite
and on PostgreSQL where there is one. Each page is worked out in a process of its own: seconds, queries, and memory
above that of the idle program. What counts is the last column: a teacher's pages must not grow with the district.
"""

import argparse
import datetime as dt
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import django

TEACHERS, STUDENTS_EACH, WEEKS = 300, 30, 36
SESSIONS_A_WEEK = 3
GROUP = 3
FIRST = dt.date(2026, 9, 7)
LAST = FIRST + dt.timedelta(weeks=WEEKS, days=-3)
TODAY = LAST
BATCH = 4000
TASKS = ("attention page of one teacher", "ledger of one student", "building report", "district report")


@dataclass(frozen=True, slots=True)
class Measured:
    """One page: seconds, queries, megabytes above the idle program."""

    seconds: float
    queries: int
    megabytes: float


def main() -> None:
    """Generate, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a hundredth and a tenth, SQLite only")
    parser.add_argument("--database", choices=["sqlite", "postgres"], help="only this one")
    parser.add_argument("--child", nargs=2, metavar=("WHAT", "TEACHERS"), help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        _child(*options.child)
        return
    shares = (0.01, 0.1) if options.quick else (0.1, 1.0)
    if options.database != "postgres":
        _compare("SQLite", _sqlite, shares)
    if options.database == "postgres" or not (options.quick or options.database):
        _compare("PostgreSQL", _postgres, shares)


# ---- the parent ------------------------------------------------------------------------------------------


@contextmanager
def _sqlite() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder:
        yield f"sqlite:///{folder}/district.sqlite3"


@contextmanager
def _postgres() -> Iterator[str]:
    from tests.services import postgres_server  # noqa: PLC0415 - only here does it need the test group's packages

    with postgres_server() as url:
        yield url


def _compare(name: str, server: Callable[[], Any], shares: tuple[float, float]) -> None:
    found: list[dict[str, Measured]] = []
    for share in shares:
        teachers = max(1, round(TEACHERS * share))
        with server() as url:
            began = time.monotonic()
            rows = _run(url, "generate", teachers)
            print(f"{name}, {share:.0%}: {rows} in {time.monotonic() - began:.0f} s", flush=True)
            found.append({task: Measured(**_run(url, task, teachers)) for task in TASKS})
    for task in TASKS:
        small, large = (sizes[task] for sizes in found)
        print(
            f"{name}  {task:32}"
            + "".join(f"  {one.seconds:7.2f} s {one.queries:5} queries {one.megabytes:6.0f} MB" for one in (small, large))
            + f"  x{large.seconds / small.seconds:.1f}",
            flush=True,
        )


def _run(url: str, what: str, teachers: int) -> Any:
    env = {**os.environ, "DATABASE_URL": url, "DEBUG": "1", "SECRET_KEY": "b" * 50, "JOBS_IN_PROCESS": "0"}
    words = [sys.executable, "-m", "benchmarks.ledger", "--child", what, str(teachers)]
    done = subprocess.run(words, env=env, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(done.stdout.splitlines()[-1])


# ---- the child: one database, one page -------------------------------------------------------------------


def _child(what: str, teachers: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    print(json.dumps(generate(int(teachers)) if what == "generate" else asdict(measure(what))))


def measure(task: str) -> Measured:
    """Work one page out once and measure it."""
    from django.db import connection  # noqa: PLC0415 - Django is set up by now

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
    # ruff: what needs models is imported once Django is set up.
    from accounts.models import Person  # noqa: PLC0415
    from schedule.selectors.attention import attention  # noqa: PLC0415
    from schedule.selectors.ledger import student_ledger  # noqa: PLC0415
    from schedule.selectors.reports import building_report, district_report  # noqa: PLC0415

    teacher = Person.objects.get(username="teacher0")
    coordinator = Person.objects.get(username="coordinator")
    student = teacher.caseload.get(code="S0")
    return {
        TASKS[0]: lambda: attention(teacher, teacher, TODAY),
        TASKS[1]: lambda: student_ledger(teacher, student, TODAY),
        TASKS[2]: lambda: building_report(coordinator, student.building, TODAY, TODAY),
        TASKS[3]: lambda: district_report(coordinator, TODAY, TODAY),
    }[task]


# ---- the district ----------------------------------------------------------------------------------------


def generate(teachers: int) -> str:
    """A district of so many teachers, each with one building, 30 students and a year of logged weeks."""
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    district, people, reasons = _ground(teachers)
    counts: dict[str, int] = {}
    for number, teacher in enumerate(people):
        for name, rows in _caseload(district, teacher, number, reasons).items():
            counts[name] = counts.get(name, 0) + rows
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return ", ".join(f"{count} {name}" for name, count in counts.items())


def _ground(teachers: int) -> tuple[Any, list[Any], list[Any]]:
    from accounts.models import District, Person  # noqa: PLC0415
    from caseload.ledger_defaults import DEFAULT_REASONS  # noqa: PLC0415
    from caseload.models import MissedReason  # noqa: PLC0415
    from schedule.models import MarkingPeriod, SchoolYear  # noqa: PLC0415

    district = District.objects.create(name="Generated", time_zone="America/New_York")
    year = SchoolYear.objects.create(district=district, name="2026-27", first_day=FIRST, last_day=LAST)
    MarkingPeriod.objects.create(district=district, school_year=year, name="Year", first_day=FIRST, last_day=LAST)
    Person.objects.create(username="coordinator", district=district, role=Person.Role.COORDINATOR)
    people = Person.objects.bulk_create(
        Person(username=f"teacher{n}", district=district, role=Person.Role.TEACHER) for n in range(teachers)
    )
    reasons = MissedReason.objects.bulk_create(
        MissedReason(district=district, code=one.code, words=one.words, effect=one.effect.value, position=at)
        for at, one in enumerate(DEFAULT_REASONS)
    )
    return district, people, reasons


def _caseload(district: Any, teacher: Any, number: int, reasons: list[Any]) -> dict[str, int]:
    from caseload.models import Plan, ServiceLine, Student  # noqa: PLC0415
    from schedule.models import BellPeriod, BellSchedule, WeekPlan  # noqa: PLC0415
    from travel.models import Building  # noqa: PLC0415

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
    lines = ServiceLine.objects.bulk_create(
        ServiceLine(
            plan=plan,
            provider=teacher,
            statement="3 x 30 min/week",
            times=SESSIONS_A_WEEK,
            minutes=30,
            setting=ServiceLine.Setting.SMALL_GROUP,
            largest_group=GROUP,
            start=FIRST,
            end=LAST,
        )
        for plan in plans
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


def _year(building: Any, teacher: Any, served: list[Any], weeks: list[Any], reasons: list[Any]) -> dict[str, int]:
    """Sessions of groups of three, three times a week, and their log: one in twelve missed, one in a hundred open."""
    from caseload.models import DeliveryEntry, DeliveryVersion  # noqa: PLC0415
    from schedule.models import PlannedSession, SessionAttendee  # noqa: PLC0415

    sessions, groups = [], []
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
    return {"entries": len(entries), "versions": len(versions), "attendances": len(attendees), "sessions": len(sessions)}


if __name__ == "__main__":
    main()

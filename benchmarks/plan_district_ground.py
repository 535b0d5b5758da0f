"""A district for `benchmarks.plan_district`, and its week planned there. Invented names only.

`python -m benchmarks.plan_district_ground fill N | alone SECONDS | watch SECONDS` on the database of DATABASE_URL;
the seconds are of work for each teacher. Each teacher has four buildings, two of them shared with the next teacher,
and 24 students with one or two sessions a week (common practice, no source); every eighth student is served by the
next teacher, too.
"""

import datetime as dt
import hashlib
import json
import os
import random
import sys
import time
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

from django.core.management import call_command  # noqa: E402 -- models can be imported only after the set-up

from accounts.models import District, Person  # noqa: E402 -- as above
from caseload.plans.models import Plan, ServiceLine, Student  # noqa: E402 -- as above
from jobs.models import Job  # noqa: E402 -- as above
from jobs.runner import run_job  # noqa: E402 -- as above
from schedule.calendar.models import (  # noqa: E402 -- as above
    BellPeriod,
    BellSchedule,
    ContractDay,
    SchoolYear,
    TeacherRules,
)
from schedule.everybody.models import EverybodyPlan  # noqa: E402 -- as above
from schedule.everybody.services import everybody_start  # noqa: E402 -- as above
from schedule.planner.warm import warm_up  # noqa: E402 -- as above
from schedule.weeks.models import PlanRun, WeekPlan  # noqa: E402 -- as above
from schedule.weeks.versions.content import content_read, content_to_json  # noqa: E402 -- as above
from travel.places.models import Building, Space  # noqa: E402 -- as above

MONDAY, BEFORE = dt.date(2027, 3, 1), dt.datetime(2027, 2, 17, 17, tzinfo=dt.UTC)
YEAR = {"start": dt.date(2026, 9, 8), "end": dt.date(2027, 6, 25)}
STUDENTS, SCHOOLS, TWICE_SERVED = 24, 4, 8
SESSIONS = (*[(1, 30)] * 6, (2, 30), (2, 20), *[(1, 20)] * 2)
"""Sessions a week and their minutes, each as likely as it stands here."""


def fill(teachers: int) -> None:
    """The district, the same each time."""
    call_command("migrate", verbosity=0)
    rng = random.Random(teachers)  # noqa: S311 -- test data, no secret
    district = District.objects.create(name="Marrow Vale County", time_zone="America/New_York", state="NY")
    _person(district, "coordinator", Person.Role.COORDINATOR)
    SchoolYear.objects.create(district=district, name="2026-27", first_day=YEAR["start"], last_day=YEAR["end"])
    schools = _schools(district, 2 * max(2, teachers), rng)
    people = [_person(district, f"teacher{number:02}", Person.Role.TEACHER) for number in range(teachers)]
    for number, teacher in enumerate(people):
        ContractDay.objects.bulk_create(
            ContractDay(district=district, teacher=teacher, weekday=day, start=dt.time(8), end=dt.time(15, 30))
            for day in range(5)
        )
        TeacherRules.objects.create(district=district, teacher=teacher, preparation_minutes=30)
        own = [schools[(2 * number + step) % len(schools)] for step in range(SCHOOLS)]
        _caseload(district, teacher, people[(number + 1) % teachers], own, rng)


def _person(district: District, name: str, role: str) -> Person:
    person = Person(username=name, district=district, role=role, first_name=name.title(), last_name="Vey")
    person.set_unusable_password()
    person.save()
    return person


def _schools(district: District, count: int, rng: random.Random) -> list[Building]:
    """A few miles from one to the next, each with a gym, a small room and bells of its own."""
    found = []
    for at in range(count):
        north, west = 43 + at * 0.03 + rng.uniform(-0.02, 0.02), 75 + rng.uniform(-0.05, 0.05)
        school = Building.objects.create(
            district=district,
            code=f"B{at:03}",
            name=f"School {at:03}",
            latitude=f"{north:.5f}",
            longitude=f"-{west:.5f}",
        )
        Space.objects.create(building=school, name="Gym", kind="gym")
        Space.objects.create(building=school, name="Room 9", kind="classroom", classes_that_fit=2)
        bells = BellSchedule.objects.create(building=school, name="Regular", kind="regular", passing_minutes=5)
        begins = 8 * 60 + rng.choice((0, 5, 10, 20))
        BellPeriod.objects.bulk_create(
            BellPeriod(
                schedule=bells,
                name=str(number + 1),
                start=_clock(begins + 48 * number),
                end=_clock(begins + 48 * number + 43),
                kind="instruction",
            )
            for number in range(8)
        )
        found.append(school)
    return found


def _clock(minutes: int) -> dt.time:
    return dt.time(minutes // 60, minutes % 60)


def _caseload(
    district: District, teacher: Person, other: Person, schools: list[Building], rng: random.Random
) -> None:
    for at in range(STUDENTS):
        student = Student.objects.create(
            district=district,
            building=schools[at % SCHOOLS],
            caseload_teacher=teacher,
            code=f"{teacher.username}-{at:02}",
            first_name="Idony",
            last_name=f"Tarn {at}",
            grade="3",
        )
        plan = Plan.objects.create(student=student, **YEAR)
        _line(plan, teacher, *rng.choice(SESSIONS))
        if at % TWICE_SERVED == 0 and other != teacher:
            _line(plan, other, 1, 20)


def _line(plan: Plan, teacher: Person, times: int, minutes: int) -> None:
    told = {"statement": f"{times} x {minutes} min/week", "times": times, "minutes": minutes, **YEAR}
    ServiceLine.objects.create(plan=plan, provider=teacher, setting=ServiceLine.Setting.ONE_TO_ONE, **told)


def _started(search: int) -> EverybodyPlan:
    coordinator = Person.objects.get(username="coordinator")
    teachers = list(Person.objects.filter(role=Person.Role.TEACHER))
    return everybody_start(actor=coordinator, teachers=teachers, monday=MONDAY, time_limit=search, now=BEFORE)


def alone(search: int) -> dict[str, Any]:
    """All turns in this process, one after the other: the baseline. Processor seconds of each turn."""
    warm_up()
    before = time.process_time()
    plan = _started(search)
    asking = time.process_time() - before
    works: dict[int, float] = {}
    while job := Job.objects.filter(kind="plan_week", state=Job.State.WAITING).order_by("created_at").first():
        before = time.process_time()
        run_job(job.pk)
        works[PlanRun.objects.get(job=job).teacher_id] = time.process_time() - before
    turns = [(one.teacher_id, one.after, works[one.teacher_id]) for one in plan.turns.order_by("place")]
    return {"turns": turns, "asking": asking, "search": str(search), **_found(plan)}


def watch(search: int) -> dict[str, Any]:
    """Ask for everybody's week and wait until other processes have planned it. Seconds on the clock."""
    began = time.monotonic()
    plan = _started(search)
    while plan.ended_at is None:
        time.sleep(0.5)
        plan.refresh_from_db()
    return {"seconds": time.monotonic() - began, **_found(plan)}


def _found(plan: EverybodyPlan) -> dict[str, Any]:
    """What the weeks hold, by teacher, as SHA-256 of their canonical JSON; the plan is gone afterward.

    A session's own name is drawn at random, and what a sentence says of clashing rules is sought by the clock:
    neither is compared.
    """
    weeks = (
        WeekPlan.objects.filter(plan_run__everybody_turn__plan=plan)
        .select_related("teacher")
        .order_by("teacher__username")
    )
    hashes, placed, unplaced, driving = {}, 0, 0, 0
    for week in weeks:
        content = content_read(week)
        kept = content_to_json(content)
        for one in kept["sessions"]:
            one.pop("uid")
        for one in kept["unplaced"]:
            one.pop("reasons")
        kept["figures"].pop("notes", None)
        hashes[week.teacher.username] = hashlib.sha256(
            json.dumps(kept, sort_keys=True, default=str).encode()
        ).hexdigest()
        placed += len(content.sessions)
        unplaced += sum(one.minutes for one in content.unplaced)
        driving += sum(one.drive_minutes or 0 for one in content.items)
    attempts = list(Job.objects.filter(kind="plan_week").values_list("state", "attempts"))
    weeks.delete()
    PlanRun.objects.all().delete()
    plan.delete()
    Job.objects.filter(kind="plan_week").delete()
    again = sum(attempt > 1 for _, attempt in attempts)
    return {"weeks": hashes, "sessions": placed, "unplaced": unplaced, "driving": driving, "again": again}


if __name__ == "__main__":
    if sys.argv[1] == "fill":
        fill(int(sys.argv[2]))
    else:
        sys.stdout.write(json.dumps({"alone": alone, "watch": watch}[sys.argv[1]](int(sys.argv[2]))))

"""A district of so many teachers for benchmarks/load.py: two weeks in force, feeds, and everyone signed in.

`python -m benchmarks.load_district TEACHERS` fills the migrated, empty database of DATABASE_URL and prints JSON:
the date of the day sheets, cookies of sessions, addresses of feeds, sessions to log. Invented names only.
"""

import datetime as dt
import json
import os
import random
import sys
import uuid
from collections.abc import Iterator
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "benchmarks.load_settings")
django.setup()

from django.conf import settings  # noqa: E402 -- models can be imported only after the set-up
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY  # noqa: E402 -- as above
from django.contrib.sessions.backends.db import SessionStore  # noqa: E402 -- as above
from django.db import transaction  # noqa: E402 -- as above

from accounts.models import District, Person  # noqa: E402 -- as above
from caseload.plans.models import ContinuingService, Plan, ServiceLine, Student  # noqa: E402 -- as above
from schedule.calendar.models import (  # noqa: E402 -- as above
    BellPeriod,
    BellSchedule,
    ContractDay,
    SchoolYear,
    TeacherRules,
)
from schedule.feeds.services.feeds import feed_add  # noqa: E402 -- as above
from schedule.feeds.services.versions import feed_refresh  # noqa: E402 -- as above
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan  # noqa: E402 -- as above
from schedule.weeks.selectors.pages import district_today  # noqa: E402 -- as above
from travel.places.models import Building  # noqa: E402 -- as above

STUDENTS, SCHOOLS, SESSIONS = 30, 3, 6
"""Of a teacher, of a teacher's round, and of a day: common practice of the trade, no source."""
DAYS = 5
ALONE = ServiceLine.Setting.ONE_TO_ONE
TEACHING = "instruction"
FEEDS = 3
HALF_HOUR = dt.timedelta(minutes=30)
BACKEND = "accounts.sign_in.backends.PasswordBackend"
SITE = "http://127.0.0.1"


def _at(day: dt.date, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(hour, minute))


def person_made(district: District, name: str, role: str, number: int) -> Person:
    """Somebody who signs in without a password."""
    person = Person(
        username=name, district=district, role=role, first_name="Idony", last_name=f"Vey{number:03}", is_active=True
    )
    person.set_unusable_password()
    person.save()
    return person


def schools_made(district: District, count: int) -> list[Building]:
    """One for each teacher, as in a district where as many schools as teachers are visited in turn."""
    found = [
        Building.objects.create(
            district=district, code=f"B{at:03}", name=f"School {at:03}", latitude=f"43.{at:03}", longitude="-75.0"
        )
        for at in range(max(count, SCHOOLS))
    ]
    for building in found:
        bells = BellSchedule.objects.create(building=building, name="Regular", kind="regular", passing_minutes=5)
        BellPeriod.objects.bulk_create(
            BellPeriod(
                schedule=bells, name=str(hour), start=dt.time(hour), end=dt.time(hour, 50), kind="instruction"
            )
            for hour in range(8, 15)
        )
    return found


def _called(number: int) -> dict[str, str]:
    """A name that one or two others of a few thousand share, as in a district: invented, no source."""
    draw = random.Random(number)  # noqa: S311 -- the same names each time
    return {
        "first_name": draw.choice("ABDEGHIJKLMNOPRSTV") + draw.choice(("la", "ri", "no", "da", "wen", "sil")),
        "last_name": draw.choice(("Tar", "Vey", "Lin", "Mor", "Kes", "Hol", "Bry", "Fen", "Dal", "Ost"))
        + "".join(draw.choice(("ner", "low", "mar", "sey", "by", "den", "wick", "ton")) for _ in range(3)),
    }


def caseload_made(teacher: Person, schools: list[Building], year: dict[str, dt.date]) -> list[ServiceLine]:
    """A teacher's students, each owed one session a week."""
    first = STUDENTS * int(teacher.username[-3:])
    students = Student.objects.bulk_create(
        Student(
            district=schools[0].district,
            building=schools[at % SCHOOLS],
            caseload_teacher=teacher,
            code=f"{teacher.username}-{at:02}",
            **_called(first + at),
            grade="3",
        )
        for at in range(STUDENTS)
    )
    plans = Plan.objects.bulk_create(Plan(student=student, **year) for student in students)
    services = ContinuingService.objects.bulk_create(ContinuingService(student=one) for one in students)
    told = {"statement": "1 x 30 min/week", "times": 1, "minutes": 30, "setting": ALONE, **year}
    return ServiceLine.objects.bulk_create(
        ServiceLine(plan=plan, service=service, provider=teacher, **told)
        for plan, service in zip(plans, services, strict=True)
    )


def _week(teacher: Person, monday: dt.date, schools: list[Building], lines: list[ServiceLine]) -> list[uuid.UUID]:
    """A week in force: six sessions a day in three schools, three drives, lunch. The sessions' uids."""
    last = monday + dt.timedelta(days=6)
    by = {"created_by": teacher, "published_by": teacher, "status": WeekPlan.Status.PUBLISHED}
    week = WeekPlan.objects.create(
        district=schools[0].district, teacher=teacher, monday=monday, last_date=last, version=1, **by
    )
    days = [monday + dt.timedelta(days=offset) for offset in range(DAYS)]
    rows = [_session(week, day, at, schools, lines[number * SESSIONS + at]) for number, day in enumerate(days)
            for at in range(SESSIONS)]  # fmt: skip
    PlannedSession.objects.bulk_create(row for row, _ in rows)
    SessionAttendee.objects.bulk_create(
        SessionAttendee(session=row, service_line=line, student_id=line.plan.student_id) for row, line in rows
    )
    DayItem.objects.bulk_create(item for day in days for item in _items(week, day, schools))
    return [row.uid for row, _ in rows]


def _session(
    week: WeekPlan, day: dt.date, at: int, schools: list[Building], line: ServiceLine
) -> tuple[PlannedSession, ServiceLine]:
    start = _at(day, 8 + at, 10)
    row = PlannedSession(
        week=week, date=day, start=start.time(), end=(start + HALF_HOUR).time(), building=schools[at // 2],
        setting=line.setting, planner_key=f"line-{line.pk}",
    )  # fmt: skip
    return row, line


def _items(week: WeekPlan, day: dt.date, schools: list[Building]) -> Iterator[DayItem]:
    """From school to school after each second session, and lunch."""
    for at, (origin, goal) in enumerate(zip(schools, [*schools[1:], schools[0]], strict=True)):
        start = _at(day, 9 + 2 * at, 42)
        times = {"start": start.time(), "end": (start + HALF_HOUR / 2).time()}
        told = {"drive_minutes": 12, "miles": "5.0", "source": "estimate", **times}
        yield DayItem(week=week, date=day, kind="drive", origin=origin, building=goal, **told)
    yield DayItem(week=week, date=day, kind="lunch", start=dt.time(12, 42), end=dt.time(13, 5), building=schools[2])


def _signed_in(person: Person) -> str:
    """The key of a session as signing in leaves it: three hundred times hashing a password is no part of a load."""
    store = SessionStore()
    store[SESSION_KEY], store[BACKEND_SESSION_KEY] = str(person.pk), BACKEND
    store[HASH_SESSION_KEY] = person.get_session_auth_hash()
    store.create()
    return str(store.session_key)


def _feed(teacher: Person) -> str:
    """The address of a feed that was asked before, on this site."""
    feed, address = feed_add(actor=teacher, kind="teacher", site=SITE, values={"label": "Phone"})
    feed_refresh(feed_id=feed.pk)
    return address.removeprefix(SITE)


def fill(teachers: int) -> dict[str, Any]:
    """The district; what a load asks of it."""
    district = District.objects.create(name="Marrow Vale County", time_zone="America/New_York", state="NY")
    coordinator = person_made(district, "coordinator", Person.Role.COORDINATOR, 0)
    monday = district_today(coordinator)
    monday -= dt.timedelta(days=monday.weekday())
    year = {"start": monday - dt.timedelta(days=80), "end": monday + dt.timedelta(days=180)}
    SchoolYear.objects.create(district=district, name="This year", first_day=year["start"], last_day=year["end"])
    schools = schools_made(district, teachers)
    told: list[dict[str, Any]] = []
    for number in range(teachers):
        teacher = person_made(district, f"teacher{number:03}", Person.Role.TEACHER, number)
        own = [schools[(number + step) % len(schools)] for step in range(SCHOOLS)]
        ContractDay.objects.bulk_create(
            ContractDay(district=district, teacher=teacher, weekday=day, start=dt.time(8), end=dt.time(15, 30))
            for day in range(DAYS)
        )
        TeacherRules.objects.create(district=district, teacher=teacher)
        lines = caseload_made(teacher, own, year)
        uids = _week(teacher, monday - dt.timedelta(days=7), own, lines)
        _week(teacher, monday, own, lines)
        # A feed that nothing changed is answered alike whoever's it is.
        address = _feed(teacher) if number < FEEDS else told[0]["feed"]
        told.append({"session": _signed_in(teacher), "feed": address, "uids": [str(uid) for uid in uids]})
    return {
        "cookie": settings.SESSION_COOKIE_NAME,
        "day": str(monday),
        "coordinator": _signed_in(coordinator),
        "teachers": told,
    }


if __name__ == "__main__":
    with transaction.atomic():
        made = fill(int(sys.argv[1]))
    sys.stdout.write(json.dumps(made))

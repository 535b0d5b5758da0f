"""A teacher's day around now, in a district where it is about noon; run on the server's database.

`python manage.py shell -c "from tests.browser.in_hand.hand_day import make_hand_day; make_hand_day()"`. Two
sessions are over, one has been for ten minutes, a class of three runs, one is to come. Invented names only.
"""

import datetime as dt
import json
import sys
from zoneinfo import ZoneInfo

from django.utils import timezone

from accounts.models import District, Person
from caseload.care.models import Caution
from caseload.plans.models import Plan, ServiceLine, Student
from caseload.progress.models import StudentGoal
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.services import part_save, routine_save
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.imports.services.demo import PASSWORD
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from travel.places.models import Building

HAND = "hand"
NOON = 12
OVER, ALSO_OVER, JUST_OVER, RUNNING, TO_COME = range(5)
SESSIONS = (
    ("Near", -180, -150, ("Ola",)),
    ("Far", -100, -70, ("Ben",)),
    ("Far", -40, -10, ("Cai",)),
    ("Far", -5, 25, ("Dot", "Eli", "Fay")),
    ("Near", 75, 105, ("Gus",)),
)
"""Where, minutes from now, and who."""

DRIVES = (("Near", "Far", -140, -110), ("Far", "Near", 35, 65))


def make_hand_day() -> None:
    """The day, on whatever day and at whatever time it is; prints its sessions, date, zone and another username."""
    now = timezone.now()
    zone = f"Etc/GMT{now.hour - NOON:+}"  # POSIX counts west of Greenwich
    local = now.astimezone(ZoneInfo(zone)).replace(second=0, microsecond=0)
    number = Person.objects.filter(username__startswith=HAND).count()
    district = District.objects.create(name=f"Lower Fells {number}", time_zone=zone, state="NY")
    teacher = Person.objects.create_user(
        username=f"{HAND}{number}", password=PASSWORD, district=district, role=Person.Role.TEACHER,
        first_name="Idony", last_name="Vey",
    )  # fmt: skip
    monday = local.date() - dt.timedelta(days=local.weekday())
    week = WeekPlan.objects.create(
        district=district, teacher=teacher, monday=monday, last_date=monday + dt.timedelta(days=6), version=1,
        status=WeekPlan.Status.PUBLISHED, created_by=teacher, published_by=teacher,
    )  # fmt: skip
    places = {
        name: Building.objects.create(
            district=district, code=f"L{name}", name=f"{name} Fell School", latitude=latitude, longitude="-75.0"
        )
        for name, latitude in (("Near", "43.10"), ("Far", "43.02"))
    }
    uids = [_session(week, places[place], local, start, end, who) for place, start, end, who in SESSIONS]
    for origin, destination, start, end in DRIVES:
        DayItem.objects.create(
            kind="drive", week=week, date=local.date(), building=places[destination], origin=places[origin],
            start=_time(local, start), end=_time(local, end), drive_minutes=20, miles="6.0", source="estimate",
        )  # fmt: skip
    told = {"sessions": uids, "zone": zone, "date": local.date().isoformat(), "username": teacher.username}
    sys.stdout.write(f"{json.dumps(told)}\n")


def _time(local: dt.datetime, minutes: int) -> dt.time:
    return (local + dt.timedelta(minutes=minutes)).time()


def _session(
    week: WeekPlan, place: Building, local: dt.datetime, start: int, end: int, who: tuple[str, ...]
) -> str:
    year = {"start": local.date() - dt.timedelta(days=30), "end": local.date() + dt.timedelta(days=200)}
    alone = len(who) == 1
    setting = ServiceLine.Setting.ONE_TO_ONE if alone else ServiceLine.Setting.SMALL_GROUP
    session = PlannedSession.objects.create(
        week=week, date=local.date(), start=_time(local, start), end=_time(local, end), building=place,
        setting=setting, planner_key=f"hand-{start}",
    )  # fmt: skip
    for name in who:
        student = Student.objects.create(
            district=week.district, building=place, caseload_teacher=week.teacher, code=f"H{name}",
            first_name=name, last_name="Tarn", grade="3",
        )  # fmt: skip
        line = ServiceLine.objects.create(
            plan=Plan.objects.create(student=student, **year), provider=week.teacher, statement="1 x 30 min/week",
            times=1, minutes=30, setting=setting, **year,
        )  # fmt: skip
        SessionAttendee.objects.create(session=session, service_line=line, student=student)
        StudentGoal.objects.create(
            student=student, text="Walk 5 laps.", measure=StudentGoal.Measure.COUNT, criterion=5, **year
        )
        if name == "Eli":
            Caution.objects.create(student=student, text="Latex in balls.", emergency_steps="Call the nurse.")
    return str(session.uid)


def make_routine(uid: str) -> None:
    """A routine of three parts for a session."""
    session = PlannedSession.objects.get(uid=uid)
    teacher = session.week.teacher
    there = SessionAttendee.objects.filter(session=session).values("student")
    students = list(Student.objects.filter(pk__in=there))
    routine = routine_save(actor=teacher, row=Routine(), values={"name": "Roll and catch", "students": students})
    for title, minutes in (("Warm up", 12), ("Catch", 12), ("Cool down", 6)):
        part = {"kind": RoutinePart.Kind.WHOLE_GROUP, "title": title, "minutes": minutes, "least_minutes": 3}
        part_save(actor=teacher, row=RoutinePart(routine=routine), values=part)


def make_feed(username: str) -> None:
    """A calendar feed of a teacher; prints its number."""
    teacher = Person.objects.get(username=username)
    feed, _ = feed_add(actor=teacher, kind=Feed.Kind.TEACHER, values={"label": "Phone"}, site="http://localhost")
    sys.stdout.write(f"{feed.pk}\n")

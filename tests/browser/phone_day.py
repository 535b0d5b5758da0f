"""A teacher's full day today: six sessions in four schools, four drives, two goals a student; run on the server's
database: `python manage.py shell -c "from tests.browser.phone_day import make_phone_day; make_phone_day()"`.

Prints the ids of the students. Invented names only.
"""

import datetime as dt
import json
import sys

from accounts.models import District, Person
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import Plan, ServiceLine, Student
from caseload.progress.models import DataPoint, StudentGoal
from schedule.calendar.models import Happening
from schedule.imports.services.demo import PASSWORD
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.pages import district_today
from travel.drives.models import DriveLog
from travel.places.models import Building

TEACHER = "phoneteacher"
DESK = "phonedesk"
DISTRICT = "Under Fells"
SESSIONS = (
    ("Near", "8:30"),
    ("Far", "9:40"),
    ("Far", "10:20"),
    ("Mid", "11:40"),
    ("Low", "13:00"),
    ("Near", "14:20"),
)
# The first and the last go the same way, and the whole day is tapped within minutes.
DRIVES = (("Near", "Far", "9:05"), ("Far", "Mid", "11:00"), ("Mid", "Near", "12:20"), ("Near", "Far", "13:40"))
FIRST = ("Ola", "Ben", "Cai", "Dot", "Eli", "Fay", "Gus")


def _at(text: str) -> dt.time:
    hour, minute = map(int, text.split(":"))
    return dt.time(hour, minute)


def _person(district: District, name: str, role: Person.Role) -> Person:
    return Person.objects.create_user(
        username=name, password=PASSWORD, district=district, role=role, first_name="Idony", last_name="Vey"
    )


def make_phone_day() -> None:
    """The day, on whatever day it is, and a coordinator at the desk."""
    district = District.objects.create(name=DISTRICT, time_zone="America/New_York", state="NY")
    teacher = _person(district, TEACHER, Person.Role.TEACHER)
    _person(district, DESK, Person.Role.COORDINATOR)
    today = district_today(teacher)
    monday = today - dt.timedelta(days=today.weekday())
    week = WeekPlan.objects.create(
        district=district, teacher=teacher, monday=monday, last_date=monday + dt.timedelta(days=6), version=1,
        status=WeekPlan.Status.PUBLISHED, created_by=teacher, published_by=teacher,
    )  # fmt: skip
    north = {"Near": "43.10", "Far": "43.02", "Mid": "43.04", "Low": "43.06"}
    places = {
        name: Building.objects.create(
            district=district, code=f"U{name}", name=f"{name} Fell School", latitude=latitude, longitude="-75.0"
        )
        for name, latitude in north.items()
    }
    for number, (name, start) in enumerate(SESSIONS):
        student = _session(week, places[name], today, _at(start), number)
        sys.stdout.write(f"{student.pk} ")
    for origin, destination, start in DRIVES:
        begin = dt.datetime.combine(today, _at(start))
        DayItem.objects.create(
            kind="drive", week=week, date=today, building=places[destination], origin=places[origin],
            start=begin.time(), end=(begin + dt.timedelta(minutes=30)).time(), drive_minutes=20, miles="6.0",
            source="estimate",
        )  # fmt: skip


def _session(week: WeekPlan, place: Building, today: dt.date, start: dt.time, number: int) -> Student:
    year = {"start": today - dt.timedelta(days=30), "end": today + dt.timedelta(days=200)}
    student = Student.objects.create(
        district=week.district, building=place, caseload_teacher=week.teacher, code=f"P{number}",
        first_name=FIRST[number], last_name=f"Tarn{number}", grade="3",
    )  # fmt: skip
    line = ServiceLine.objects.create(
        plan=Plan.objects.create(student=student, **year), provider=week.teacher, statement="1 x 30 min/week",
        times=1, minutes=30, setting=ServiceLine.Setting.ONE_TO_ONE, **year,
    )  # fmt: skip
    end = (dt.datetime.combine(today, start) + dt.timedelta(minutes=30)).time()
    session = PlannedSession.objects.create(
        week=week, date=today, start=start, end=end, building=place, setting=line.setting,
        planner_key=f"line-{line.pk}",
    )  # fmt: skip
    SessionAttendee.objects.create(session=session, service_line=line, student=student)
    told = {"student": student, **year}
    StudentGoal.objects.create(
        text="Hop on one foot for 10 seconds.", measure=StudentGoal.Measure.SECONDS, criterion=10, **told
    )
    StudentGoal.objects.create(text="Walk 5 laps.", measure=StudentGoal.Measure.COUNT, criterion=5, **told)
    return student


def another_session() -> None:
    """One more today, at half past three."""
    week = WeekPlan.objects.get(teacher__username=TEACHER)
    place = Building.objects.get(district=week.district, name="Near Fell School")
    _session(week, place, district_today(week.teacher), dt.time(15, 30), len(FIRST) - 1)


def one_more_in_the_last() -> None:
    """A second student in the day's last session."""
    week = WeekPlan.objects.get(teacher__username=TEACHER)
    last = PlannedSession.objects.filter(week=week).latest("start")
    other = _session(week, last.building, last.date, dt.time(15, 30), len(FIRST) - 1)
    SessionAttendee.objects.filter(student=other).update(session=last)
    PlannedSession.objects.filter(week=week).latest("start").delete()


def told() -> None:
    """Print what is stored of the day, in the order in which it came, with the times that were told."""
    rows = DeliveryVersion.objects.filter(entry__student__district__name=DISTRICT).order_by("pk")
    entries: dict[int, list[DeliveryVersion]] = {}
    for row in rows.select_related("logged_by", "reason"):
        entries.setdefault(row.entry_id, []).append(row)
    drives = (
        DriveLog.objects.filter(teacher__username=TEACHER).order_by("pk").select_related("origin", "destination")
    )
    points = DataPoint.objects.filter(taken_by__username=TEACHER).order_by("pk")
    found = {
        "log": [
            {
                "delivered": versions[-1].delivered_minutes,
                "reason": versions[-1].reason.code if versions[-1].reason else None,
                "times": [one.noted_at.isoformat() for one in versions if one.noted_at],
                "versions": [[one.delivered_minutes, one.logged_by.username] for one in versions],
            }
            for versions in entries.values()
        ],
        "drives": [
            {
                "ends": " ".join(one.name.split()[0] for one in (row.origin, row.destination)),
                "planned": row.planned_drive[-4:],
                "times": [one.isoformat() for one in (row.started_at, row.arrived_at) if one],
            }
            for row in drives.select_related("origin", "destination")
        ],
        "data": [{"value": str(one.value), "times": [one.taken_at.isoformat()]} for one in points],
        "away": [f"{one.first_date}" for one in Happening.objects.filter(said_by__username=TEACHER)],
    }
    sys.stdout.write(f"{json.dumps(found)}\n")

"""A teacher whose week is in force today, in a district without closings; run on the server's database.

`python manage.py shell -c "from tests.browser.today import make_today; make_today()"`. Invented names only.
"""

import datetime as dt

from accounts.models import District, Person
from caseload.care.models import Caution
from caseload.plans.models import Plan, ServiceLine, Student
from schedule.imports.services.demo import PASSWORD
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.pages import district_today
from travel.places.models import Building

DRIVER = "driver"
PLACES = {
    "Near": {"latitude": "43.10", "longitude": "-75.20"},
    "Far": {"latitude": "43.02", "longitude": "-75.25"},
}


def make_today() -> None:
    """Two schools, a session in each, the drive between them and lunch, on whatever day it is."""
    district = District.objects.create(name="Farther Fells", time_zone="America/New_York", state="NY")
    teacher = Person.objects.create_user(
        username=DRIVER, password=PASSWORD, district=district, role=Person.Role.TEACHER, first_name="Idony",
        last_name="Vey",
    )  # fmt: skip
    today = district_today(teacher)
    monday = today - dt.timedelta(days=today.weekday())
    week = WeekPlan.objects.create(
        district=district, teacher=teacher, monday=monday, last_date=monday + dt.timedelta(days=6), version=1,
        status=WeekPlan.Status.PUBLISHED, created_by=teacher, published_by=teacher,
    )  # fmt: skip
    places = [
        Building.objects.create(district=district, code=name.upper(), name=f"{name} Fell School", **where)
        for name, where in (
            ("Near", {"latitude": "43.10", "longitude": "-75.0"}),
            ("Far", {"latitude": "43.02", "longitude": "-75.0"}),
        )
    ]
    for number, (place, start) in enumerate(zip(places, (dt.time(8, 30), dt.time(10, 0)), strict=True)):
        _session(week, teacher, place, today, start, f"D{number}")
    item = {"week": week, "date": today, "building": places[1]}
    DayItem.objects.create(
        kind="drive", start=dt.time(9, 5), end=dt.time(9, 35), origin=places[0], drive_minutes=20, miles="6.0",
        source="estimate", **item,
    )  # fmt: skip
    DayItem.objects.create(kind="lunch", start=dt.time(10, 35), end=dt.time(11, 5), **item)


def _session(week: WeekPlan, teacher: Person, place: Building, today: dt.date, start: dt.time, code: str) -> None:
    year = {"start": today - dt.timedelta(days=30), "end": today + dt.timedelta(days=200)}
    student = Student.objects.create(
        district=week.district, building=place, caseload_teacher=teacher, code=code, first_name="Ola",
        last_name=f"Tarn {code}", grade="3",
    )  # fmt: skip
    if code == "D1":
        Caution.objects.create(
            student=student,
            text="Latex in balls.",
            emergency_steps="Stop. Take the gloves off.\nCall the school nurse.",
        )
    line = ServiceLine.objects.create(
        plan=Plan.objects.create(student=student, **year), provider=teacher, statement="1 x 30 min/week", times=1,
        minutes=30, setting=ServiceLine.Setting.ONE_TO_ONE, **year,
    )  # fmt: skip
    session = PlannedSession.objects.create(
        week=week, date=today, start=start, end=start.replace(minute=start.minute + 29), building=place,
        setting=line.setting, planner_key=f"line-{line.pk}",
    )  # fmt: skip
    SessionAttendee.objects.create(session=session, service_line=line, student=student)

"""The teacher of `tests.browser.phone_day` with twenty school days behind, of which nothing is sent yet.

`python manage.py shell -c "from benchmarks.day_sheet_days import make_days; make_days()"` prints the entries that a
phone would hold, in order; `counts()` what the server has. Invented names only.
"""

import datetime as dt
import json
import sys
import uuid
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

from accounts.models import Person
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import ServiceLine
from caseload.progress.models import DataPoint, StudentGoal
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.pages import district_today
from tests.browser.phone_day import DRIVES, SESSIONS, TEACHER, make_phone_day
from travel.drives.models import DriveLog
from travel.places.models import Building

DAYS = 20
SATURDAY = 5
POINT = {"value": "4", "tried": None, "marks": "", "session_uid": None, "taken_by_name": "", "note": ""}


def make_days() -> None:
    """The days, and the entries in the order in which they are tapped: 26 a day."""
    make_phone_day()
    teacher = Person.objects.get(username=TEACHER)
    today = district_today(teacher)
    past = [today - dt.timedelta(days=number) for number in range(1, 29)]
    days = sorted(day for day in past if day.weekday() < SATURDAY)[-DAYS:]
    found = [one for day in days for one in _entries(teacher, day)]
    sys.stdout.write(f"\n{json.dumps(found)}\n")


def counts() -> None:
    """Logs, data points and taps that are stored."""
    drives = DriveLog.objects.filter(teacher__username=TEACHER)
    found = {
        "logs": DeliveryVersion.objects.count(),
        "data": DataPoint.objects.count(),
        "taps": sum(bool(one.started_at) + bool(one.arrived_at) for one in drives),
    }
    sys.stdout.write(f"\n{json.dumps(found)}\n")


def _entries(teacher: Person, day: dt.date) -> Iterator[dict[str, Any]]:
    """As the browser test of a full day taps them: six logs, twelve data points, eight taps on drives."""
    monday = day - dt.timedelta(days=day.weekday())
    told = {"last_date": monday + dt.timedelta(days=6), "created_by": teacher, "published_by": teacher}
    week, _ = WeekPlan.objects.get_or_create(
        district=teacher.district, teacher=teacher, monday=monday, version=1,
        defaults={**told, "status": WeekPlan.Status.PUBLISHED},
    )  # fmt: skip
    places = {one.name.split()[0]: one for one in Building.objects.filter(district=teacher.district)}
    lines = ServiceLine.objects.filter(provider=teacher).select_related("plan__student").order_by("pk")
    for (name, start), line in zip(SESSIONS, lines, strict=True):
        session = _session(week, day, places[name], dt.time.fromisoformat(start.zfill(5)), line)
        key = str(uuid.uuid4())
        yield _entry(
            key,
            "log",
            "/api/1/session-logs/",
            {"session": str(session.uid), "client_id": key, "exceptions": []},
            "noted_at",
            day,
            16,
        )
        for goal in StudentGoal.objects.filter(student=line.plan.student):
            key = str(uuid.uuid4())
            point = {**POINT, "client_id": key, "goal": goal.pk, "day": str(day)}
            yield _entry(key, "data", "/api/1/data-points/", point, "taken_at", day, 15)
    for number, (one, other, start) in enumerate(DRIVES):
        ends = places[one], places[other]
        begin = dt.time.fromisoformat(start.zfill(5))
        DayItem.objects.create(
            kind="drive", week=week, date=day, building=ends[1], origin=ends[0], start=begin,
            end=(dt.datetime.combine(day, begin) + dt.timedelta(minutes=30)).time(), drive_minutes=20, miles="6.0",
            source="estimate",
        )  # fmt: skip
        turn = [(one, other) for one, other, _ in DRIVES[: number + 1]].count((one, other))
        leg = {"leg": f"{ends[0].pk}-{ends[1].pk}-{turn}"}
        key = str(uuid.uuid4())
        yield _entry(key, "drive", f"/api/1/days/{day}/start/", leg, "at", day, 9 + number)
        arrival = _entry(str(uuid.uuid4()), "drive", f"/api/1/days/{day}/arrive/", leg, "at", day, 9 + number)
        yield {**arrival, "tapped": arrival["tapped"] + 20 * 60_000, "after": [key]}


def _session(week: WeekPlan, day: dt.date, place: Building, start: dt.time, line: ServiceLine) -> PlannedSession:
    end = (dt.datetime.combine(day, start) + dt.timedelta(minutes=30)).time()
    session = PlannedSession.objects.create(
        week=week,
        date=day,
        start=start,
        end=end,
        building=place,
        setting=line.setting,
        planner_key=f"line-{line.pk}",
    )
    SessionAttendee.objects.create(session=session, service_line=line, student=line.plan.student)
    return session


def _entry(
    key: str, kind: str, url: str, body: dict[str, Any], time: str, day: dt.date, hour: int
) -> dict[str, Any]:
    moment = dt.datetime.combine(day, dt.time(hour), ZoneInfo("America/New_York"))
    return {
        "key": key, "kind": kind, "url": url, "body": body, "time": time, "tapped": int(moment.timestamp() * 1000),
        "words": f"{kind} of {day}", "about": f"{kind} {key}", "date": str(day), "fields": [],
    }  # fmt: skip

"""A published Monday with drives, without the planner, and a clock that a test sets. Invented names only."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, make_ground, make_line
from tests.schedule.log_builders import publish_session, publish_week
from travel.places.models import Building

ZONE = ZoneInfo("America/New_York")


@dataclass
class Day:
    """Monday: north, south, west, north again; three drives, lunch, preparation, a meeting, a make-up.

    `now` is what the clock says, local to the district.
    """

    cast: Cast
    week: WeekPlan
    west: Building
    sessions: list[PlannedSession]
    now: dt.datetime

    def clock(self, text: str, day: dt.date = MONDAY) -> None:
        """Set the clock."""
        self.now = dt.datetime.combine(day, at(text), ZONE)

    def key(self, origin: Building, destination: Building, start: str = "") -> str:
        """What a tap calls a drive; without a start the first one planned between the two."""
        ways = DayItem.objects.filter(week=self.week, kind="drive", origin=origin, building=destination)
        begins = at(start) if start else ways.order_by("start")[0].start
        return f"{origin.pk}-{destination.pk}-{begins:%H%M}"


def add_item(week: WeekPlan, kind: str, start: str, end: str, **values: object) -> DayItem:
    """Something between sessions on Monday."""
    return DayItem.objects.create(week=week, date=MONDAY, kind=kind, start=at(start), end=at(end), **values)


def add_drive(
    week: WeekPlan, origin: Building, destination: Building, start: str, end: str, minutes: int
) -> DayItem:
    """A drive on Monday: from packing up to being signed in."""
    ends = {"origin": origin, "building": destination}
    return add_item(
        week, "drive", start, end, drive_minutes=minutes, miles=Decimal("6.0"), source="own_minutes", **ends
    )


def plan_day(cast: Cast) -> Day:
    """The Monday, in force; nobody has set the clock."""
    make_ground(cast)
    west = Building.objects.create(
        district=cast.district, code="WEST", name="West Hollow School", latitude="43.05", longitude="-75.32"
    )
    far = [make_line(cast, code, building=cast.south) for code in ("F1", "F2")]
    other = make_line(cast, "W1", building=west)
    week = publish_week(cast.teacher, MONDAY)
    sessions = [
        publish_session(MONDAY, [cast.line], "8:30", "9:15"),
        publish_session(MONDAY, far, "10:00", "10:45"),
        publish_session(MONDAY, [other], "12:00", "12:30"),
        publish_session(MONDAY, [cast.line], "13:15", "13:45", makes_up=True),
    ]
    add_drive(week, cast.north, cast.south, "9:20", "9:50", 20)
    add_item(week, "lunch", "10:45", "11:15", building=cast.south)
    add_drive(week, cast.south, west, "11:15", "11:45", 20)
    add_drive(week, west, cast.north, "12:35", "13:10", 25)
    add_item(week, "preparation", "13:45", "14:15", building=cast.north)
    add_item(week, "meeting", "14:15", "15:00", building=cast.north, title="Team")
    return Day(cast, week, west, sessions, dt.datetime.combine(MONDAY, at("6:40"), ZONE))


def make_day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday, in force; the clock says 6:40."""
    day = plan_day(cast)
    monkeypatch.setattr(timezone, "now", lambda: day.now.astimezone(dt.UTC))
    return day

"""A district in the spring before the year to come: two schools, classes, students of several grades."""

import datetime as dt
from typing import Any

from caseload.plans.models import SchoolClass, ServiceLine
from schedule.calendar.models import CalendarEntry, MarkingPeriod, SchoolYear
from schedule.next_year.models import NextYear, NextYearBuilding, NextYearStudent
from schedule.next_year.services.drafting import next_year_begin
from tests.conftest import Cast
from tests.schedule.builders import YEAR_END, YEAR_START, make_bells, make_ground, make_line
from travel.places.models import Building

FIRST, LAST = dt.date(2027, 8, 31), dt.date(2028, 6, 16)
EVE = FIRST - dt.timedelta(days=1)
SPRING = dt.datetime(2027, 3, 10, 18, tzinfo=dt.UTC)


def make_spring(cast: Cast) -> dict[str, ServiceLine]:
    """Fifth and twelfth grade, a class pushed into, marking periods, one holiday and one snow day's stand-in."""
    make_ground(cast)
    year = SchoolYear.objects.get()
    half = dt.date(2027, 1, 29)
    for name, first, last in (("1", YEAR_START, half), ("2", half + dt.timedelta(days=3), YEAR_END)):
        MarkingPeriod.objects.create(
            district=cast.district, school_year=year, name=name, first_day=first, last_day=last
        )
    CalendarEntry.objects.create(
        district=cast.district,
        title="Thanksgiving",
        first_date=dt.date(2026, 11, 26),
        last_date=dt.date(2026, 11, 27),
    )
    Building.objects.filter(pk=cast.south.pk).update(level="middle")
    Building.objects.filter(pk=cast.north.pk).update(level="elementary")
    high = Building.objects.create(
        district=cast.district,
        code="HIGH",
        name="High Fell School",
        level="high",
        latitude="43.2",
        longitude="-75.1",
    )
    make_bells(high)
    room = SchoolClass.objects.create(
        building=cast.north, code="RM5", name="Room 5", grades="3,4", class_teacher="Ms. Oake"
    )
    return {
        "third": make_line(cast, "T3", home_class=room),
        "fifth": make_line(cast, "T5", grade="5"),
        "eighth": make_line(cast, "T8", grade="8", building=cast.south),
        "twelfth": make_line(cast, "T12", grade="12", building=high),
    }


def begin(cast: Cast, **more: Any) -> NextYear:
    """The draft, begun in spring."""
    days = {"name": "2027-28", "first_day": FIRST, "last_day": LAST}
    return next_year_begin(actor=cast.coordinator, now=SPRING, **{**days, **more})


def say_all(cast: Cast, row: NextYear, lines: dict[str, ServiceLine]) -> None:
    """Whatever keeps it from being started: where the fifth grade goes, who leaves."""
    NextYearBuilding.objects.create(next_year=row, building=cast.north, next_building=cast.south)
    say = NextYearStudent.objects.create
    say(next_year=row, student=lines["eighth"].plan.student, choice="again")
    say(next_year=row, student=lines["twelfth"].plan.student, choice="leaves")

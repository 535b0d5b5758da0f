"""Each list of a large district shows a page of rows at most, or is named. Our own goal and measure, no source."""

import datetime as dt
import re
from collections.abc import Iterator
from itertools import count
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person, Substitution
from accounts.pages import A_PAGE
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student
from schedule.calendar.models import CalendarEntry
from tests.config.permission_table import API, PAGES, Row
from tests.config.things import Things, make_things
from tests.conftest import Cast, date_there, make_person, make_student
from travel.places.models import Building, Space

pytestmark = [pytest.mark.django_db, pytest.mark.long, pytest.mark.usefixtures("no_record_of_templates")]
MANY = A_PAGE + 5

MONTH = "One teacher's month, signed and printed whole: as long as the caseload."
WHOLE = "A report, read and printed whole, whose lines add up to its last."
YEAR = "A line for each building of the district, or for each student of one building, said in one form."
EVERYBODY = "A line for each teacher of the district, chosen in one form."
LONGER: dict[str, str] = {
    "manual": "The contents of the manual, which don't grow with a district.",
    "log_month": MONTH,
    "api:log_month": MONTH,
    "report_teacher": MONTH,
    "api:report_teacher": MONTH,
    "report_building": WHOLE,
    "api:report_building": WHOLE,
    "report_district": WHOLE,
    "api:report_district": WHOLE,
    "next_year": YEAR,
    "next_year_missing": YEAR,
    "next_year_building": YEAR,
    "next_year_start": YEAR,
    "api:next-year-standing": YEAR,
    "everybody": EVERYBODY,
    "api:everybody-plan-standing": EVERYBODY,
}
"""Pages and operations whose lists may be longer, with the reason."""

CHOOSES: dict[str, str] = {
    "routine_change": "The caseload of the routine's teacher.",
    "leaving_teacher": "The caseload of the teacher who leaves.",
}
"""Pages that may offer more students to choose among, with the reason."""

SELECT = re.compile(r"<select\b.*?</select>", re.DOTALL)
BOX = re.compile(r'<input type="(?:checkbox|radio)" name="students?" value="\d')
LIST = re.compile(r"<(tbody|ul|ol)\b.*?</\1>", re.DOTALL)
ROW = re.compile(r"<(?:tr|li)\b")


def _fill(cast: Cast) -> None:
    """Many of what a district has many of, all where the cast's own are."""
    people = [make_person(cast.district, f"teacher{number:03}", Person.Role.TEACHER) for number in range(MANY)]
    places = count(1)
    for number, teacher in enumerate(people):
        building = Building.objects.create(
            district=cast.district, code=f"L{number:03}", name=f"Long {number:03}",
            latitude=f"43.{next(places):03}", longitude="-75.5",
        )  # fmt: skip
        student = make_student(cast.district, building, teacher, f"L{number:03}")
        near = make_student(cast.district, cast.north, cast.teacher, f"N{number:03}")
        for one in (student, near):
            _served(cast, one, teacher if one is student else cast.teacher)
        Space.objects.create(building=cast.north, name=f"Room {number:03}")
        SchoolClass.objects.create(building=cast.north, code=f"L{number:03}", name=f"Class {number:03}")
        day = date_there() + dt.timedelta(days=number)
        CalendarEntry.objects.create(district=cast.district, first_date=day, last_date=day)
        Substitution.objects.create(
            substitute=cast.substitute, teacher=teacher, first_date=date_there(), last_date=date_there()
        )


def _served(cast: Cast, student: Student, teacher: Person) -> None:
    plan = Plan.objects.create(student=student, start=cast.plan.start, end=cast.plan.end)
    ServiceLine.objects.create(
        plan=plan, provider=teacher, setting=cast.line.setting, statement=cast.line.statement,
        times=cast.line.times, minutes=cast.line.minutes, start=cast.line.start, end=cast.line.end,
    )  # fmt: skip


def _longest(page: str) -> int:
    return max((len(ROW.findall(found[0])) for found in LIST.finditer(page)), default=0)


def _offered(page: str) -> int:
    """The most students among whom one field has the person choose; all are called Tarn."""
    return max([len(BOX.findall(page)), *(found[0].count("Tarn") for found in SELECT.finditer(page))])


def _rows_of(answer: Any) -> int:
    """The longest list of a JSON answer."""
    inside = answer.values() if isinstance(answer, dict) else answer if isinstance(answer, list) else ()
    own = len(answer) if isinstance(answer, list) else 0
    return max([own, *map(_rows_of, inside)])


def _asked(table: dict[str, Row], things: Things) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for name, row in table.items():
        if "C" in (row.get or ""):
            at = {part: things.value(thing) for part, thing in row.at.items()}
            yield name, reverse(name, kwargs=at), {key: things.value(value) for key, value in row.query.items()}


def test_no_list_is_longer_than_a_page() -> None:
    """A coordinator walks all pages and reads all operations of a district with more of everything than a page."""
    things = make_things()
    _fill(things.cast)
    client = Client()
    client.force_login(things.cast.coordinator)
    found: dict[str, int] = {}
    offered: dict[str, int] = {}
    for name, address, query in _asked(PAGES, things):
        answer = client.get(address, query)
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            page = answer.content.decode()
            found[name], offered[name] = _longest(page), _offered(page)
    for name, address, query in _asked(API, things):
        answer = client.get(address, query)
        if answer.status_code == 200 and "json" in answer["Content-Type"]:
            found[name] = _rows_of(answer.json())
    assert len(found) > 150
    choices = {name: count for name, count in offered.items() if count > A_PAGE}
    assert choices.keys() == CHOOSES.keys(), str(choices)
    longer = {name: rows for name, rows in found.items() if rows > A_PAGE}
    assert longer.keys() == LONGER.keys(), str(longer)

"""Whatever is said of the coming year, and starting it, leaves what is before its first day byte for byte.

Weeks, what weeks are planned from, day sheets, ledgers and feeds are taken as a teacher gets them. Common practice,
no source.
"""

import datetime as dt
import json
from collections.abc import Iterator

import pytest
import time_machine
from rest_framework.test import APIClient

from caseload.plans.models import SchoolClass, ServiceLine
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.next_year.models import NextYear, NextYearBuilding, NextYearClass
from schedule.next_year.services.drafting import next_building_save, next_class_save
from schedule.next_year.services.starting import next_year_start
from schedule.next_year.services.taking_back import next_year_take_back
from schedule.planner.jsonform import problem_to_json
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_week
from tests.schedule.log_builders import log_line
from tests.schedule.next_year.ground import EVE, begin, make_spring, say_all

NOW = dt.datetime(2026, 9, 16, 22, tzinfo=dt.UTC)
"""Six in the evening of the Wednesday of the week in force, in New York."""
LATE_SPRING = dt.date(2027, 6, 7)


@pytest.fixture(autouse=True)
def wednesday() -> Iterator[None]:
    """The clock stands."""
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def lines(cast: Cast) -> dict[str, ServiceLine]:
    """The district with a week in force, one session of it logged."""
    found = make_spring(cast)
    own = f"line-{cast.line.pk}"
    week = make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20")])
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    log_line(cast, date(0))
    return found


@pytest.fixture
def feed(cast: Cast, lines: dict[str, ServiceLine]) -> Feed:
    """The teacher's calendar on the phone."""
    site, values = "https://plan.school.example", {"label": "phone"}
    row, _ = feed_add(actor=cast.teacher, kind=Feed.Kind.TEACHER, site=site, values=values)
    return row


def as_it_stands(cast: Cast, feed: Feed) -> dict[str, bytes]:
    """Everything of this year that a teacher gets."""
    client = APIClient()
    client.force_login(cast.teacher)
    week = WeekPlan.objects.get(status=WeekPlan.Status.PUBLISHED)
    paths = [
        "weeks/",
        f"weeks/{week.pk}/",
        *(f"days/{date(offset)}/" for offset in range(7)),
        f"days/{LATE_SPRING}/",
        f"students/{cast.student.pk}/ledger/",
        "forecasts/",
        "attention/",
    ]
    found = {}
    for path in paths:
        answer = client.get(f"/api/1/{path}")
        assert answer.status_code == 200, path
        found[path] = answer.content
    for monday in (MONDAY, LATE_SPRING):
        problem = problem_to_json(load_week(cast.teacher, monday).problem)
        found[f"planned from {monday}"] = json.dumps(problem, sort_keys=True).encode()
    return {**found, "feed": feed_body(Feed.objects.get(pk=feed.pk))}


def say_much(cast: Cast, row: NextYear, lines: dict[str, ServiceLine]) -> None:
    """Special days kept, a class that ends, another's grades, and who goes where."""
    row.days.update(answer="kept")
    say_all(cast, row, lines)
    place = NextYearBuilding.objects.get(next_year=row, building=cast.north)
    next_building_save(actor=cast.coordinator, row=place, values={"highest_grade": "4", "bells_stay": True})
    room = SchoolClass.objects.get(code="RM5")
    for one, values in ((room, {"grades": "4,5"}), (cast.room4, {"goes_on": False})):
        next_class_save(actor=cast.coordinator, row=NextYearClass(next_year=row, school_class=one), values=values)


def test_the_draft_starting_it_and_taking_it_back_leave_this_year_byte_for_byte(
    cast: Cast, lines: dict[str, ServiceLine], feed: Feed
) -> None:
    before = as_it_stands(cast, feed)
    assert all(before.values())
    row = begin(cast)
    say_much(cast, row, lines)
    assert as_it_stands(cast, feed) == before
    row = next_year_start(actor=cast.coordinator, row=row)
    assert as_it_stands(cast, feed) == before
    next_year_take_back(actor=cast.coordinator, row=row)
    assert as_it_stands(cast, feed) == before


def test_a_students_record_shows_the_coming_move_as_that_of_any_move_entered_before(
    cast: Cast, lines: dict[str, ServiceLine]
) -> None:
    """Until when the student is at this school; class, grade, building and teacher are this year's."""
    client = APIClient()
    client.force_login(cast.teacher)
    before = client.get(f"/api/1/students/{cast.student.pk}/").json()
    row = begin(cast)
    say_all(cast, row, lines)
    next_year_start(actor=cast.coordinator, row=row)
    after = client.get(f"/api/1/students/{cast.student.pk}/").json()
    assert after == {**before, "last_day": EVE.isoformat()}


def test_the_comparison_sees_a_change_of_this_year(cast: Cast, lines: dict[str, ServiceLine], feed: Feed) -> None:
    """It can fail: a session that is logged changes what the teacher gets."""
    before = as_it_stands(cast, feed)
    log_line(cast, date(2))
    after = as_it_stands(cast, feed)
    assert after[f"students/{cast.student.pk}/ledger/"] != before[f"students/{cast.student.pk}/ledger/"]

"""Each teacher's workload in a week: figures worked by hand, who sees them, page and API from one selector."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from caseload.plans.models import ServiceLine
from schedule.weeks.models import DayItem, UnplacedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish
from schedule.workload.selectors import TeacherWorkload, district_workload
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line, make_week

pytestmark = pytest.mark.django_db


@pytest.fixture
def week(cast: Cast) -> WeekPlan:
    """Published: 30 minutes one to one and 20 of consultation in the north, 30 in the south, both on Monday.

    The teacher's other service owes 130 minutes a month and has no place in this week.
    """
    rules = make_ground(cast)
    rules.preparation_smallest_block = 20
    rules.save()
    consulting = make_line(cast, "K1", minutes=20, statement="1 x 20 min/week", service_type="consultation")
    far = make_line(cast, "F1", building=cast.south)
    monthly = make_line(
        cast, "M1", times=None, minutes=None, minutes_total=130, unit="month", statement="130 min/month"
    )
    draft = make_week(
        cast,
        [
            (f"line-{cast.line.pk}", date(0), "9:20"),
            (f"line-{consulting.pk}", date(0), "10:10"),
            (f"line-{far.pk}", date(0), "13:15"),
        ],
    )
    made = week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    made.items.all().delete()
    made.unplaced.all().delete()
    rows = [("preparation", "8:00", "8:40"), ("preparation", "8:45", "9:00"), ("meeting", "14:00", "14:30")]
    for kind, start, end in [*rows, ("lunch", "11:00", "11:30")]:
        DayItem.objects.create(week=made, date=MONDAY, kind=kind, start=at(start), end=at(end))
    DayItem.objects.create(
        week=made, date=MONDAY, kind="drive", start=at("12:30"), end=at("13:10"), origin=cast.north,
        building=cast.south, drive_minutes=22, miles=Decimal("12.4"),
    )  # fmt: skip
    UnplacedSession.objects.create(week=made, service_line=monthly, minutes=30)
    return made


def row_of(cast: Cast) -> TeacherWorkload:
    rows = district_workload(cast.coordinator, MONDAY).teachers
    return next(row for row in rows if row.teacher_id == cast.teacher.pk)


def test_what_plans_owe_in_an_average_week(cast: Cast, week: WeekPlan) -> None:
    """2 x 30 and 30 a week, and 130 a month over 52/12 weeks is 30: 120 direct, 20 of consultation."""
    row = row_of(cast)
    assert (row.students, row.schools) == (4, 2)
    assert (row.owed_direct, row.owed_consultation, row.owed, row.unclear) == (120, 20, 140, 0)


def test_what_the_week_in_force_is_made_of(cast: Cast, week: WeekPlan) -> None:
    """By the clock times above. Contract: five days of 7 hours, each less 30 minutes of lunch: 1,950 minutes."""
    row = row_of(cast)
    planned = row.planned
    assert planned is not None
    assert (planned.direct, planned.consultation) == (60, 20)
    assert (planned.support, planned.preparation) == (40 + 15 + 30, 40)
    assert (planned.travel, planned.wheel, planned.miles) == (40, 22, Decimal("12.4"))
    assert planned.total == 60 + 20 + 85 + 40
    assert (row.contract, planned.above, planned.room) == (1950, 205 - 1950, 1950 - 205)
    assert planned.unplaced == 30


def test_a_service_that_gives_no_weekly_amount_is_counted_apart(cast: Cast) -> None:
    """100 minutes a year where no school year is entered."""
    make_line(cast, "Y1", times=None, minutes=None, minutes_total=100, unit="year", statement="100 min/year")
    row = row_of(cast)
    assert (row.owed, row.unclear) == (60, 1)
    assert (row.contract, row.planned) == (None, None)


def test_only_services_in_force_in_that_week_count(cast: Cast, week: WeekPlan) -> None:
    ServiceLine.objects.filter(pk=cast.line.pk).update(end=date(-1))
    gone = ServiceLine.objects.get(statement="130 min/month").plan.student
    gone.last_day = date(-1)
    gone.save()
    assert (row_of(cast).students, row_of(cast).owed_direct) == (2, 30)


def test_the_district_counts_each_student_and_school_once(cast: Cast, week: WeekPlan) -> None:
    """A second service of the mate for the same student."""
    ServiceLine.objects.create(
        plan=cast.plan, provider=cast.mate, statement="1 x 30 min/week", times=1, minutes=30,
        start=cast.plan.start, end=cast.plan.end,
    )  # fmt: skip
    found = district_workload(cast.coordinator, MONDAY)
    assert [row.students for row in found.teachers if row.teacher_id == cast.mate.pk] == [1]
    assert (found.students, found.schools, found.owed) == (4, 2, 170)
    assert (found.wheel, found.miles, found.unplaced) == (22, Decimal("12.4"), 30)
    names = [row.teacher for row in found.teachers]
    assert names == [
        str(one) for one in sorted([cast.teacher, cast.mate], key=lambda one: (one.last_name, one.first_name))
    ]


def test_another_district_sees_nothing_of_it(cast: Cast, week: WeekPlan) -> None:
    assert district_workload(cast.stranger, MONDAY).teachers == ()


def test_queries_dont_grow_with_the_teachers(
    cast: Cast, week: WeekPlan, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    make_line(cast, "N1", teacher=cast.mate)
    with django_assert_max_num_queries(12):
        district_workload(cast.coordinator, MONDAY)


def test_the_page_shows_the_figures_and_judges_nothing(cast: Cast, week: WeekPlan) -> None:
    client = Client()
    client.force_login(cast.coordinator)
    text = client.get(reverse("workload") + f"?week={date(2)}").content.decode()
    assert "Week of September 14 to September 18, 2026" in text
    assert ">1745 less<" in text
    assert "No week is in force." in text  # the mate's
    assert "not a judgment" in text
    assert "badge" not in text.split("<main")[1]
    home = client.get(reverse("report_home")).content.decode()
    assert reverse("workload") in home


def test_a_district_without_teachers_says_where_they_are_added(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.stranger)
    text = client.get(reverse("workload")).content.decode()
    assert "No teachers here yet." in text
    assert client.get(reverse("workload") + "?week=never").status_code == 400


def test_the_api_answers_as_the_page(cast: Cast, week: WeekPlan) -> None:
    answer = Api(cast.coordinator).get(f"workload/?week={date(2)}")
    [row] = [one for one in answer["teachers"] if one["teacher_id"] == cast.teacher.pk]
    assert (row["owed_direct"], row["planned"]["total"], row["planned"]["above"]) == (120, 205, -1745)
    assert (answer["monday"], answer["owed"]) == (MONDAY.isoformat(), 140)

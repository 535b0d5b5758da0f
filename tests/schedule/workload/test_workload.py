"""Each teacher's workload in a week: figures worked by hand, who sees them, page and API from one selector."""

import re
from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from accounts.models import Person
from caseload.delivery.in_force import in_force
from caseload.plans.models import Enrollment, ServiceLine, Student
from schedule.weeks.models import DayItem, UnplacedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish
from schedule.workload.api import WorkloadPages
from schedule.workload.pages import TEACHERS_SHOWN
from schedule.workload.selectors.district import district_workload, teachers_at_work
from schedule.workload.selectors.teachers import TeacherWorkload, workloads_of
from tests.api import Api
from tests.conftest import Cast, make_person
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line, make_week
from travel.places.models import Building, Space

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
    rows = workloads_of(cast.coordinator, list(teachers_at_work(cast.coordinator, MONDAY)), MONDAY)
    return next(row for row in rows if row.teacher_id == cast.teacher.pk)


def test_what_plans_owe_in_an_average_week(cast: Cast, week: WeekPlan) -> None:
    """2 x 30 and 30 a week, and 130 a month over 52/12 weeks is 30: 120 direct, 20 of consultation."""
    row = row_of(cast)
    assert (row.students, row.schools) == (4, 2)
    assert (row.owed_direct, row.owed_consultation, row.owed, row.unclear) == (120, 20, 140, 0)


def test_a_service_in_another_building_is_counted_where_it_is_held(cast: Cast, week: WeekPlan) -> None:
    """A student of the north swims in a third building: the teacher goes to three."""
    high = Building.objects.create(district=cast.district, code="HIGH", name="High Fell", level="high")
    pool = Space.objects.create(building=high, name="Pool", kind="pool")
    swims = make_line(cast, "P1", held_in=pool)
    assert (row_of(cast).students, row_of(cast).schools) == (5, 3)
    assert district_workload(cast.coordinator, MONDAY).schools == 3
    # The only student of the south swims, too: nobody is taught in the south.
    ServiceLine.objects.filter(plan__student__code="F1").update(held_in=pool)
    assert row_of(cast).schools == 2
    swims.delete()
    assert row_of(cast).schools == 2


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
    teachers = list(teachers_at_work(cast.coordinator, MONDAY))
    assert [row.students for row in workloads_of(cast.coordinator, [cast.mate], MONDAY)] == [1]
    assert (found.students, found.schools, found.owed) == (4, 2, 170)
    assert (found.wheel, str(found.miles), found.unplaced) == (22, "12.4", 30)
    assert teachers == sorted([cast.teacher, cast.mate], key=lambda one: (one.last_name, one.first_name))


def test_another_district_sees_nothing_of_it(cast: Cast, week: WeekPlan) -> None:
    found = district_workload(cast.stranger, MONDAY)
    assert (found.students, found.schools, found.owed, found.wheel, found.unplaced) == (0, 0, 0, 0, 0)
    assert not teachers_at_work(cast.stranger, MONDAY)


def test_queries_dont_grow_with_the_teachers(
    cast: Cast, week: WeekPlan, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    make_line(cast, "N1", teacher=cast.mate)
    with django_assert_max_num_queries(12):
        district_workload(cast.coordinator, MONDAY)
    with django_assert_max_num_queries(12):
        workloads_of(cast.coordinator, list(teachers_at_work(cast.coordinator, MONDAY)), MONDAY)


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
    assert (answer["count"], answer["next"], answer["previous"]) == (2, None, None)
    Api(cast.coordinator).get("workload/?page=2", expect=400)


STAYS: tuple[tuple[tuple[int | None, int | None, str, bool], ...], ...] = (
    (),
    ((None, None, "north", False),),
    ((None, 2, "north", False), (3, None, "south", False)),
    ((None, None, "north", False), (0, 3, "south", True)),
    ((4, None, "south", False),),
    ((None, -1, "south", False),),
    ((-20, -8, "north", False), (9, None, "south", False)),
    ((0, 1, "south", False),),
)
"""Days of stays from the week's Monday, where, and whether it is a program beside the school."""
DATES = ((-10, 60), (2, 60), (-10, 1), (3, 3), (5, 60))
TERMS: tuple[dict[str, Any], ...] = (
    {"statement": "2 x 30 min/week", "times": 2, "minutes": 30},
    {"statement": "130 min/month", "times": None, "minutes": None, "minutes_total": 130, "unit": "month"},
    {"statement": "300 min total", "times": None, "minutes": None, "minutes_total": 300, "unit": "total"},
    {"statement": "100 min/year", "times": None, "minutes": None, "minutes_total": 100, "unit": "year"},
)


def test_the_database_adds_up_what_the_days_say(cast: Cast) -> None:
    """Each kind of stay with each service's dates: as `in_force` and `places`, which go day by day, have it.

    Both ways are ours; the second is the one by which minutes are owed. No source.
    """
    schools = {"north": cast.north, "south": cast.south}
    ServiceLine.objects.all().delete()
    lines: list[ServiceLine] = []
    for at_once, (stays, (start, end)) in enumerate(product(STAYS, DATES)):
        line = make_line(cast, f"S{at_once}", **TERMS[at_once % len(TERMS)])
        Enrollment.objects.filter(student=line.student).delete()
        for first, last, school, program in stays:
            days = {
                "first_day": None if first is None else date(first),
                "last_day": None if last is None else date(last),
            }
            Enrollment.objects.create(
                student=line.student, building=schools[school], grade="3", is_program=program, **days
            )
        named = cast.south if any(program for *_, program in stays) else None
        ServiceLine.objects.filter(pk=line.pk).update(start=date(start), end=date(end), building=named)
        lines.append(ServiceLine.objects.get(pk=line.pk))
        if not stays and at_once % 2:
            Student.objects.filter(pk=line.plan.student_id).update(first_day=date(-3), last_day=date(1))
            lines[-1].refresh_from_db()
    spans = {one.pk: in_force(one) for one in lines}
    held = [
        one for one in lines if spans[one.pk][0] <= min(spans[one.pk][1], date(6)) and spans[one.pk][1] >= MONDAY
    ]
    found = district_workload(cast.coordinator, MONDAY)
    assert 0 < len(held) < len(lines)
    assert found.students == len(held)
    assert found.schools == len({place for one in held for place in one.places(MONDAY, date(6))})
    assert found.unclear == sum(one.unit == "year" for one in held)
    [row] = workloads_of(cast.coordinator, [cast.teacher], MONDAY)
    assert (row.students, row.owed, row.unclear) == (found.students, found.owed, found.unclear)


def test_schools_are_those_of_the_days(cast: Cast) -> None:
    """One student at a program of the week's second half; one whose service ends before the move."""
    ServiceLine.objects.all().delete()
    for code, end, is_program in (("A1", 60, True), ("A2", 2, False)):
        line = make_line(cast, code)
        Enrollment.objects.filter(student=line.student).delete()
        last = None if is_program else date(2)
        Enrollment.objects.create(student=line.student, building=cast.north, grade="3", last_day=last)
        Enrollment.objects.create(
            student=line.student, building=cast.south, grade="3", is_program=is_program, first_day=date(3)
        )
        ServiceLine.objects.filter(pk=line.pk).update(
            end=date(end), start=date(-5), building=cast.south if is_program else None
        )
    assert district_workload(cast.coordinator, MONDAY).schools == 2
    ServiceLine.objects.filter(plan__student__code="A1").delete()
    assert district_workload(cast.coordinator, MONDAY).schools == 1


def test_a_long_district_comes_in_pages(cast: Cast) -> None:
    """Sums of all on each page; every teacher once, over the API by its `next`."""
    for number in range(TEACHERS_SHOWN + 3):
        mate = make_person(cast.district, f"more{number:02}", Person.Role.TEACHER)
        if number == 0:
            make_line(cast, "P1", teacher=mate)
    client = Client()
    client.force_login(cast.coordinator)
    names: list[str] = []
    for page in ("1", "2"):
        text = client.get(reverse("workload"), {"week": str(MONDAY), "page": page}).content.decode()
        assert "<dt>Minutes owed a week</dt><dd>90</dd>" in text
        names += re.findall(r'<th scope="row">([^<]+)</th>', text.split("<tbody>")[1].split("</tbody>")[0])
    everyone = list(teachers_at_work(cast.coordinator, MONDAY))
    assert names == [str(one) for one in everyone]
    address, told = f"workload/?week={MONDAY}", []
    while address:
        answer = Api(cast.coordinator).get(address)
        assert (answer["owed"], answer["count"]) == (90, len(everyone))
        assert len(answer["teachers"]) <= WorkloadPages.page_size
        told += [one["teacher_id"] for one in answer["teachers"]]
        address = (answer["next"] or "").partition("/api/1/")[2]
    assert told == sorted(one.pk for one in everyone)


def test_who_has_left_stays_while_there_is_something(cast: Cast) -> None:
    """By a service of the week; not without one."""
    for person in (cast.mate, cast.teacher):
        person.is_active = False
        person.save()
    assert list(teachers_at_work(cast.coordinator, MONDAY)) == [cast.teacher]

"""The term behind the demo: what is loaded, on which day it was done, and that it is loaded once."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.db import transaction

from accounts.models import Person
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.months.models import LogMonth
from caseload.plans.models import SchoolClass, Student
from caseload.plans.models.enrollment import enrollment_on
from caseload.progress.models import DataPoint, StudentGoal
from schedule.demo.services.past import MOST_WEEKS, Past, demo_past_load, demo_people
from schedule.demo.services.reports import BEGUN
from schedule.demo.services.rotations import demo_rotations_make
from schedule.demo.services.weeks import past_week_publish, sessions_of_file
from schedule.imports.services.demo import demo_district_load
from schedule.log.selectors.sessions import sessions_of_day
from schedule.stations.models import Station, StationGoal, StationRotation
from schedule.stations.selectors.asking import class_hour
from schedule.stations.selectors.showing import rotation_view
from schedule.telling.models import ProgressReport
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.school_weeks import next_full_week
from travel.drives.models import DriveLog
from travel.mileage.models import Voucher

pytestmark = pytest.mark.long
FIXTURES = Path(settings.BASE_DIR) / "fixtures"
TODAY = dt.date(2026, 10, 7)
"""A Wednesday: five weeks are behind it or around it, and one month is over. Two short ones lie between it and the
next full week, which the demo plans."""


def load_past(today: dt.date = TODAY) -> Past:
    return demo_past_load(
        teacher=demo_people("teacher"),
        coordinator=demo_people("coordinator"),
        folder=FIXTURES / "past",
        today=today,
    )


@pytest.fixture(scope="module")
def past(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> Iterator[Past]:
    """The demo with its past, loaded once for the file; each test works inside this transaction."""
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]  # pytest-django's blocker
        assert demo_district_load(folder=FIXTURES, today=TODAY)
        assert load_past(dt.date(2026, 8, 1)) == Past(), "before the school year nothing lies behind"
        yield load_past()
        transaction.set_rollback(True)


@pytest.fixture
def teacher(past: Past, db: None) -> Person:
    return Person.objects.get(username="teacher")


def test_weeks_up_to_the_one_that_is_planned_are_in_force_and_break_no_rule(teacher: Person, past: Past) -> None:
    weeks = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED).order_by("monday")
    assert [week.monday for week in weeks] == [dt.date(2026, 9, 7) + dt.timedelta(weeks=n) for n in range(7)]
    assert past.weeks == 7
    assert weeks[6].monday + dt.timedelta(weeks=1) == next_full_week(teacher, TODAY)
    assert all(not week.figures.get("broken") for week in weeks)
    # Each was published before it began, as a teacher does, and none of them after today.
    dates = [(week.monday, week.published_at.date()) for week in weeks if week.published_at is not None]
    assert len(dates) == 7
    assert all(published < monday and published < TODAY for monday, published in dates)


def test_reports_are_begun_and_one_is_signed_while_the_marking_period_runs(teacher: Person) -> None:
    """For the annual meeting; what is signed has its charts."""
    reports = ProgressReport.objects.visible_to(teacher)
    assert reports.filter(kind="period", signed_at__isnull=True).count() == BEGUN
    signed = reports.get(signed_at__isnull=False)
    assert (signed.kind, signed.signed_name) == ("annual", str(teacher))
    assert signed.content["drawings"]
    assert signed.signed_at is not None
    assert signed.signed_at.date() <= TODAY


def test_every_session_behind_is_logged_on_its_day_but_for_the_last_afternoon(teacher: Person) -> None:
    yesterday = TODAY - dt.timedelta(days=1)
    versions = DeliveryVersion.objects.select_related("entry")
    assert all(version.logged_at.date() == version.entry.date for version in versions)
    # A holiday has no sessions, so every day from the first of school to the day before yesterday is asked.
    for number in range((yesterday - dt.date(2026, 9, 8)).days):
        day = dt.date(2026, 9, 8) + dt.timedelta(days=number)
        assert all(one.is_logged for one in sessions_of_day(teacher, day, teacher=teacher)), day
    last = sessions_of_day(teacher, yesterday, teacher=teacher)
    waiting = [one.start for one in last if not one.is_logged]
    assert waiting
    assert min(waiting) >= dt.time(12)
    assert not DeliveryEntry.objects.filter(date__gte=TODAY).exists()


def test_the_days_on_which_the_teacher_was_ill_gave_nothing(teacher: Person) -> None:
    versions = DeliveryVersion.objects.filter(entry__date__in=[dt.date(2026, 10, 1), dt.date(2026, 10, 2)])
    assert {(one.delivered_minutes, one.reason and one.reason.code) for one in versions} == {(0, "teacher_absent")}


def test_a_student_began_the_year_at_another_school(teacher: Person) -> None:
    student = Student.objects.get(code="S34")
    assert student.building.code == "CRAG"
    stay = enrollment_on(student, dt.date(2026, 9, 20))
    assert stay is not None
    assert stay.building.code == "FENN"
    there = PlannedSession.objects.filter(attendees__student=student, date__lt=dt.date(2026, 10, 5))
    assert set(there.values_list("building__code", flat=True)) == {"FENN"}


def test_the_month_that_is_over_is_signed_and_claimed(teacher: Person) -> None:
    month = LogMonth.objects.get(teacher=teacher)
    assert (month.month, month.status) == (dt.date(2026, 9, 1), LogMonth.Status.SIGNED)
    voucher = Voucher.objects.get(teacher=teacher)
    assert (voucher.month, voucher.status) == (dt.date(2026, 9, 1), Voucher.Status.SUBMITTED)
    assert voucher.lines.count() > 20
    assert DriveLog.objects.filter(teacher=teacher, arrived_at__isnull=False).count() > 20


def test_goals_have_data_only_on_days_with_a_session_and_each_story_its_own(teacher: Person, past: Past) -> None:
    points = DataPoint.objects.select_related("goal__student")
    assert points.count() == past.points > 30
    days = set(DeliveryVersion.objects.filter(delivered_minutes__gt=0).values_list("entry__student", "entry__date"))
    assert all((one.goal.student_id, one.day) in days for one in points)
    assert points.filter(goal__student__code="S05").count() == 2
    # One goal can't be read: it waits for an answer, and has no data.
    unread = StudentGoal.objects.get(measure="")
    assert not unread.data.exists()


def test_it_is_loaded_once(teacher: Person) -> None:
    entries = DeliveryEntry.objects.count()
    assert load_past() == Past()
    assert DeliveryEntry.objects.count() == entries


def test_the_whole_table_fits_and_leaves_nothing_owed_in_a_full_week(teacher: Person) -> None:
    """Every week of the year is published: a rule that a session breaks would refuse it.

    The demo plans the next full week, whatever day it is begun on, with the weeks before it in force: what the
    table holds of that week shows that all it owes has a place.
    """
    sessions = sessions_of_file(FIXTURES / "past" / "sessions.csv")
    in_force = set(WeekPlan.objects.filter(teacher=teacher).values_list("monday", flat=True))
    assert len(sessions) > 2 * MOST_WEEKS
    full = 0
    for monday in sorted(set(sessions) - in_force):
        owed = _owed(teacher, monday)
        week = past_week_publish(teacher, monday, sessions[monday])
        assert week.sessions.count() == len(sessions[monday])
        if next_full_week(teacher, monday) == monday:
            full += 1
            rows = week.sessions.filter(makes_up=False)
            held = Counter(rows.values_list("attendees__service_line", flat=True))
            assert {line: count for line, count in owed.items() if held[line] != count} == {}, monday
    assert full > 12


def _owed(teacher: Person, monday: dt.date) -> dict[int, int]:
    """How many sessions the week owes of each line, as the planner is told."""
    loaded = load_week(teacher, monday)
    sessions = {service.id: service.sessions for service in loaded.problem.services}
    return {line: sessions[unit] for line, unit in loaded.units.unit_of_line().items()}


def test_stations_serve_goals_that_fit(teacher: Person) -> None:
    """So that a rotation of the demo has something to aim at; every station but the one for rolling."""
    served = StationGoal.objects.visible_to(teacher)
    pairs = set(served.values_list("station__name", "goal__student__code"))
    assert {("Frog spots", "S28"), ("Bag toss", "S03"), ("Line beam", "S34"), ("Copy the partner", "S13")} <= pairs
    assert set(Station.objects.exclude(goals__in=served).values_list("name", flat=True)) == {"Ramp and pins"}


def test_each_class_has_its_stations_on_its_last_day_and_on_its_next(teacher: Person) -> None:
    assert demo_rotations_make(teacher=teacher, today=TODAY) >= 7
    rows = StationRotation.objects.visible_to(teacher)
    classes = set(SchoolClass.objects.filter(kind=SchoolClass.Kind.SELF_CONTAINED))
    behind = rows.filter(date__lt=TODAY)
    assert {row.school_class for row in behind} == classes
    assert rows.filter(date__gte=TODAY).count() > 2
    assert all(row.made_at.date() < row.date for row in rows)
    # A caution met, and two who are kept apart: Room 3 has both.
    session = behind.get(school_class__code="RM3").session_uid
    view = rotation_view(teacher, class_hour(teacher, session))
    assert view is not None
    assert not view.broken
    kept = [(row["key"], row["barred"]) for row in behind.get(session_uid=session).content["students"]]
    assert any(barred for _, barred in kept)
    assert behind.get(session_uid=session).content["apart"]
    assert demo_rotations_make(teacher=teacher, today=TODAY) == 0

"""The chance of arriving on time for each drive of a week, and what a pair of buildings costs."""

import datetime as dt
from decimal import Decimal

import pytest

from accounts.errors import ApplicationError
from schedule.trips.selectors.road_map import road_map_view
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.arrivals import week_arrivals
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at
from travel.drives.models import DriveLog, OwnDriveTime
from travel.drives.selectors import drive_table
from travel.places.models import Building

TUESDAY = MONDAY + dt.timedelta(days=1)


@pytest.fixture
def week(cast: Cast) -> WeekPlan:
    """Ten own minutes from north to south, three to pack up and five to sign in; a drive each on two days."""
    Building.objects.update(leave_minutes=3, arrive_minutes=5)
    OwnDriveTime.objects.create(
        district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south, minutes=10
    )
    row = WeekPlan.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        monday=MONDAY,
        last_date=MONDAY + dt.timedelta(days=6),
        created_by=cast.teacher,
    )
    drive(row, cast, MONDAY, "10:00")
    session(row, cast, MONDAY, "10:18")
    drive(row, cast, TUESDAY, "10:00")
    session(row, cast, TUESDAY, "11:00")
    return row


def drive(week: WeekPlan, cast: Cast, date: dt.date, start: str) -> None:
    """18 minutes from packing up to being signed in."""
    end = (dt.datetime.combine(date, at(start)) + dt.timedelta(minutes=18)).time()
    DayItem.objects.create(
        week=week,
        date=date,
        kind=DayItem.Kind.DRIVE,
        start=at(start),
        end=end,
        origin=cast.north,
        building=cast.south,
        drive_minutes=10,
        miles=Decimal("5.5"),
    )


def session(week: WeekPlan, cast: Cast, date: dt.date, start: str) -> None:
    """Half an hour in the south."""
    PlannedSession.objects.create(
        week=week,
        date=date,
        start=at(start),
        end=at(start).replace(minute=59),
        building=cast.south,
        setting="small_group",
        planner_key="line",
    )


def test_a_drive_without_slack_arrives_on_time_every_second_time(cast: Cast, week: WeekPlan) -> None:
    """Own minutes are the middle: half of the drives take longer."""
    found = week_arrivals(cast.teacher, week)
    monday, tuesday = found.legs
    assert (monday.leave, monday.due, monday.allowed_minutes) == (at("10:03"), at("10:13"), 10)
    assert monday.chance == 0.5
    # 52 minutes for ten: ln 5.2 is almost six spreads of 0.2828 away.
    assert (tuesday.due, tuesday.chance) == (at("10:55"), 1.0)
    assert found.tightest == monday


def test_drives_that_were_logged_say_the_chance_where_own_minutes_plan(cast: Cast, week: WeekPlan) -> None:
    """Ten are entered and allowed; twelve drives took 15: one in two arrives on time no more."""
    for number in range(12):
        start = dt.datetime(2026, 8, 3 + number, 14, 3, tzinfo=dt.UTC)
        DriveLog.objects.create(
            district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south,
            date=start.date(), started_at=start, arrived_at=start + dt.timedelta(minutes=15),
        )  # fmt: skip
    monday = week_arrivals(cast.teacher, week).legs[0]
    assert (monday.allowed_minutes, monday.planned_with, monday.drives) == (10, 10, 12)
    # 10 as one drive of thirteen: ln(15 / 10) * 12 / 13 is the middle, more than two spreads above nothing.
    assert monday.usual_minutes == round(10 * 1.5 ** (12 / 13), 1)
    assert monday.chance < 0.05
    assert monday.differs == "Your last 12 drives took 15 minutes, you entered 10."
    assert week_arrivals(cast.coordinator, week).legs[0].differs.startswith("The last 12 drives took 15")
    table = drive_table(cast.teacher, [cast.north, cast.south])
    assert table.minutes(cast.north.pk, cast.south.pk) == 10, "what is planned with stays"


def test_lunch_between_is_kept_and_preparation_gives_way(cast: Cast, week: WeekPlan) -> None:
    DayItem.objects.create(week=week, date=TUESDAY, kind="lunch", start=at("10:20"), end=at("10:50"))
    DayItem.objects.create(week=week, date=TUESDAY, kind="preparation", start=at("10:50"), end=at("11:00"))
    assert week_arrivals(cast.teacher, week).legs[1].allowed_minutes == 22


def test_a_meeting_waits_like_a_class_and_the_way_home_for_nobody(cast: Cast, week: WeekPlan) -> None:
    drive(week, cast, TUESDAY, "14:00")
    assert len(week_arrivals(cast.teacher, week).legs) == 2
    DayItem.objects.create(week=week, date=TUESDAY, kind="meeting", start=at("14:30"), end=at("15:00"))
    assert week_arrivals(cast.teacher, week).legs[2].allowed_minutes == 22


def test_a_pair_costs_what_is_planned_between_it(cast: Cast, week: WeekPlan) -> None:
    (pair,) = week_arrivals(cast.teacher, week).pairs
    assert (pair.origin_id, pair.destination_id) == (cast.north.pk, cast.south.pk)
    assert (pair.trips, pair.minutes, pair.miles) == (2, 20, Decimal("11.0"))
    assert road_map_view(cast.teacher, cast.teacher, week.monday).lines == (pair,)


def test_a_week_without_drives_has_no_tightest(cast: Cast, week: WeekPlan) -> None:
    DayItem.objects.all().delete()
    found = week_arrivals(cast.teacher, week)
    assert (found.legs, found.tightest, found.pairs) == ((), None, ())


def test_only_for_the_teacher_and_the_coordinator(cast: Cast, week: WeekPlan) -> None:
    assert week_arrivals(cast.coordinator, week).tightest is not None
    for other in (cast.mate, cast.office, cast.substitute, cast.stranger):
        with pytest.raises(ApplicationError):
            week_arrivals(other, week)

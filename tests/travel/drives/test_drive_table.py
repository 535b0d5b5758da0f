"""The table of drive times: whose minutes win, and what is said where nobody knows."""

from decimal import Decimal

import pytest

from accounts.errors import ApplicationError
from accounts.models import Person
from tests.conftest import Cast
from travel.drives.models import OwnDriveTime
from travel.drives.selectors import drive_table
from travel.places.models import Building
from travel.roads.base import LegSource


def enter_minutes(
    teacher: Person,
    origin: Building,
    destination: Building,
    minutes: int,
    *,
    miles: str | None = None,
    both_ways: bool = True,
) -> OwnDriveTime:
    """A row of the teacher's own minutes."""
    return OwnDriveTime.objects.create(
        district=origin.district,
        teacher=teacher,
        origin=origin,
        destination=destination,
        minutes=minutes,
        miles=miles,
        both_ways=both_ways,
    )


@pytest.fixture
def nowhere(cast: Cast) -> Building:
    """A building without coordinates."""
    return Building.objects.create(district=cast.district, code="NOWHERE", name="Unmapped School")


def test_without_own_minutes_the_estimate_answers(cast: Cast) -> None:
    table = drive_table(cast.teacher, [cast.north, cast.south])
    there = table.leg(cast.north.pk, cast.south.pk)
    assert there == table.leg(cast.south.pk, cast.north.pk)
    assert there.source is LegSource.ESTIMATE
    # 0.08° of latitude are 8.9 km (111 km a degree), so 1.2 to 1.42 times that by road: 6.6 to 7.9 miles.
    assert there.miles is not None
    assert Decimal("6.6") <= there.miles <= Decimal("7.9")
    assert not table.missing
    assert table.minutes(cast.north.pk, cast.north.pk) == 0


def test_own_minutes_always_win_and_count_both_ways(cast: Cast) -> None:
    enter_minutes(cast.teacher, cast.north, cast.south, 3, miles="7.7")
    table = drive_table(cast.teacher, [cast.north, cast.south])
    for pair in ((cast.north.pk, cast.south.pk), (cast.south.pk, cast.north.pk)):
        leg = table.leg(*pair)
        assert (leg.minutes, leg.miles, leg.source) == (3, Decimal("7.7"), LegSource.MEASURED_BY_YOU)
        assert leg.meters == 12392  # 7.7 international miles of 1609.344 m


def test_one_way_minutes_leave_the_way_back_to_the_estimate(cast: Cast) -> None:
    enter_minutes(cast.teacher, cast.north, cast.south, 55, both_ways=False)
    table = drive_table(cast.teacher, [cast.north, cast.south])
    assert table.minutes(cast.north.pk, cast.south.pk) == 55
    assert table.leg(cast.south.pk, cast.north.pk).source is LegSource.ESTIMATE


@pytest.mark.parametrize("one_way_first", [True, False])
def test_the_way_back_may_take_its_own_time(cast: Cast, one_way_first: bool) -> None:
    rows = [(cast.north, cast.south, 21, True), (cast.south, cast.north, 34, False)]
    for origin, destination, minutes, both_ways in reversed(rows) if one_way_first else rows:
        enter_minutes(cast.teacher, origin, destination, minutes, both_ways=both_ways)
    table = drive_table(cast.teacher, [cast.north, cast.south])
    assert table.minutes(cast.north.pk, cast.south.pk) == 21
    assert table.minutes(cast.south.pk, cast.north.pk) == 34


def test_own_minutes_without_miles_take_the_estimated_distance(cast: Cast) -> None:
    estimated = drive_table(cast.teacher, [cast.north, cast.south]).leg(cast.north.pk, cast.south.pk)
    enter_minutes(cast.teacher, cast.north, cast.south, 40)
    leg = drive_table(cast.teacher, [cast.north, cast.south]).leg(cast.north.pk, cast.south.pk)
    assert (leg.minutes, leg.miles, leg.meters) == (40, estimated.miles, estimated.meters)


def test_another_teachers_minutes_count_for_nobody_else(cast: Cast) -> None:
    enter_minutes(cast.mate, cast.north, cast.south, 99)
    leg = drive_table(cast.teacher, [cast.north, cast.south]).leg(cast.north.pk, cast.south.pk)
    assert leg.source is LegSource.ESTIMATE


def test_a_building_without_coordinates_is_named_with_what_mends_it(cast: Cast, nowhere: Building) -> None:
    table = drive_table(cast.teacher, [cast.north, nowhere])
    assert table.missing
    assert {(pair.origin_id, pair.destination_id) for pair in table.missing} == {
        (cast.north.pk, nowhere.pk),
        (nowhere.pk, cast.north.pk),
    }
    assert table.minutes(nowhere.pk, nowhere.pk) == 0
    with pytest.raises(ApplicationError) as refused:
        table.leg(cast.north.pk, nowhere.pk)
    assert refused.value.code == "no_drive_time"
    for words in ("Unmapped School has no coordinates", "latitude and longitude", "your own minutes"):
        assert words in refused.value.message
    with pytest.raises(ApplicationError, match="Unmapped School"):
        table.refuse_gaps()


def test_own_minutes_answer_for_a_building_without_coordinates(cast: Cast, nowhere: Building) -> None:
    enter_minutes(cast.teacher, nowhere, cast.north, 12)
    table = drive_table(cast.teacher, [cast.north, nowhere])
    table.refuse_gaps()
    leg = table.leg(cast.north.pk, nowhere.pk)
    assert (leg.minutes, leg.miles, leg.meters) == (12, None, None)


def test_two_buildings_at_one_place_are_pointed_out(cast: Cast) -> None:
    # 0.0001° of latitude are 11 m.
    twin = Building.objects.create(
        district=cast.district, code="TWIN", name="Twin School", latitude="43.1001", longitude="-75.20"
    )
    table = drive_table(cast.teacher, [cast.north, cast.south, twin])
    assert len(table.warnings) == 1
    assert "North Hollow School and Twin School are at the same place" in table.warnings[0]
    assert not table.missing


@pytest.mark.parametrize(("degrees", "told"), [("0.000268", 1), ("0.000272", 0)])
def test_near_the_limit_the_ellipsoid_says_who_stands_at_one_place(cast: Cast, degrees: str, told: int) -> None:
    # At 43.1° of latitude a degree of it is 111.10 km on the WGS84 ellipsoid (Snyder 1987, "Map Projections: A
    # Working Manual", table 8: 111.094 km at 43° (from memory)): 29.8 and 30.2 m. On a sphere it is 111.19 km.
    twin = Building.objects.create(
        district=cast.district,
        code="TWIN",
        name="Twin School",
        latitude=Decimal("43.1") + Decimal(degrees),
        longitude=cast.north.longitude,
    )
    assert len(drive_table(cast.teacher, [cast.north, twin]).warnings) == told


def test_a_pair_outside_the_table_is_the_callers_mistake(cast: Cast) -> None:
    with pytest.raises(KeyError):
        drive_table(cast.teacher, [cast.north]).leg(cast.north.pk, cast.south.pk)

"""Whose minutes count in a drive table, with real roads under it."""

import datetime as dt
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.cache import cache
from pytest_django.fixtures import Settings

from tests.answering_server import server_that
from tests.conftest import Cast
from tests.roads import PreparedRoads, Server, street_points
from tests.travel.drives.test_drive_table import enter_minutes
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
from travel.drives.selectors import Clock, DriveTable, drive_table
from travel.drives.services import roads_choose, travel_choices_save
from travel.places.models import Building
from travel.places.selectors import map_ground
from travel.roads.answer import RoadAnswer
from travel.roads.base import LegSource, Point
from travel.roads.geodesic import GeodesicEstimator
from travel.roads.models import TravelChoices
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.prepare import prepare

EASTERN = ZoneInfo("America/New_York")


@pytest.fixture(autouse=True)
def no_memory() -> None:
    """A server that was silent in another test is asked again."""
    cache.clear()


@pytest.fixture
def places(helsinki_engine: OsrmEngine) -> list[Point]:
    """Two places on streets."""
    return street_points(helsinki_engine, 2, seed=21)


@pytest.fixture
def town(cast: Cast, places: list[Point]) -> Cast:
    """The cast's two buildings on those streets; no roads are prepared yet."""
    for building, place in zip((cast.north, cast.south), places, strict=True):
        move(building, place)
    return cast


@pytest.fixture
def on_roads(town: Cast, helsinki_roads: PreparedRoads, settings: Settings) -> Cast:
    """The same, with roads prepared."""
    settings.ROADS_DIR = helsinki_roads.roads_dir
    roads_choose(district=town.district, prepared=helsinki_roads.prepared)
    return town


def move(building: Building, place: Point) -> None:
    """Put a building somewhere else."""
    building.latitude, building.longitude = round(place.latitude, 6), round(place.longitude, 6)
    building.save()


def table_of(cast: Cast, *more: Building, clock: Clock | None = None) -> DriveTable:
    """The teacher's table."""
    buildings = [cast.north, cast.south, *more]
    return drive_table(cast.teacher, buildings, clock=clock or Clock())


def there(cast: Cast) -> tuple[int, int]:
    """From north to south."""
    return cast.north.pk, cast.south.pk


def log_drive(cast: Cast, day: int, start: str, minutes: float, *, back: bool = False) -> DriveLog:
    """A drive on a day of October 2026."""
    origin, destination = (cast.south, cast.north) if back else (cast.north, cast.south)
    started = dt.datetime.combine(dt.date(2026, 10, day), dt.time.fromisoformat(start), tzinfo=EASTERN)
    return DriveLog.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        origin=origin,
        destination=destination,
        date=started.date(),
        started_at=started,
        arrived_at=started + dt.timedelta(minutes=minutes),
    )


def test_a_prepared_extract_answers_before_the_estimate(
    on_roads: Cast, places: list[Point], helsinki_engine: OsrmEngine
) -> None:
    leg = table_of(on_roads).leg(*there(on_roads))
    expected = helsinki_engine.answer(places).legs[0, 1]
    assert leg.source is LegSource.ROAD
    assert leg.meters == pytest.approx(expected.meters, abs=2)
    assert leg.minutes == expected.minutes


def test_the_distance_is_the_roads_whatever_was_entered(on_roads: Cast) -> None:
    """Own minutes win for the plan; own miles are no chart where the roads know the way."""
    road = table_of(on_roads).distances[there(on_roads)]
    enter_minutes(on_roads.teacher, on_roads.north, on_roads.south, 17)
    OwnDriveTime.objects.update(miles=road.miles + 30 if road.miles is not None else None)
    found = table_of(on_roads)
    assert found.leg(*there(on_roads)).source is LegSource.MEASURED_BY_YOU
    assert found.distances[there(on_roads)] == road
    assert road.source is LegSource.ROAD


def test_another_district_has_its_own_roads(on_roads: Cast) -> None:
    assert not TravelChoices.objects.filter(district=on_roads.other_district).exists()
    assert TravelChoices.objects.visible_to(on_roads.stranger).count() == 0


def test_own_minutes_win_over_drives_and_drives_over_the_road(on_roads: Cast) -> None:
    for day in (5, 6, 7, 8, 9):
        log_drive(on_roads, day, "12:00", 9)
    learned = table_of(on_roads).leg(*there(on_roads))
    assert learned.source is LegSource.LEARNED
    assert 6 <= learned.minutes <= 9
    enter_minutes(on_roads.teacher, on_roads.north, on_roads.south, 17)
    assert table_of(on_roads).leg(*there(on_roads)).source is LegSource.MEASURED_BY_YOU
    assert table_of(on_roads).minutes(*there(on_roads)) == 17


def test_drives_teach_their_direction_and_their_teacher_only(town: Cast) -> None:
    for day in (5, 6, 7):
        log_drive(town, day, "12:00", 3)
    table = table_of(town)
    assert table.leg(*there(town)).source is LegSource.LEARNED
    assert table.leg(*reversed(there(town))).source is LegSource.ESTIMATE
    assert drive_table(town.mate, [town.north, town.south]).leg(*there(town)).source is LegSource.ESTIMATE


def test_a_drive_under_way_and_one_by_the_odometer_teach_no_minutes(town: Cast) -> None:
    open_one = log_drive(town, 5, "12:00", 25)
    DriveLog.objects.filter(pk=open_one.pk).update(arrived_at=None)
    odometer_only = log_drive(town, 6, "12:00", 25)
    DriveLog.objects.filter(pk=odometer_only.pk).update(started_at=None, arrived_at=None, odometer_before=7)
    assert table_of(town).leg(*there(town)).source is LegSource.ESTIMATE


def test_three_drives_answer_where_nothing_else_can(cast: Cast) -> None:
    Building.objects.update(latitude=None, longitude=None)
    cast.north.refresh_from_db()
    cast.south.refresh_from_db()
    for day in (5, 6, 7):
        log_drive(cast, day, "12:00", 20)
    table = table_of(cast)
    leg = table.leg(*there(cast))
    assert (leg.minutes, leg.miles, leg.source) == (20, None, LegSource.LEARNED)
    assert [(one.origin_id, one.destination_id) for one in table.missing] == [(cast.south.pk, cast.north.pk)]


def rush(cast: Cast, factor: str, start: str = "07:30", end: str = "08:15", *, pair: bool = False) -> None:
    """Drives take longer."""
    ends = {"origin": cast.north, "destination": cast.south} if pair else {}
    DriveFactor.objects.create(district=cast.district, start=start, end=end, factor=factor, both_ways=False, **ends)


@pytest.mark.parametrize("roads", [True, False])
def test_the_rush_counts_at_its_time_and_a_week_takes_the_worst_of_its_hours(
    request: pytest.FixtureRequest, town: Cast, roads: bool
) -> None:
    if roads:
        request.getfixturevalue("on_roads")
    calm = table_of(town).leg(*there(town)).wheel_minutes
    rush(town, "2.00")
    rush(town, "3.00", pair=True)

    def minutes(clock: Clock, pair: tuple[int, int] = there(town)) -> float:
        return table_of(town, clock=clock).leg(*pair).wheel_minutes

    assert minutes(Clock(at=7 * 60 + 29)) == pytest.approx(calm)
    assert minutes(Clock(at=7 * 60 + 30)) == pytest.approx(3 * calm)
    back = (town.south.pk, town.north.pk)
    assert minutes(Clock(at=7 * 60 + 30), back) == pytest.approx(2 * minutes(Clock(at=12 * 60), back))
    assert minutes(Clock(first=8 * 60, last=15 * 60)) == pytest.approx(3 * calm)
    assert minutes(Clock(first=8 * 60 + 15, last=15 * 60)) == pytest.approx(calm)


def test_drives_in_the_rush_are_held_against_the_rush(town: Cast) -> None:
    """A drive of twice the estimate at a time of factor 2 teaches nothing about noon."""
    calm = table_of(town, clock=Clock(at=12 * 60)).leg(*there(town)).wheel_minutes
    rush(town, "2.00")
    for day in (5, 6, 7):
        log_drive(town, day, "07:40", 2 * calm)
    assert table_of(town, clock=Clock(at=12 * 60)).leg(*there(town)).wheel_minutes == pytest.approx(calm, rel=0.01)


def test_a_district_may_plan_with_a_percentile(on_roads: Cast) -> None:
    """Before any drive the logarithm's spread is sqrt(2) of 0.2; the 90th percentile lies 1.2816 of it higher."""
    middle = table_of(on_roads).leg(*there(on_roads)).wheel_minutes
    TravelChoices.objects.update(drive_percentile=90)
    high = table_of(on_roads)
    assert high.leg(*there(on_roads)).wheel_minutes == pytest.approx(middle * 1.437, rel=0.001)
    prediction = high.predictions[there(on_roads)]
    assert prediction.chance_within(middle) == pytest.approx(0.5)
    assert prediction.chance_within(high.leg(*there(on_roads)).wheel_minutes) == pytest.approx(0.9)


@pytest.fixture
def lost(on_roads: Cast) -> Building:
    """In the water south of the town, about 2 km from the extract's roads."""
    return Building.objects.create(
        district=on_roads.district, code="LOST", name="Lost School", latitude="60.140", longitude="24.943"
    )


def test_a_building_off_the_road_is_named_once_and_only_its_drives_are_estimated(
    on_roads: Cast, lost: Building
) -> None:
    table = table_of(on_roads, lost)
    assert table.missing == ()
    table.refuse_gaps()
    assert table.leg(*there(on_roads)).source is LegSource.ROAD
    for end in (on_roads.north, on_roads.south):
        assert table.leg(lost.pk, end.pk).source is table.leg(end.pk, lost.pk).source is LegSource.ESTIMATE
    [warning] = table.warnings
    assert warning.startswith("Lost School lies ")
    assert "meters from the nearest road on the map of roads, so its drives are estimated" in warning
    assert "Correct its coordinates" in warning
    for end in (on_roads.north, on_roads.south):
        enter_minutes(on_roads.teacher, lost, end, 12)
    assert table_of(on_roads, lost).warnings == ()


def test_what_the_extract_cant_answer_the_server_is_asked(
    on_roads: Cast, lost: Building, settings: Settings
) -> None:
    """The server knows a road to the lost school: 9 km in 15 minutes between all places."""
    row = {"durations": [[900.0] * 3] * 3, "distances": [[9000.0] * 3] * 3, "sources": [{"distance": 5.0}] * 3}
    with server_that(lambda _path, _body: (200, json.dumps(row).encode())) as url:
        settings.ROAD_SERVICE_URL = url
        table = table_of(on_roads, lost)
        assert table.leg(lost.pk, on_roads.north.pk).source is LegSource.ROAD
        assert table.minutes(lost.pk, on_roads.north.pk) == 15
        assert table.leg(*there(on_roads)).wheel_minutes < 15
        assert table.warnings == ()


def test_a_servers_impossible_numbers_are_refused_and_the_estimate_is_used(town: Cast, settings: Settings) -> None:
    """A second for a kilometer and more: no car does that."""
    lies = {"durations": [[0.0, 1.0], [90.0, 0.0]], "distances": [[0, 1500.0], [1500.0, 0]]}
    body = json.dumps({**lies, "sources": [{"distance": 5.0}] * 2}).encode()
    with server_that(lambda _path, _body: (200, body)) as url:
        settings.ROAD_SERVICE_URL = url
        table = table_of(town)
        assert table.leg(*there(town)).source is LegSource.ESTIMATE
        assert table.leg(*reversed(there(town))).source is LegSource.ROAD
        [warning] = table.warnings
    assert f"The numbers from the roads for the drive from {town.north.name} to {town.south.name}" in warning
    assert "out of all bounds, so that is estimated" in warning


def test_a_wrong_extract_can_be_turned_off_and_on_again(on_roads: Cast) -> None:
    choices = TravelChoices.objects.get()
    travel_choices_save(actor=on_roads.coordinator, row=choices, values={"use_roads": False})
    table = table_of(on_roads)
    assert table.leg(*there(on_roads)).source is LegSource.ESTIMATE
    assert table.warnings == ()
    assert map_ground(on_roads.district).layer is None
    travel_choices_save(actor=on_roads.coordinator, row=choices, values={"use_roads": True})
    assert table_of(on_roads).leg(*there(on_roads)).source is LegSource.ROAD


def test_the_engine_is_asked_once_for_the_same_places(on_roads: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    answer = OsrmEngine.answer

    def counted(self: OsrmEngine, points: Sequence[Point]) -> RoadAnswer:
        asked.append(len(points))
        return answer(self, points)

    monkeypatch.setattr(OsrmEngine, "answer", counted)
    move(on_roads.north, Point(60.1701, 24.9412))
    first, second = table_of(on_roads), table_of(on_roads)
    assert first.leg(*there(on_roads)) == second.leg(*there(on_roads))
    assert asked == [2]
    move(on_roads.north, Point(60.1711, 24.9412))
    assert table_of(on_roads).leg(*there(on_roads)) != first.leg(*there(on_roads))
    assert asked == [2, 2]


def four_far_apart(cast: Cast) -> list[Building]:
    """Schools 0.1 degrees of latitude apart: 11.1 km, 6.9 miles (111 km a degree)."""
    return [
        Building.objects.create(
            district=cast.district, code=f"C{n}", name=f"County {n}", latitude=f"43.{n}", longitude="-75.2"
        )
        for n in range(2, 6)
    ]


def test_where_schools_lie_far_apart_the_district_is_asked_what_its_roads_are_like(cast: Cast) -> None:
    schools = four_far_apart(cast)
    pair = (schools[0].pk, schools[1].pk)
    slow = drive_table(cast.teacher, schools)
    [question] = slow.warnings
    assert "about 7 miles from their nearest neighbors" in question
    assert "If the roads between them are country roads, have your coordinator say so" in question
    TravelChoices.objects.create(district=cast.district, roads_between="country")
    quick = drive_table(cast.teacher, schools)
    assert quick.warnings == ()
    assert quick.leg(*pair).miles == slow.leg(*pair).miles
    assert quick.minutes(*pair) < slow.minutes(*pair)
    TravelChoices.objects.update(roads_between="town")
    assert drive_table(cast.teacher, schools).warnings == ()
    assert drive_table(cast.teacher, schools).leg(*pair) == slow.leg(*pair)


def break_list(home: Path) -> None:
    """Cut the list off."""
    (home / "prepared.json").write_text("{")


def take_away(home: Path) -> None:
    """Rename the directory."""
    home.rename(home.with_name("elsewhere"))


@pytest.mark.parametrize(("harm", "words"), [(break_list, "can't be read"), (take_away, "are not there")])
def test_roads_that_cant_be_used_give_the_estimate_and_say_so(
    town: Cast,
    helsinki: Path,
    tmp_path: Path,
    settings: Settings,
    places: list[Point],
    harm: Callable[[Path], None],
    words: str,
) -> None:
    from_roads = PreparedRoads(tmp_path, prepare(helsinki, tmp_path))
    settings.ROADS_DIR = tmp_path
    roads_choose(district=town.district, prepared=from_roads.prepared)
    harm(tmp_path / from_roads.key)
    table = table_of(town)
    assert table.leg(*there(town)).meters == GeodesicEstimator().table(places)[0][1].meters
    assert table.leg(*there(town)).source is LegSource.ESTIMATE
    (warning,) = table.warnings
    assert words in warning
    assert "prepare_roads" in warning
    assert "estimated for now" in warning


def test_a_server_answers_falls_silent_and_comes_back(town: Cast, osrm_server: Server, settings: Settings) -> None:
    """Killed in the middle: the estimate leg by leg with a sentence; started again: the road."""
    settings.ROAD_SERVICE_URL = osrm_server.url
    osrm_server.start()
    assert table_of(town).leg(*there(town)).source is LegSource.ROAD
    osrm_server.kill()
    for _page in range(2):
        table = table_of(town)
        assert {leg.source for leg in table.legs.values()} == {LegSource.ESTIMATE}
        (warning,) = table.warnings
        assert "does not answer" in warning
    cache.clear()
    osrm_server.start()
    table = table_of(town)
    assert table.leg(*there(town)).source is LegSource.ROAD
    assert table.warnings == ()


def test_the_districts_own_extract_is_asked_before_the_server(on_roads: Cast, settings: Settings) -> None:
    """Nobody listens at that address, and nobody has to."""
    settings.ROAD_SERVICE_URL = "http://127.0.0.1:9"
    assert table_of(on_roads).leg(*there(on_roads)).source is LegSource.ROAD
    assert table_of(on_roads).warnings == ()

"""The road engine in the process: real streets, an island, and what is no answer."""

from pathlib import Path

import pytest

from tests.roads import street_points
from travel.roads.answer import pairs_without, road_answer, road_leg
from travel.roads.base import LegSource, Point, RoadError
from travel.roads.geodesic import straight_meters
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.prepare import prepare

TWO = [Point(0, 0), Point(0, 0.01)]
SIDE = 12
"""Crossings a side of each town of the two-island map."""


def town(first_id: int, latitude: float) -> tuple[list[str], list[str]]:
    """Nodes and ways of a square town with streets about 111 m apart (a thousandth of a degree of latitude)."""
    nodes = [
        f'<node id="{first_id + row * SIDE + column}" lat="{latitude + row / 1000:.4f}" lon="{column / 1000:.4f}"/>'
        for row in range(SIDE)
        for column in range(SIDE)
    ]
    across = [[first_id + row * SIDE + column for column in range(SIDE)] for row in range(SIDE)]
    ways = [
        f'<way id="{first_id + number}">{"".join(f"<nd ref='{one}'/>" for one in refs)}'
        '<tag k="highway" v="residential"/><tag k="maxspeed" v="36"/></way>'
        for number, refs in enumerate([*across, *(list(column) for column in zip(*across, strict=True))])
    ]
    return nodes, ways


@pytest.fixture(scope="module")
def islands(tmp_path_factory: pytest.TempPathFactory) -> OsrmEngine:
    """Two invented towns on the equator, 2 km of water between them."""
    roads_dir = tmp_path_factory.mktemp("islands")
    (south, south_ways), (north, north_ways) = town(1, 0.0), town(1001, 0.03)
    extract: Path = roads_dir / "islands.osm"
    body = "".join([*south, *north, *south_ways, *north_ways])
    extract.write_text(f'<?xml version="1.0"?><osm version="0.6">{body}</osm>')
    return OsrmEngine(roads_dir, prepare(extract, roads_dir).key)


def test_a_grid_is_driven_around_corners(islands: OsrmEngine) -> None:
    """Ten blocks east and ten north are 20/1000 of a degree by street, and 28 % less as the crow flies.

    A degree on the equator is 111.3 km of longitude and 110.6 km of latitude (WGS84).
    """
    answer = islands.answer([Point(0.0, 0.0), Point(0.010, 0.010)])
    leg = answer.legs[0, 1]
    assert leg.meters == pytest.approx(1113 + 1106, rel=0.01)
    # At most 36 km/h, so 2219 m take at least 222 s, and turns and crossings no more than as long again.
    assert 222 / 60 <= leg.wheel_minutes <= 444 / 60
    assert leg.minutes >= leg.wheel_minutes
    assert leg.source is LegSource.ROAD


def test_an_island_has_no_route_and_is_never_0_or_infinite(islands: OsrmEngine) -> None:
    answer = islands.answer([Point(0.0, 0.0), Point(0.005, 0.005), Point(0.035, 0.005)])
    assert set(answer.legs) == {(0, 1), (1, 0)}
    assert answer.far == ()
    assert islands.line(Point(0.0, 0.0), Point(0.035, 0.005)) is None


def test_a_building_far_from_every_road_is_named_with_its_distance(islands: OsrmEngine) -> None:
    """0.005 degrees south of the southernmost street are 553 m (110.6 km a degree)."""
    answer = islands.answer([Point(-0.005, 0.005), Point(0.0, 0.0), Point(0.005, 0.005)])
    (far,) = answer.far
    assert far.index == 0
    assert far.meters == pytest.approx(553, abs=3)
    assert set(answer.legs) == {(1, 2), (2, 1)}


def test_two_pins_at_one_spot_still_take_a_minute(islands: OsrmEngine) -> None:
    answer = islands.answer([Point(0.0, 0.0051), Point(0.0, 0.0051)])
    assert {leg.minutes for leg in answer.legs.values()} == {1}


def test_no_points_and_one_point_have_no_legs(islands: OsrmEngine) -> None:
    assert islands.answer([]).legs == {}
    assert islands.answer([Point(0, 0)]).legs == {}


def test_forty_buildings_on_real_streets_in_one_call(helsinki_engine: OsrmEngine) -> None:
    """No way is shorter than the straight line, and none is driven faster than 80 km/h, the fastest limit there."""
    points = street_points(helsinki_engine, 40, seed=11)
    answer = helsinki_engine.answer(points)
    assert len(answer.legs) == 40 * 39
    for (i, j), leg in answer.legs.items():
        straight = straight_meters(points[i], points[j])
        assert leg.meters is not None
        # The engine measures on a sphere: up to 0.6 % less than the ellipsoid here, and a meter's rounding.
        assert leg.meters >= straight * 0.994 - 2
        assert leg.wheel_minutes >= leg.meters / (80_000 / 60) - 0.01


def test_the_line_agrees_with_the_table(helsinki_engine: OsrmEngine) -> None:
    origin, destination = street_points(helsinki_engine, 2, seed=3)
    leg = helsinki_engine.answer([origin, destination]).legs[0, 1]
    line = helsinki_engine.line(origin, destination)
    assert line is not None
    along = sum(straight_meters(one, other) for one, other in zip(line.points, line.points[1:], strict=False))
    assert line.meters == pytest.approx(leg.meters, abs=2)
    assert line.seconds / 60 == pytest.approx(leg.wheel_minutes, abs=0.02)
    assert along == pytest.approx(line.meters, rel=0.01)


@pytest.mark.parametrize(
    ("durations", "distances"),
    [([[0, 1]], [[0, 1], [1, 0]]), ([[0, 1], [1]], [[0, 1], [1, 0]]), ([[0, 1], [1, 0]], [[0], [1]])],
)
def test_a_table_with_missing_rows_or_columns_is_no_answer(
    durations: list[list[float]], distances: list[list[float]]
) -> None:
    with pytest.raises(RoadError, match="asked for 2 buildings"):
        road_answer(TWO, durations, distances, [0, 0])


@pytest.mark.parametrize("seconds", [float("nan"), float("inf"), -1.0])
def test_a_duration_that_is_none_is_refused(seconds: float) -> None:
    with pytest.raises(RoadError, match="gave a drive of"):
        road_leg(seconds, 100)


def test_a_point_that_snapped_nowhere_is_far() -> None:
    answer = road_answer(TWO, [[0, None], [None, 0]], [[0, None], [None, 0]], [12.0, None])
    assert answer.legs == {}
    assert [(far.index, far.meters) for far in answer.far] == [(1, None)]


def test_the_pairs_without_a_drive_are_named() -> None:
    answer = road_answer(TWO, [[0, 60], [None, 0]], [[0, 900], [None, 0]], [0, 0])
    assert pairs_without(answer.legs, 2) == [(1, 0)]
    assert pairs_without(dict(answer.legs), 2) == [(1, 0)]

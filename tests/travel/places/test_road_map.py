"""The map's geometry, and what it costs to move a building."""

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from travel.drives.move_cost import DriveCost, move_cost
from travel.places.map_drawing import NARROW, SCALE_STEPS, WIDE, MapLeg, MapPlace, RoadMap, draw_map
from travel.roads.base import METERS_A_MILE, Point
from travel.roads.geodesic import straight_meters

NORTH = MapPlace(1, "North Hollow School", Point(43.10, -75.20))
SOUTH = MapPlace(2, "South Hollow School", Point(43.02, -75.25))
EAST = MapPlace(3, "East Hollow School", Point(43.05, -75.05), visited=False)


def drawn(*places: MapPlace, legs: tuple[MapLeg, ...] = (), width: float = WIDE) -> RoadMap:
    found = draw_map(places, legs, width)
    assert found is not None
    return found


def numbers(d: str) -> list[float]:
    return [float(one) for one in re.findall(r"-?\d+\.?\d*", d)]


def test_north_is_up_and_east_is_right() -> None:
    spots = {spot.key: spot for spot in drawn(NORTH, SOUTH, EAST).spots}
    assert spots[1].y < spots[3].y < spots[2].y
    assert spots[2].x < spots[1].x < spots[3].x


@pytest.mark.parametrize("pair", [(NORTH, SOUTH), (NORTH, EAST), (SOUTH, EAST)])
def test_the_scale_bar_agrees_with_the_geodesic(pair: tuple[MapPlace, MapPlace]) -> None:
    """Lengths on the map, by its scale bar, against the geodesic on the ellipsoid: within half a percent."""
    found = drawn(NORTH, SOUTH, EAST)
    spots = {spot.key: spot for spot in found.spots}
    one, other = (spots[place.key] for place in pair)
    units = ((one.x - other.x) ** 2 + (one.y - other.y) ** 2) ** 0.5
    miles = units / found.scale.length * float(found.scale.text.split()[0])
    truth = straight_meters(pair[0].point, pair[1].point) / float(METERS_A_MILE)
    assert miles == pytest.approx(truth, rel=0.005)


@given(
    st.lists(st.tuples(st.floats(42, 44), st.floats(-76, -74)), min_size=1, max_size=12),
    st.sampled_from([WIDE, NARROW]),
)
def test_everything_lies_on_the_drawing(points: list[tuple[float, float]], width: float) -> None:
    places = [MapPlace(n, f"School {n}", Point(*one)) for n, one in enumerate(points)]
    legs = [MapLeg(0, place.key, 1, "") for place in places[1:]]
    found = drawn(*places, legs=tuple(legs), width=width)
    assert all(0 <= spot.x <= width and 0 <= spot.y <= found.height for spot in found.spots)
    for path in found.paths:
        xs, ys = numbers(path.d)[::2], numbers(path.d)[1::2]
        assert all(0 <= x <= width for x in xs)
        assert all(0 <= y <= found.height for y in ys)
    assert found.scale.x + found.scale.length <= width
    assert float(found.scale.text.split()[0]) in SCALE_STEPS


def test_width_grows_with_trips_and_a_way_follows_its_points() -> None:
    bend = (NORTH.point, Point(43.06, -75.18), SOUTH.point)
    often = MapLeg(1, 2, 5, "five", way=bend)
    once = MapLeg(2, 3, 1, "once")
    paths = {path.spoken: path for path in drawn(NORTH, SOUTH, EAST, legs=(once, often)).paths}
    assert paths["five"].width > paths["once"].width
    assert (len(numbers(paths["five"].d)), len(numbers(paths["once"].d))) == (6, 4)
    assert (paths["five"].straight, paths["once"].straight) == (False, True)


def test_a_drive_to_a_place_without_coordinates_is_left_out() -> None:
    assert drawn(NORTH, SOUTH, legs=(MapLeg(1, 99, 1, ""),)).paths == ()
    assert draw_map([], []) is None


def test_names_of_near_buildings_do_not_cover_each_other() -> None:
    near = [MapPlace(n, f"School number {n}", Point(43.0 + n * 0.002, -75.0)) for n in range(4)]
    far = MapPlace(9, "Far", Point(43.0, -74.9))
    spots = drawn(*near, far).spots
    boxes = []
    for spot in spots:
        width = len(spot.name) * 6
        left = spot.label_x - {"start": 0, "end": width, "middle": width / 2}[spot.anchor]
        boxes.append((left, spot.label_y - 11, left + width, spot.label_y))
    overlaps = [
        (one, other)
        for n, one in enumerate(boxes)
        for other in boxes[n + 1 :]
        if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    ]
    assert overlaps == []


# ---- moving a building -------------------------------------------------------------------------------------

MINUTES = {(1, 2): 14, (2, 1): 15, (1, 3): 8, (3, 1): 8, (2, 3): 20, (3, 2): 20}


def cost(drive: tuple[int, int]) -> DriveCost:
    return DriveCost(MINUTES[drive], 8, Decimal(MINUTES[drive]) / 2)


def test_moving_a_building_compares_the_week_with_its_work_elsewhere() -> None:
    """Mon 1-2-3, Tue 1-3. With 2's work done at 3: Mon 1-3 (8), Tue 1-3 (8), where 14 + 20 + 8 were driven."""
    found = move_cost([(1, 2, 3), (1, 3)], 2, 3, cost)
    assert (found.now.trips, found.now.wheel, found.now.around, found.now.miles) == (3, 42, 24, Decimal(21))
    assert (found.moved.trips, found.moved.wheel) == (2, 16)
    assert (found.between.trips, found.between.wheel) == (1, 20)
    assert (found.minutes_more, found.miles_more) == (-34, Decimal(-13))
    assert found.words == "34 fewer minutes, 13.0 fewer miles a week."


def test_an_unknown_distance_is_not_counted_as_none() -> None:
    found = move_cost([(1, 2)], 1, 3, lambda drive: DriveCost(MINUTES[drive], 8, None))
    assert found.miles_more is None
    assert found.words == "6 more minutes a week."


@given(st.lists(st.lists(st.sampled_from([1, 2, 3]), max_size=6), max_size=5))
def test_moving_what_is_not_there_changes_nothing(days: list[list[int]]) -> None:
    found = move_cost(days, 4, 1, cost)
    assert found.now == found.moved
    assert found.minutes_more == 0

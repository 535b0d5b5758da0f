"""Distances against published lines, and estimates against published circuity and speed."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from travel.roads.base import METERS_A_MILE, LegSource, Point, PointError, miles_of
from travel.roads.geodesic import (
    CIRCUITY,
    GeodesicEstimator,
    estimate_leg,
    road_meters,
    straight_meters,
    wheel_minutes,
)


def degrees(whole: int, minutes: int, seconds: float) -> float:
    """Degrees, minutes and seconds as degrees; the sign of the whole degrees counts for all."""
    return math.copysign(abs(whole) + minutes / 60 + seconds / 3600, whole)


# Geoscience Australia, the worked example of Vincenty's formulae (as carried in the geodepy tests): meters.
FLINDERS_PEAK = Point(degrees(-37, 57, 3.72030), degrees(144, 25, 29.52440))
BUNINYONG = Point(degrees(-37, 39, 10.15610), degrees(143, 55, 35.38390))
# Lines of the GeodTest data set (Karney, doi:10.5281/zenodo.32156): latitude 1 (at longitude 0), latitude 2,
# longitude 2, meters.
GEODTEST = [
    (36.530042355041, -48.16427077909777, 5.76234469467651, 9398502.0434687),
    (19.707097385334, 19.707739582810257, 0.000260256428101053, 76.1478894),
    (23.104245923137, 23.103520430280492, 0.002305237470119087, 249.4508219),
    (78.10174623178, 78.099711031638792, 0.014156770744057927, 397.364659),
]
LINES = [
    pytest.param(FLINDERS_PEAK, BUNINYONG, 54972.271, id="Vincenty"),
    *[
        pytest.param(Point(first, 0.0), Point(second, longitude), meters, id=f"GeodTest {meters:.0f} m")
        for first, second, longitude, meters in GEODTEST
    ],
]


def sphere_meters(one: Point, other: Point) -> float:
    """Haversine on a sphere of the mean radius: what the checks below must be able to tell apart."""
    radius = 6371008.8
    first, second = math.radians(one.latitude), math.radians(other.latitude)
    across = math.radians(other.longitude - one.longitude)
    chord = math.sin((second - first) / 2) ** 2 + math.cos(first) * math.cos(second) * math.sin(across / 2) ** 2
    return 2 * radius * math.asin(math.sqrt(chord))


@pytest.mark.parametrize(("one", "other", "meters"), LINES)
def test_the_straight_line_is_the_published_one_to_the_millimeter(one: Point, other: Point, meters: float) -> None:
    assert straight_meters(one, other) == pytest.approx(meters, abs=0.001)


@pytest.mark.parametrize(("one", "other", "meters"), LINES)
def test_a_sphere_would_fail_the_same_checks(one: Point, other: Point, meters: float) -> None:
    assert abs(sphere_meters(one, other) - meters) > 0.1


def test_a_sphere_is_47_meters_off_on_the_worked_example() -> None:
    error = 54972.271 - sphere_meters(FLINDERS_PEAK, BUNINYONG)
    assert error == pytest.approx(54972.271 - 54925.508, abs=0.01)


def test_the_same_place_takes_no_time() -> None:
    leg = GeodesicEstimator().table([BUNINYONG, BUNINYONG])[0][1]
    assert (leg.minutes, leg.meters, leg.miles) == (0, 0, Decimal("0.0"))


def test_circuity_stays_between_the_published_figures() -> None:
    # Newell 1980 about 1.2; O'Sullivan and Morrall 1996 1.21-1.23; drives of 0.5 to 5 km in the Swiss Mobility and
    # Transport Microcensus 2010, weighted mean, 1.436.
    for straight in (100, 900, 3_000, 8_000, 16_000, 40_000, 120_000):
        assert 1.2 <= road_meters(straight) / straight <= 1.44


@pytest.mark.parametrize(
    ("miles", "slowest", "quickest"),
    [
        pytest.param(0.3, 13, 19, id="downtown street, class IV"),
        pytest.param(1.0, 13, 19, id="downtown street, class IV, a mile"),
        pytest.param(2.0, 18, 24, id="urban arterial, class III"),
        pytest.param(3.0, 22, 28, id="suburban arterial, class II"),
        pytest.param(8.0, 27, 34, id="fast suburban arterial, class I"),
    ],
)
def test_short_drives_keep_to_the_speeds_of_level_c(miles: float, slowest: float, quickest: float) -> None:
    """Average travel speeds graded C, Highway Capacity Manual 2000, exhibit 15-2 (as a city's traffic study prints
    it). Which class of street rules which distance is an assumption."""
    minutes = wheel_minutes(miles * float(METERS_A_MILE))
    assert slowest <= round(60 * miles / minutes, 6) <= quickest


def test_a_drive_across_a_district_has_the_mean_circuity_of_metropolitan_areas() -> None:
    # About 1.3 in the mean of 51 areas (Giacomin and Levinson 2015, from memory).
    assert road_meters(10_000) / 10_000 == pytest.approx(1.3, abs=0.03)


def test_short_trips_are_more_circuitous_than_long_ones() -> None:
    # Giacomin and Levinson 2015: "short trips are more circuitous than long trips".
    factors = [road_meters(straight) / straight for straight, _ in CIRCUITY]
    assert factors == sorted(factors, reverse=True)
    assert factors[0] > factors[-1]


def test_eight_miles_of_road_take_the_published_time() -> None:
    # BMC Health Services Research 2022: trips of 8.0 miles took 17.3 minutes, so 27.7 miles an hour.
    minutes = wheel_minutes(8.0 * float(METERS_A_MILE))
    assert minutes == pytest.approx(17.3, abs=0.05)


def test_twelve_miles_of_road_take_the_published_speed() -> None:
    # Federal Highway Administration, Highway Statistics 2006, table NT-3 (2001 survey): commutes of 12.11
    # miles at 32.23 miles an hour.
    minutes = wheel_minutes(12.11 * float(METERS_A_MILE))
    assert 60 * 12.11 / minutes == pytest.approx(32.23, abs=0.1)


def test_minutes_are_whole_and_never_below_the_estimate() -> None:
    for straight in range(0, 60_000, 137):
        estimate = wheel_minutes(road_meters(straight))
        assert estimate - 1e-6 <= estimate_leg(straight).minutes < estimate + 1


@pytest.mark.parametrize(
    ("meters", "miles"), [(0, "0.0"), (8046.72, "5.0"), (80.4672, "0.1"), (80.4, "0.0"), (1609.344, "1.0")]
)
def test_miles_come_in_tenths(meters: float, miles: str) -> None:
    # The international mile has 1609.344 m (yard and pound agreement of 1959).
    assert str(miles_of(meters)) == miles


@pytest.mark.parametrize("place", [(91, 0), (-90.1, 0), (0, 180.5), (float("nan"), 0), (0, float("inf"))])
def test_a_point_off_the_map_is_refused(place: tuple[float, float]) -> None:
    with pytest.raises(PointError, match="between"):
        Point(*place)


points = st.builds(
    Point,
    latitude=st.floats(25, 49, allow_nan=False),
    longitude=st.floats(-124, -67, allow_nan=False),
)


@given(st.lists(points, min_size=2, max_size=4))
def test_an_estimate_is_the_same_in_both_directions_and_says_what_it_is(places: list[Point]) -> None:
    table = GeodesicEstimator().table(places)
    for i, row in enumerate(table):
        assert row[i].minutes == 0
        for j, leg in enumerate(row):
            assert leg == table[j][i]
            assert leg.source is LegSource.ESTIMATE


@given(st.floats(0, 200_000), st.floats(0, 200_000))
def test_farther_is_never_nearer_nor_quicker(one: float, other: float) -> None:
    near, far = sorted((one, other))
    assert road_meters(near) <= road_meters(far)
    assert estimate_leg(near).minutes <= estimate_leg(far).minutes
    assert road_meters(far) >= far


COUNTRY_DRIVES = [3, 5, 8, 12, 20, 30]
"""Miles of road."""


@pytest.mark.parametrize("miles", COUNTRY_DRIVES)
def test_country_roads_are_driven_at_published_rural_speeds(miles: float) -> None:
    """Less a mile of village streets, the speed lies between the slowest that the Highway Capacity Manual 2000
    (exhibit 20-2, as its applications guide prints it) grades C on a two-lane highway of class I, 46 miles an hour,
    and the mean that was measured on minor arterials and collector roads: 46.9 (2007), 47.0 (2009) and 49.7 (2015;
    National Highway Traffic Safety Administration, National Traffic Speeds Survey I to III)."""
    village = 60 / 22  # minutes: the slowest speed of level C on a suburban arterial, as in the test above
    between = 60 * (miles - 1) / (wheel_minutes(miles * float(METERS_A_MILE), country=True) - village)
    assert 46 - 1e-6 <= between <= 49.7


@pytest.mark.parametrize("miles", COUNTRY_DRIVES)
def test_a_town_is_slower_than_the_country(miles: float) -> None:
    """Why the district is asked: town speeds are those of metropolitan commutes (27.7 and 32.2 miles an hour)."""
    road = miles * float(METERS_A_MILE)
    ratio = wheel_minutes(road, country=True) / wheel_minutes(road)
    assert 0.6 < ratio < 1


@given(st.floats(0, 200_000), st.floats(0, 200_000))
def test_farther_is_never_quicker_on_country_roads(one: float, other: float) -> None:
    near, far = sorted((one, other))
    assert estimate_leg(near, country=True).minutes <= estimate_leg(far, country=True).minutes

"""The engine held against a second one by other people on the same real map, and the estimate against both.

The second engine is Valhalla. Each has its own rules for speeds, turns and lights, so minutes differ; ways
hardly should. Shares and tolerances are common practice, without a source: a minute is what the planner plans in.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import fmean

import pytest

from tests.roads import SecondRoads, street_points
from tests.second_engine import SecondEngine
from travel.roads.base import METERS_A_MILE, Leg, Point
from travel.roads.geodesic import GeodesicEstimator, straight_meters
from travel.roads.osrm_engine import OsrmEngine

SEEDS = (1, 2, 3)
POINTS = 30

A_MILE = float(METERS_A_MILE)


@dataclass(frozen=True)
class Compared:
    """One pair as both engines see it; meters and minutes at the wheel."""

    origin: Point
    destination: Point
    first: Leg
    minutes: float
    meters: float

    @property
    def minutes_apart(self) -> float:
        """Second engine less first."""
        return self.minutes - self.first.wheel_minutes

    def __str__(self) -> str:
        ends = " to ".join(f"{p.latitude:.5f},{p.longitude:.5f}" for p in (self.origin, self.destination))
        return (
            f"{ends}: {self.first.wheel_minutes:.1f} and {self.minutes:.1f} minutes, "
            f"{self.first.meters} and {self.meters:.0f} meters"
        )


def compared(engine: OsrmEngine, second: SecondEngine) -> Iterator[Compared]:
    """Random pairs of places on streets that both engines join."""
    for seed in SEEDS:
        points = street_points(engine, POINTS, seed)
        legs = engine.answer(points).legs
        minutes, meters = second.table(points)
        for (i, j), leg in legs.items():
            if (i, j) in minutes:
                yield Compared(points[i], points[j], leg, minutes[i, j], meters[i, j])


@pytest.fixture(scope="module")
def pairs(helsinki_engine: OsrmEngine, second_roads: SecondRoads) -> list[Compared]:
    """About 2,600 pairs."""
    return list(compared(helsinki_engine, SecondEngine(second_roads)))


def test_both_engines_join_the_same_pairs(pairs: list[Compared]) -> None:
    """The second leaves out pieces of street that lead nowhere within the extract."""
    assert len(pairs) >= 0.85 * len(SEEDS) * POINTS * (POINTS - 1)


@pytest.mark.parametrize(("minutes", "share"), [(1.0, 0.90), (2.0, 0.98)])
def test_most_pairs_take_the_same_time_within_a_minute_or_two(
    pairs: list[Compared], minutes: float, share: float
) -> None:
    worst = sorted(pairs, key=lambda one: -abs(one.minutes_apart))
    within = fmean(abs(one.minutes_apart) <= minutes for one in pairs)
    assert within >= share, f"only {within:.1%} within {minutes} minutes; worst:\n" + "\n".join(
        map(str, worst[:10])
    )


def test_most_pairs_go_the_same_way(pairs: list[Compared]) -> None:
    """Ways of more than 200 meters, within a tenth of their length."""
    long = [one for one in pairs if (one.first.meters or 0) > 200]
    worst = sorted(long, key=lambda one: -abs(one.meters / (one.first.meters or 1) - 1))
    within = fmean(abs(one.meters / (one.first.meters or 1) - 1) <= 0.1 for one in long)
    assert within >= 0.8, f"only {within:.1%} within a tenth; worst:\n" + "\n".join(map(str, worst[:10]))


def test_neither_engine_is_always_faster_by_much(pairs: list[Compared]) -> None:
    """On the whole within the factor of 1.2 or so that `travel.drives.learning` trusts an engine with, and a bit
    more.
    """
    ratio = sum(one.minutes for one in pairs) / sum(one.first.wheel_minutes for one in pairs)
    assert 1 / 1.3 <= ratio <= 1.3


def published_minutes(meters: float, circuity: float, miles_an_hour: float) -> float:
    """Minutes for a straight line of so many meters."""
    return 60 * circuity * meters / A_MILE / miles_an_hour


@dataclass(frozen=True)
class Estimated:
    """Estimates less the engine's minutes on real streets, and how far published figures lie apart there."""

    wheel: list[float]
    planned: list[float]
    """Rounded up, as the planner takes them."""
    leave_open: list[float]

    def __str__(self) -> str:
        bias, off = fmean(self.wheel), fmean(map(abs, self.wheel))
        return (
            f"bias {bias:.2f}, mean absolute error {off:.2f}, planned {fmean(self.planned):+.2f}, "
            f"open {fmean(self.leave_open):.2f} minutes"
        )


@pytest.fixture(scope="module")
def estimated(helsinki_engine: OsrmEngine) -> Estimated:
    """About 2,600 hops downtown."""
    found = Estimated([], [], [])
    for seed in SEEDS:
        points = street_points(helsinki_engine, POINTS, seed)
        estimates = GeodesicEstimator().table(points)
        for (i, j), leg in helsinki_engine.answer(points).legs.items():
            straight = straight_meters(points[i], points[j])
            found.wheel.append(estimates[i][j].wheel_minutes - leg.wheel_minutes)
            found.planned.append(estimates[i][j].minutes - leg.wheel_minutes)
            found.leave_open.append(published_minutes(straight, 1.436, 9) - published_minutes(straight, 1.20, 27.7))
    return found


def test_the_estimates_error_stays_within_what_published_figures_leave_open(estimated: Estimated) -> None:
    """From circuity 1.20 (Newell 1980) at 27.7 mph (BMC Health Services Research 2022) to circuity 1.436 (Swiss
    Mobility and Transport Microcensus 2010, drives of 0.5 to 5 km) at 9 mph (the last mile in New York City, INRIX
    2018 Global Traffic Scorecard): so far are the quickest and the slowest drive apart that published figures allow
    for a straight line. The estimate may be off by no more than that on average.
    """
    assert fmean(map(abs, estimated.wheel)) <= fmean(estimated.leave_open), estimated


def test_planned_estimates_are_not_short_on_the_whole(estimated: Estimated) -> None:
    """Half of the minute that the planner plans in, either way, on streets where one-way traffic makes the way 1.8
    times the straight line. The half is common practice, without a source."""
    assert -0.5 <= fmean(estimated.planned) <= 0.5, estimated

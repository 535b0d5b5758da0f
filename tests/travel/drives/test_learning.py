"""What is learned from drives, held against closed forms and published examples."""

import datetime as dt
import math
import random
from statistics import NormalDist, fmean, quantiles, variance

import pytest
from hypothesis import given
from hypothesis import strategies as st

from travel.drives.arrivals import PlannedDrive, arrival_of, tightest
from travel.drives.learning import (
    ENGINE,
    Belief,
    DriveSample,
    Prediction,
    Sifted,
    differing_words,
    is_outlier,
    own_prediction,
    predict,
    predict_alone,
    predict_worst,
    sift,
    spread_of,
    update,
)

logs = st.lists(st.floats(-1, 1), min_size=1, max_size=30)


def test_midge_wings() -> None:
    """Hoff, A First Course in Bayesian Statistical Methods, section 5.3: nine wing lengths (Grogan and Wirth 1981).

    Data and prior as published; posterior mean 1.814 and variance 0.015 from memory.
    """
    wings = [1.64, 1.70, 1.72, 1.74, 1.82, 1.82, 1.82, 1.90, 2.08]
    after = update(Belief(mean=1.9, weight=1, variance=0.01, freedom=1), wings)
    assert after.mean == pytest.approx(1.814, abs=0.0005)
    assert after.variance == pytest.approx(0.015, abs=0.0005)
    assert (after.weight, after.freedom) == (10, 10)


@given(logs, st.floats(0.1, 20), st.floats(0.01, 1))
def test_the_mean_is_the_normal_normal_update(seen: list[float], weight: float, variance_: float) -> None:
    """Variance s² of drives, s²/weight of the prior mean: precisions add (Gelman and others, section 2.5)."""
    after = update(Belief(0.3, weight, variance_, 4), seen)
    prior_precision, data_precision = weight / variance_, len(seen) / variance_
    expected = (0.3 * prior_precision + fmean(seen) * data_precision) / (prior_precision + data_precision)
    assert after.mean == pytest.approx(expected, abs=1e-9)


@given(logs, logs)
def test_drives_one_after_the_other_teach_as_much_as_all_at_once(first: list[float], then: list[float]) -> None:
    apart, together = update(update(ENGINE, first), then), update(ENGINE, first + then)
    assert apart.mean == pytest.approx(together.mean, abs=1e-9)
    assert apart.variance == pytest.approx(together.variance, abs=1e-9)


def test_the_prediction_moves_from_the_engines_to_the_teachers_own() -> None:
    """The engine says 10, every drive takes 13: with the engine's word as one drive, n drives weigh n / (n + 1)."""
    for count in (0, 1, 3, 10, 100):
        found = predict(sift([DriveSample(13, 10, 480)] * count), 10)
        assert found.middle == pytest.approx(10 * 1.3 ** (count / (count + 1)))
        assert found.drives == count


def test_the_spread_becomes_that_of_the_drives() -> None:
    """Twelve hundred lognormal drives from a fixed seed: their own spread is recovered, and their percentiles."""
    chance = random.Random(7)  # noqa: S311 -- test data, no secret
    minutes = [12 * math.exp(chance.gauss(0.1, 0.15)) for _ in range(1200)]
    found = predict(sift([DriveSample(one, 12, 480) for one in minutes]), 12)
    assert found.spread == pytest.approx(math.sqrt(variance(map(math.log, minutes))), rel=0.05)
    empirical = quantiles(minutes, n=20)
    assert found.percentile(50) == pytest.approx(empirical[9], rel=0.02)
    assert found.percentile(80) == pytest.approx(empirical[15], rel=0.02)
    within = sum(one <= 14 for one in minutes) / len(minutes)
    assert found.chance_within(14) == pytest.approx(within, abs=0.03)


def test_before_any_drive_the_engine_is_trusted_within_a_spread() -> None:
    found = predict(Sifted(), 10)
    assert (found.middle, found.drives) == (10, 0)
    # sqrt(0.2² + 0.2²): one drive from the next, and the engine from the pair's mean.
    assert found.spread == pytest.approx(0.2828, abs=1e-4)


def test_each_time_of_day_speaks_for_itself() -> None:
    """Twenty drives of 18 minutes in the morning and five of 10 at noon, where the engine says 10."""
    drives = [DriveSample(18, 10, 7 * 60 + 40)] * 20 + [DriveSample(10, 10, 12 * 60)] * 5
    sifted = sift(drives)
    assert sifted.held_back == 0
    noon, morning, never = (predict(sifted, 10, at) for at in (12 * 60 + 10, 7 * 60 + 30, 16 * 60))
    assert morning.middle > 16
    # The others count as no more than three of eight drives.
    assert 10 <= noon.middle < 10 * 1.8 ** (3 / 8)
    assert noon.middle < never.middle < morning.middle
    assert predict_worst(sifted, lambda _at: 10, [7 * 60 + 30, 12 * 60 + 10, 16 * 60]) == morning


def test_a_modified_z_score_above_three_and_a_half_is_held_back() -> None:
    """Iglewicz and Hoaglin (1993): 0.6745 times the distance from the median, over the median of such distances.

    Logarithms 0, ±0.1, ±0.2: median 0 and median distance 0.1, so the limit lies at 3.5 / 0.6745 of 0.1: 0.5189.
    """
    calm = [-0.2, -0.1, -0.1, 0.0, 0.1, 0.1, 0.2]
    assert not is_outlier(0.518, [*calm, -0.1, 0.518])
    assert is_outlier(0.520, [*calm, -0.1, 0.520])
    assert not any(is_outlier(one, [*calm, -0.1, 0.520]) for one in calm)


def test_a_stop_for_errands_teaches_nothing() -> None:
    usual = [DriveSample(minutes, 10, 480) for minutes in (11, 12, 11, 13, 12, 11)]
    without, with_errand = predict(sift(usual), 10), predict(sift([*usual, DriveSample(55, 10, 480)]), 10)
    assert with_errand == Prediction(without.middle, without.spread, drives=6, held_back=1)


def test_of_few_drives_only_the_absurd_are_held_back() -> None:
    found = predict(sift([DriveSample(19, 10, 480), DriveSample(31, 10, 480)]), 10)
    assert (found.drives, found.held_back) == (1, 1)


def test_identical_drives_condemn_no_other() -> None:
    """A median deviation of 0 would call everything else an outlier."""
    assert sift([*[DriveSample(10, 10, 480)] * 9, DriveSample(11, 10, 480)]).held_back == 0


def test_without_an_engine_three_drives_speak_for_themselves() -> None:
    drives = [DriveSample(minutes, None, 480) for minutes in (20, 22, 24)]
    assert predict_alone(drives[:2]) is None
    found = predict_alone(drives)
    assert found is not None
    assert 20 < found.middle < 24


def test_own_minutes_are_believed_until_drives_say_otherwise() -> None:
    """Twenty drives of 16 where 9 was entered: with 9 as one drive, the middle is 9 * (16 / 9) ** (20 / 21).

    Fifteen minutes are allowed, so fewer than half of the drives arrive; by the update in closed form (Gelman and
    others, section 3.3) with weight 1, variance 0.04 and freedom 4 that is 39.8 %, computed here by hand.
    """
    before = own_prediction(9, [])
    assert (before.middle, before.entered, before.took) == (9, 9, None)
    assert before.chance_within(15) > 0.95
    after = own_prediction(9, [DriveSample(16, None, 480)] * 20)
    assert after.middle == pytest.approx(9 * (16 / 9) ** (20 / 21))
    squares = 4 * 0.04 + 20 / 21 * math.log(16 / 9) ** 2
    spread = math.sqrt(squares / 24 * (1 + 1 / 21))
    chance = NormalDist().cdf(math.log(15 / (9 * (16 / 9) ** (20 / 21))) / spread)
    assert after.chance_within(15) == pytest.approx(chance)
    assert 0.38 < chance < 0.41
    assert differing_words(after, own=True) == "Your last 20 drives took 16 minutes, you entered 9."
    assert differing_words(after, own=False) == "The last 20 drives took 16 minutes, entered are 9."


@pytest.mark.parametrize(
    ("took", "count", "differs"), [(11, 3, True), (7, 3, True), (10.9, 3, False), (11, 2, False)]
)
def test_two_drives_or_a_minute_between_them_are_no_difference(took: float, count: int, differs: bool) -> None:
    """Common practice, no source: three drives, two minutes; a tap is no better than a minute."""
    found = own_prediction(9, [DriveSample(took, None, 480)] * count)
    assert found.differs is differs
    assert bool(differing_words(found, own=True)) is differs


def test_what_an_engine_said_differs_from_nothing_that_was_entered() -> None:
    assert differing_words(predict(sift([DriveSample(20, 10, 480)] * 9), 10), own=True) == ""


@given(st.floats(1, 240), st.floats(0.01, 1), st.floats(1, 99))
def test_a_percentile_and_its_chance_are_two_sides_of_one_thing(
    middle: float, spread: float, percent: float
) -> None:
    found = Prediction(middle, spread)
    assert found.chance_within(found.percentile(percent)) == pytest.approx(percent / 100)


def test_percentiles_are_those_of_the_normal_distribution() -> None:
    """The 84.13th percentile lies one standard deviation above the mean, the 97.72nd two (any table)."""
    found = Prediction(10, 0.2)
    assert found.percentile(84.134) == pytest.approx(10 * math.exp(0.2), rel=1e-4)
    assert found.percentile(97.725) == pytest.approx(10 * math.exp(0.4), rel=1e-4)
    assert found.chance_within(0) == 0
    assert Prediction(0, 0.2).chance_within(0) == 1
    assert spread_of(ENGINE) == pytest.approx(NormalDist(0, 0.2).stdev * math.sqrt(2))


def test_the_tightest_drive_is_the_least_likely_to_arrive() -> None:
    """Two minutes over on a long drive are tighter than two on a short one."""
    day = dt.date(2026, 10, 5)
    short = arrival_of(PlannedDrive(day, 1, 2, 600, 607), Prediction(5, 0.2))
    long = arrival_of(PlannedDrive(day, 2, 3, 700, 732), Prediction(30, 0.2))
    assert short.slack == long.slack == 2
    assert tightest([short, long]) is long
    assert tightest([]) is None

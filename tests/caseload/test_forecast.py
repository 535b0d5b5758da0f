"""The forecast against the binomial formula and against simulation."""

from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.forecast import (
    DEFAULT_RATE,
    ForecastError,
    SessionHistory,
    delivered_distribution,
    forecast,
    missed_rate,
)


@given(st.integers(0, 30), st.floats(0, 1))
def test_equal_sessions_are_binomial(count: int, rate: float) -> None:
    """n sessions of 30 minutes: P(k delivered) = C(n, k) (1-p)^k p^(n-k), the binomial distribution."""
    found = delivered_distribution([30] * count, rate)
    expected = [comb(count, k) * (1 - rate) ** k * rate ** (count - k) for k in range(count + 1)]
    assert found[::30] == pytest.approx(expected, abs=1e-12)
    assert found.sum() == pytest.approx(1)


def test_the_distribution_agrees_with_simulation() -> None:
    """200,000 simulated rests of a year with sessions of three lengths: within four standard errors everywhere."""
    lengths = np.array([30] * 8 + [45] * 6 + [20] * 5)
    rate, runs = 0.17, 200_000
    chance = np.random.default_rng(20261125)
    totals = ((chance.random((runs, len(lengths))) >= rate) * lengths).sum(axis=1)
    exact = delivered_distribution(lengths.tolist(), rate)
    simulated = np.bincount(totals, minlength=len(exact)) / runs
    allowed = 4 * np.sqrt(exact * (1 - exact) / runs) + 1e-5
    assert np.all(np.abs(simulated - exact) <= allowed)


def test_little_history_leans_on_the_teacher_and_much_on_the_student() -> None:
    """No history: the default. Then the teacher's rate; with hundreds of own sessions, nearly the own rate."""
    nobody = SessionHistory(0, 0)
    assert missed_rate(nobody, nobody) == pytest.approx(DEFAULT_RATE)
    teacher = SessionHistory(990, 198)
    few, many = missed_rate(SessionHistory(2, 0), teacher), missed_rate(SessionHistory(990, 495), teacher)
    assert DEFAULT_RATE < few < 0.2 < many
    assert many == pytest.approx(0.5, abs=0.01)


def test_a_gap_that_no_perfect_run_closes() -> None:
    """100 minutes needed, 60 planned: 40 open whatever happens, and it certainly ends short."""
    seen = forecast(needed=100, sessions=[30, 30], rate=0.1, make_up_minutes=30)
    assert seen.gap == 40
    assert seen.ends_short == pytest.approx(1)
    assert seen.reserve is not None
    assert seen.reserve >= 2


@given(st.integers(0, 300), st.lists(st.sampled_from([20, 30, 45]), max_size=8), st.floats(0.01, 0.6))
def test_the_reserve_is_the_smallest_that_does(needed: int, sessions: list[int], rate: float) -> None:
    """With the reserve the chance of ending short is within the limit; with one fewer it isn't."""
    seen = forecast(needed=needed, sessions=sessions, rate=rate, make_up_minutes=30, tolerated=0.1)
    assert seen.reserve is not None

    def short(count: int) -> float:
        return float(delivered_distribution([*sessions, *[30] * count], rate)[:needed].sum())

    assert short(seen.reserve) <= 0.1
    assert seen.reserve == 0 or short(seen.reserve - 1) > 0.1


@pytest.mark.parametrize(("minutes", "rate"), [([30], 1.5), ([0], 0.1)])
def test_impossible_input_is_refused(minutes: list[int], rate: float) -> None:
    """Rates lie between 0 and 1, sessions have minutes."""
    with pytest.raises(ForecastError):
        delivered_distribution(minutes, rate)
    with pytest.raises(ForecastError):
        SessionHistory(2, 3)

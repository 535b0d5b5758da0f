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


def test_the_rate_is_the_mean_of_the_posterior() -> None:
    """Worked by hand: a prior of (9 + 0.1 x 10) / (40 + 10) = 0.2, then (2 + 0.2 x 10) / (5 + 10)."""
    assert missed_rate(SessionHistory(5, 2), SessionHistory(40, 9)) == pytest.approx(4 / 15)


def test_what_is_expected_is_the_mean_of_the_distribution() -> None:
    """Three sessions of 30, 45 and 20 minutes at 0.2: 95 x 0.8 minutes, which the table's mean is as well."""
    seen = forecast(needed=50, sessions=[30, 45, 20], rate=0.2, make_up_minutes=30)
    table = delivered_distribution([30, 45, 20], 0.2)
    assert (seen.needed, seen.planned, seen.rate) == (50, 95, 0.2)
    assert seen.expected == pytest.approx(76)
    assert seen.expected == pytest.approx(float(table @ np.arange(len(table))))
    # Fewer than 50: all but 30 + 20, 30 + 45, 45 + 20 and all three are held.
    assert seen.ends_short == pytest.approx(1 - 3 * 0.8**2 * 0.2 - 0.8**3)


def test_the_reserve_ends_at_sixty_make_ups() -> None:
    """If none is ever missed, 1800 minutes take sixty of thirty; for one minute more there is no answer."""
    assert forecast(needed=1800, sessions=[], rate=0, make_up_minutes=30).reserve == 60
    assert forecast(needed=1801, sessions=[], rate=0, make_up_minutes=30).reserve is None
    assert forecast(needed=1, sessions=[30], rate=1, make_up_minutes=30).reserve is None


@pytest.mark.parametrize(("tolerated", "reserve"), [(0.1, 0), (0.09, 1)])
def test_the_limit_itself_is_tolerated(tolerated: float, reserve: int) -> None:
    """One session missed with 0.1: short with 0.1, and with one make-up with 0.01."""
    seen = forecast(needed=30, sessions=[30], rate=0.1, make_up_minutes=30, tolerated=tolerated)
    assert seen.reserve == reserve


def test_a_tenth_is_tolerated_where_nothing_else_is_said() -> None:
    """The same limit as the outlook's."""
    assert forecast(needed=30, sessions=[30], rate=0.1, make_up_minutes=30).reserve == 0
    assert forecast(needed=30, sessions=[30], rate=0.11, make_up_minutes=30).reserve == 1


@pytest.mark.parametrize("needed", [0, -30])
def test_nothing_needed_is_never_short(needed: int) -> None:
    """Whatever is missed, and without a gap."""
    seen = forecast(needed=needed, sessions=[30], rate=0.5, make_up_minutes=30)
    assert (seen.ends_short, seen.reserve, seen.gap) == (0, 0, 0)


def test_a_part_of_a_session_needed_is_a_session_needed() -> None:
    """One minute of thirty is short as often as thirty are."""
    shorts = [
        forecast(needed=needed, sessions=[30], rate=0.25, make_up_minutes=30).ends_short for needed in (1, 30, 31)
    ]
    assert shorts == pytest.approx([0.25, 0.25, 1])


def test_the_ends_of_what_is_possible() -> None:
    """Never missed, always missed, and a session of one minute; all sessions missed is a history, too."""
    assert delivered_distribution([1], 0).tolist() == [0, 1]
    assert delivered_distribution([1], 1).tolist() == [1, 0]
    assert SessionHistory(3, 3).missed == 3
    with pytest.raises(ForecastError):
        SessionHistory(3, -1)


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

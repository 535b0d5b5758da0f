"""The forecast against the binomial formula, against a Markov chain by hand, and against every course there is."""

from itertools import product
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.forecast import forecast
from caseload.ledger.rates import Chance, ForecastError, RateBelief
from tests.caseload.forecast_districts import delivered_distribution


def sure(rate: float, persistence: float = 0.0, last_missed: bool | None = None) -> RateBelief:
    """A belief without any doubt."""
    return RateBelief((Chance(rate, persistence, 1.0),), last_missed)


def two_rates(first: float, second: float) -> RateBelief:
    """Either of two rates, as likely as the other."""
    return RateBelief((Chance(first, 0.0, 0.5), Chance(second, 0.0, 0.5)))


@given(st.integers(0, 30), st.floats(0, 1))
def test_equal_sessions_of_a_known_rate_are_binomial(count: int, rate: float) -> None:
    """n sessions of 30 minutes: P(k delivered) = C(n, k) (1-p)^k p^(n-k), the binomial distribution."""
    found = delivered_distribution([30] * count, sure(rate))
    expected = [comb(count, k) * (1 - rate) ** k * rate ** (count - k) for k in range(count + 1)]
    assert found[::30] == pytest.approx(expected, abs=1e-12)
    assert found.sum() == pytest.approx(1)


@pytest.mark.parametrize("last", [None, True, False])
def test_runs_agree_with_every_course_there_is(last: bool | None) -> None:
    """Four sessions of different lengths, a chain by its definition: each of the 16 courses with its chance."""
    rate, kept, lengths = 0.2, 0.5, [30, 20, 45, 30]
    expected = np.zeros(sum(lengths) + 1)
    for course in product([True, False], repeat=4):
        chance, before = 1.0, last
        for missed in course:
            again = rate if before is None else (kept + (1 - kept) * rate if before else (1 - kept) * rate)
            chance *= again if missed else 1 - again
            before = missed
        expected[sum(n for n, missed in zip(lengths, course, strict=True) if not missed)] += chance
    assert delivered_distribution(lengths, sure(rate, kept, last)) == pytest.approx(expected, abs=1e-12)


def test_an_unsure_rate_is_the_mixture_of_what_it_may_be() -> None:
    """Two sessions, 0 % or 40 %: both are held with (1 + 0.36) / 2, and not with 0.8 squared as at 20 %."""
    found = delivered_distribution([30, 30], two_rates(0.0, 0.4))
    assert found[60] == pytest.approx((1 + 0.36) / 2)
    assert found[0] == pytest.approx(0.16 / 2)


def test_whoever_missed_the_last_session_is_likelier_to_miss_the_next() -> None:
    """By hand, rate 0.2 and persistence 0.5: 0.6 after a miss, 0.1 after a session held."""
    seen = [
        forecast(needed=30, sessions=[30], belief=sure(0.2, 0.5, last), make_up_minutes=30).ends_short
        for last in (True, False, None)
    ]
    assert seen == pytest.approx([0.6, 0.1, 0.2])


def test_ending_short_of_three_lengths() -> None:
    """50 of 30 + 45 + 20 at 0.2. Fewer than 50: all but 30 + 20, 30 + 45, 45 + 20 and all three are held."""
    seen = forecast(needed=50, sessions=[30, 45, 20], belief=sure(0.2), make_up_minutes=30)
    assert (seen.needed, seen.planned) == (50, 95)
    assert (seen.rate, seen.rate_low, seen.rate_high) == (0.2, 0.2, 0.2)
    assert seen.ends_short == pytest.approx(1 - 3 * 0.8**2 * 0.2 - 0.8**3)


def test_the_reserve_ends_at_sixty_make_ups() -> None:
    """If none is ever missed, 1800 minutes take sixty of thirty; for one minute more there is no answer."""
    assert forecast(needed=1800, sessions=[], belief=sure(0), make_up_minutes=30).reserve == 60
    assert forecast(needed=1801, sessions=[], belief=sure(0), make_up_minutes=30).reserve is None
    assert forecast(needed=1, sessions=[30], belief=sure(1), make_up_minutes=30).reserve is None


@pytest.mark.parametrize(("tolerated", "reserve"), [(0.1, 0), (0.09, 1)])
def test_the_limit_itself_is_tolerated(tolerated: float, reserve: int) -> None:
    """One session missed with 0.1: short with 0.1, and with one make-up with 0.01."""
    seen = forecast(needed=30, sessions=[30], belief=sure(0.1), make_up_minutes=30, tolerated=tolerated)
    assert seen.reserve == reserve


def test_a_tenth_is_tolerated_where_nothing_else_is_said() -> None:
    """The same limit as the outlook's."""
    assert forecast(needed=30, sessions=[30], belief=sure(0.1), make_up_minutes=30).reserve == 0
    assert forecast(needed=30, sessions=[30], belief=sure(0.11), make_up_minutes=30).reserve == 1


@pytest.mark.parametrize("needed", [0, -30])
def test_nothing_needed_is_never_short(needed: int) -> None:
    """Whatever is missed, and without a gap."""
    seen = forecast(needed=needed, sessions=[30], belief=sure(0.5), make_up_minutes=30)
    assert (seen.ends_short, seen.reserve, seen.gap) == (0, 0, 0)


def test_a_part_of_a_session_needed_is_a_session_needed() -> None:
    """One minute of thirty is short as often as thirty are."""
    shorts = [
        forecast(needed=needed, sessions=[30], belief=sure(0.25), make_up_minutes=30).ends_short
        for needed in (1, 30, 31)
    ]
    assert shorts == pytest.approx([0.25, 0.25, 1])


def test_the_ends_of_what_is_possible() -> None:
    """Never missed, always missed, and a session of one minute."""
    assert delivered_distribution([1], sure(0)).tolist() == [0, 1]
    assert delivered_distribution([1], sure(1)).tolist() == [1, 0]


def test_a_gap_that_no_perfect_run_closes() -> None:
    """100 minutes needed, 60 planned: 40 open whatever happens, and it certainly ends short."""
    seen = forecast(needed=100, sessions=[30, 30], belief=sure(0.1), make_up_minutes=30)
    assert seen.gap == 40
    assert seen.ends_short == pytest.approx(1)
    assert seen.reserve is not None
    assert seen.reserve >= 2


@given(
    st.integers(0, 300),
    st.lists(st.sampled_from([20, 30, 45]), max_size=8),
    st.floats(0.01, 0.5),
    st.floats(0.01, 0.5),
)
def test_the_reserve_is_the_smallest_that_does(needed: int, sessions: list[int], one: float, other: float) -> None:
    """With the reserve the chance of ending short is within the limit; with one fewer it isn't."""
    belief = two_rates(one, other)
    seen = forecast(needed=needed, sessions=sessions, belief=belief, make_up_minutes=30, tolerated=0.1)
    assert seen.reserve is not None

    def short(count: int) -> float:
        return float(delivered_distribution([*sessions, *[30] * count], belief)[:needed].sum())

    assert short(seen.reserve) <= 0.1 + 1e-12
    assert seen.reserve == 0 or short(seen.reserve - 1) > 0.1 - 1e-12


def test_impossible_input_is_refused() -> None:
    """Rates lie between 0 and 1, sessions have minutes."""
    with pytest.raises(ForecastError):
        Chance(1.5, 0, 1)
    with pytest.raises(ForecastError):
        forecast(needed=30, sessions=[30, 0], belief=sure(0.1), make_up_minutes=30)
    with pytest.raises(ForecastError):
        forecast(needed=30, sessions=[30], belief=sure(0.1), make_up_minutes=0)

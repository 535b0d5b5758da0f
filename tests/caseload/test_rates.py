"""What is believed of a rate: against sums by hand, and against districts that were simulated from known rates."""

import numpy as np
import pytest

from caseload.ledger.rates import DEFAULT_RATE, LearnedRates, RateBelief, SessionHistory
from tests.caseload.forecast_districts import KINDS, Told, told_of

LEARNED_OF_NOTHING = LearnedRates([])


def history(missed: int, planned: int) -> SessionHistory:
    """Misses as far from each other as they go."""
    return SessionHistory(
        tuple((at * missed) // planned != ((at + 1) * missed) // planned for at in range(planned))
    )


def belief_of(own: SessionHistory, *others: SessionHistory) -> RateBelief:
    """What is believed of a line among others."""
    return LearnedRates([own, *others]).belief(own)


def test_a_history_counts_what_followed_what() -> None:
    """Held, missed, missed, held: one of each pair but held after held."""
    one = SessionHistory((False, True, True, False))
    assert (one.planned, one.missed, one.last_missed) == (4, 2, False)
    assert [one.followed(a, b) for a in (True, False) for b in (True, False)] == [1, 1, 1, 0]
    assert SessionHistory().last_missed is None


def test_without_any_history_about_a_tenth_is_expected_and_nothing_is_sure() -> None:
    """Common practice, no source: the mean before anything is logged. The rate may well be double or half of it."""
    belief = LEARNED_OF_NOTHING.belief(SessionHistory())
    assert belief.mean == pytest.approx(DEFAULT_RATE, abs=0.02)
    assert belief.low < 0.05
    assert belief.high > 0.2
    assert sum(one.weight for one in belief.chances) == pytest.approx(1)


def test_much_history_makes_sure() -> None:
    """Every fifth of 300 was missed: 0.2 is inside, and both ends are near (binomial error 0.023)."""
    belief = belief_of(history(60, 300))
    assert belief.low <= 0.2 <= belief.high
    assert belief.mean == pytest.approx(0.2, abs=0.03)
    assert belief.high - belief.low < 0.1


def test_little_history_leans_on_the_other_students() -> None:
    """Two sessions held say little: the others, who miss 3 of 10 or none, say the more."""
    own = SessionHistory((False, False))
    often = belief_of(own, *[history(9, 30)] * 10)
    seldom = belief_of(own, *[history(0, 30)] * 10)
    assert seldom.mean < 0.05 < 0.2 < often.mean < 0.3


def test_students_who_differ_lean_on_each_other_less() -> None:
    """The same mean; where the others are alike, four misses of ten are mostly chance."""
    own = history(4, 10)
    alike = belief_of(own, *[history(6, 40)] * 12)
    differ = belief_of(own, *[history(0, 40)] * 6, *[history(12, 40)] * 6)
    assert alike.mean < differ.mean


def test_runs_are_noticed() -> None:
    """Ten misses in one run of fifty sessions, or apart: only the first makes a miss likely after a miss."""
    run = SessionHistory((False,) * 20 + (True,) * 10 + (False,) * 20)
    apart = history(10, 50)

    def persistence(one: SessionHistory) -> float:
        return sum(chance.persistence * chance.weight for chance in belief_of(one, *[one] * 5).chances)

    assert persistence(run) > 0.5
    assert persistence(apart) < 0.1


@pytest.fixture(scope="module", params=sorted(KINDS))
def told(request: pytest.FixtureRequest) -> Told:
    """Forecasts for simulated districts of one kind, and what happened."""
    return told_of(str(request.param), districts=80, seed=20261128)


@pytest.mark.long
def test_what_is_said_at_a_tenth_happens_in_a_tenth(told: Told) -> None:
    """Of the cases said at 7 to 13 % as many end short: some two thousand, so that the error is about 0.7 %."""
    assert len(told.happened) > 1500
    assert 0.07 <= np.mean(told.happened) <= 0.13


@pytest.mark.long
def test_the_reserve_told_is_enough_in_nine_of_ten(told: Told) -> None:
    """And it isn't bought with too much: in no more than 97 of a hundred (common practice, no source)."""
    assert 0.90 <= np.mean(told.enough) <= 0.97


@pytest.mark.long
def test_the_rate_lies_where_it_is_said_to(told: Told) -> None:
    """Between the two ends in eight of ten cases, within 4 %."""
    assert np.mean(told.within) == pytest.approx(0.8, abs=0.04)


@pytest.mark.long
def test_one_figure_for_the_rate_would_have_said_too_little() -> None:
    """With runs, what a known rate and sessions by themselves say at a tenth happens far more often."""
    told = told_of("runs", districts=80, seed=20261128, sure=True)
    assert np.mean(told.happened) > 0.13

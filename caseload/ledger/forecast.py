"""Will the minutes be there by the end? The distribution of what the sessions ahead will deliver.

Each planned session takes place whole or is missed. How often it is missed, and that misses come in runs, is a
belief and not one figure (`caseload.ledger.rates`): for each possible truth the sessions ahead are a Markov chain
that begins where the log ends, and the distribution of the minutes is the mixture of theirs. It is worked out
exactly, without sampling.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, islice
from math import gcd

import numpy as np
from numpy.typing import NDArray

from caseload.ledger.rates import ForecastError, RateBelief

RESERVE_LIMIT = 60


class SessionsAhead:
    """What sessions ahead deliver under each possible truth: the chance of each sum of theirs.

    Sums are in units, counted up to `most`, which stands for that and everything above. Kept apart by whether the
    latest session was held, since the next one depends on it.
    """

    def __init__(self, belief: RateBelief, most: int) -> None:
        """Nothing delivered yet, after the latest session of the log."""
        rate = np.array([one.rate for one in belief.chances])
        kept = np.array([one.persistence for one in belief.chances])
        self._weights = np.array([one.weight for one in belief.chances])
        self._again = (kept + (1 - kept) * rate)[:, None]
        self._anew = ((1 - kept) * rate)[:, None]
        missed = rate if belief.last_missed is None else np.full_like(rate, float(belief.last_missed))
        self._held = np.zeros((len(rate), most + 1))
        self._missed = np.zeros_like(self._held)
        self._held[:, 0], self._missed[:, 0] = 1 - missed, missed

    def take(self, units: int) -> None:
        """One more session of so many units."""
        missed = self._held * self._anew + self._missed * self._again
        held = self._held * (1 - self._anew) + self._missed * (1 - self._again)
        most = held.shape[1] - 1
        moved = np.zeros_like(held)
        step = min(units, most)
        moved[:, step:] = held[:, : most + 1 - step]
        moved[:, most] += held[:, most + 1 - step :].sum(axis=1)
        self._held, self._missed = moved, missed

    def distribution(self) -> NDArray[np.float64]:
        """The chance of each sum."""
        found: NDArray[np.float64] = self._weights @ (self._held + self._missed)
        return found


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is ahead of one line until a date, in minutes; probabilities between 0 and 1.

    `rate` is the share of sessions to expect to be missed; in eight of ten cases the true one lies between
    `rate_low` and `rate_high`.
    """

    needed: int
    planned: int
    rate: float
    rate_low: float
    rate_high: float
    ends_short: float
    reserve: int | None

    @property
    def gap(self) -> int:
        """Minutes that even a perfect run of the planned sessions leaves open."""
        return max(self.needed - self.planned, 0)


def _short_with_reserve(
    minutes: Sequence[int], needed: int, belief: RateBelief, make_up_minutes: int
) -> Iterator[float]:
    """Probability of fewer than `needed` minutes without a make-up, with one, with two, ...

    Lengths are counted in their greatest common divisor: the same distribution in a shorter table.
    """
    if min((*minutes, make_up_minutes)) <= 0:
        raise ForecastError("A session can't last 0 minutes or less.")
    unit = gcd(*minutes, make_up_minutes)
    least = -(-max(needed, 0) // unit)
    ahead = SessionsAhead(belief, least)
    for length in minutes:
        ahead.take(length // unit)
    while True:
        yield float(ahead.distribution()[:least].sum())
        ahead.take(make_up_minutes // unit)


def forecast(
    *, needed: int, sessions: Sequence[int], belief: RateBelief, make_up_minutes: int, tolerated: float = 0.10
) -> Forecast:
    """Forecast one line.

    `needed` minutes are still to be delivered by the date (behind now plus owed until then), `sessions` are the
    lengths planned until it, in order. `reserve` is the smallest number of make-ups of `make_up_minutes` after
    them, missed as any session, with which the probability of ending short is at most `tolerated`; None if 60 don't
    do.
    """
    return _forecast(needed, tuple(sessions), belief, make_up_minutes, tolerated)


@lru_cache(maxsize=1024)
def _forecast(
    needed: int, sessions: tuple[int, ...], belief: RateBelief, make_up_minutes: int, tolerated: float
) -> Forecast:
    """The same for what is asked again: services without history and alike are many on a teacher's first page."""
    chances = islice(_short_with_reserve(sessions, needed, belief, make_up_minutes), RESERVE_LIMIT + 1)
    ends_short = next(chances)
    more = enumerate(chain([ends_short], chances))
    return Forecast(
        needed=needed,
        planned=sum(sessions),
        rate=belief.mean,
        rate_low=belief.low,
        rate_high=belief.high,
        ends_short=ends_short,
        reserve=next((count for count, chance in more if chance <= tolerated), None),
    )

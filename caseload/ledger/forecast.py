"""Will the minutes be there by the end? The distribution of what the sessions ahead will deliver.

Each planned session takes place whole with probability 1 - p, independently; p is estimated from the student's own
past sessions, drawn toward the teacher's overall rate while there is little history. That estimate is the mean of
a beta distribution whose prior is worth `PRIOR_SESSIONS` sessions (beta-binomial shrinkage: A. Gelman and others,
Bayesian Data Analysis, 3rd edition, sections 2.4 and 5.3). The strength of the prior is common practice, no source.

The distribution of a sum of independent sessions is the convolution of theirs, so it is exact: no sampling.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from math import gcd

import numpy as np
from numpy.typing import NDArray

PRIOR_SESSIONS = 10
"""How many sessions of history the teacher's overall rate is worth against the student's own."""

DEFAULT_RATE = 0.10
"""Share of sessions missed where there is no history at all; common practice, no source."""

RESERVE_LIMIT = 60


class ForecastError(ValueError):
    """A forecast that can't be made; the message says why."""


@dataclass(frozen=True, slots=True)
class SessionHistory:
    """Sessions that are over: how many were planned and how many of them missed."""

    planned: int
    missed: int

    def __post_init__(self) -> None:
        """Refuse impossible counts."""
        if not 0 <= self.missed <= self.planned:
            raise ForecastError(f"{self.missed} sessions missed out of {self.planned} is impossible.")


def missed_rate(student: SessionHistory, teacher: SessionHistory) -> float:
    """Share of sessions expected to be missed: the posterior mean described above, strictly between 0 and 1."""
    prior = (teacher.missed + DEFAULT_RATE * PRIOR_SESSIONS) / (teacher.planned + PRIOR_SESSIONS)
    return (student.missed + prior * PRIOR_SESSIONS) / (student.planned + PRIOR_SESSIONS)


def delivered_distribution(minutes: Sequence[int], rate: float) -> NDArray[np.float64]:
    """Probability of each total of delivered minutes, index = minutes, from sessions of these lengths."""
    if not 0 <= rate <= 1:
        raise ForecastError(f"A rate is between 0 and 1, not {rate}.")
    total = np.ones(1)
    for length in minutes:
        if length <= 0:
            raise ForecastError(f"A session can't last {length} minutes.")
        one = np.zeros(length + 1)
        one[0] += rate
        one[length] += 1 - rate
        total = np.convolve(total, one)
    return total


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is ahead of one line until a date, in minutes; probabilities between 0 and 1."""

    needed: int
    planned: int
    expected: float
    rate: float
    ends_short: float
    reserve: int | None

    @property
    def gap(self) -> int:
        """Minutes that even a perfect run of the planned sessions leaves open."""
        return max(self.needed - self.planned, 0)


def _short_with_reserve(minutes: Sequence[int], needed: int, rate: float, make_up_minutes: int) -> Iterator[float]:
    """Probability of fewer than `needed` minutes without a make-up, with one, with two, ...

    Lengths are counted in their greatest common divisor: the same distribution in a shorter table.
    """
    unit = gcd(*minutes, make_up_minutes)
    least = -(-max(needed, 0) // unit)
    total = delivered_distribution([length // unit for length in minutes], rate)
    one = delivered_distribution([make_up_minutes // unit], rate)
    while True:
        yield float(total[:least].sum())
        total = np.convolve(total, one)


def forecast(
    *, needed: int, sessions: Sequence[int], rate: float, make_up_minutes: int, tolerated: float = 0.10
) -> Forecast:
    """Forecast one line.

    `needed` minutes are still to be delivered by the date (behind now plus owed until then), `sessions` are the
    lengths planned until it. `reserve` is the smallest number of make-ups of `make_up_minutes`, missed as often as
    any session, with which the probability of ending short is at most `tolerated`; None if 60 don't do.
    """
    chances = list(islice(_short_with_reserve(sessions, needed, rate, make_up_minutes), RESERVE_LIMIT + 1))
    return Forecast(
        needed=needed,
        planned=sum(sessions),
        expected=sum(sessions) * (1 - rate),
        rate=rate,
        ends_short=chances[0],
        reserve=next((count for count, short in enumerate(chances) if short <= tolerated), None),
    )

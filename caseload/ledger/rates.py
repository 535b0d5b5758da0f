"""How often sessions are missed, and how sure that is: rates differ between students, and misses come in runs.
Pure.

Each student has a rate of their own, drawn from a beta distribution whose mean and strength are learned from all of
a teacher's students together, over a grid of values (the hierarchical beta-binomial model: A. Gelman and others,
Bayesian Data Analysis, 3rd edition, sections 5.1 and 5.3). A session that follows a missed one is missed more
often: the outcomes are a Markov chain of two states with a persistence, common to the teacher's students (Bernoulli
trials with dependence as in J. Klotz, Annals of Statistics 1 (1973), pages 373 to 379; from memory, not read). What
comes out isn't one rate but a belief: rates and persistences with their weights.

Before anything is logged the mean is about a tenth, worth ten sessions: common practice, no source. So are the
grids.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

DEFAULT_RATE = 0.10
"""Share of sessions missed where there is no history at all; common practice, no source."""

PRIOR_SESSIONS = 10
"""How many sessions of history that share is worth; common practice, no source."""

LEAST_WEIGHT = 1e-3
"""What is less likely than this share of the likeliest is left out of a belief."""

SURE = 0.8
"""The share of the belief between `RateBelief.low` and `RateBelief.high`."""

type Grid = NDArray[np.float64]


class ForecastError(ValueError):
    """A forecast that can't be made; the message says why."""


@dataclass(frozen=True, slots=True)
class SessionHistory:
    """Sessions that are over, the oldest first: whether each was missed."""

    outcomes: tuple[bool, ...] = ()

    @property
    def planned(self) -> int:
        """How many they are."""
        return len(self.outcomes)

    @property
    def missed(self) -> int:
        """How many of them were missed."""
        return sum(self.outcomes)

    @property
    def last_missed(self) -> bool | None:
        """Whether the latest was missed; None where there is none."""
        return self.outcomes[-1] if self.outcomes else None

    def followed(self, before: bool, after: bool) -> int:
        """How often an outcome came right after another."""
        pairs = zip(self.outcomes, self.outcomes[1:], strict=False)
        return sum(pair == (before, after) for pair in pairs)


@dataclass(frozen=True, slots=True)
class Chance:
    """One possible truth: sessions are missed at `rate` in the long run, and `persistence` (0 to 1) makes runs."""

    rate: float
    persistence: float
    weight: float

    def __post_init__(self) -> None:
        """Refuse what is no probability."""
        if not (0 <= self.rate <= 1 and 0 <= self.persistence < 1 and self.weight >= 0):
            raise ForecastError(f"{self} holds what is no probability.")


@dataclass(frozen=True, slots=True)
class RateBelief:
    """Possible truths about one line, weighed (together 1), and how its latest session ended."""

    chances: tuple[Chance, ...]
    last_missed: bool | None = None

    @property
    def mean(self) -> float:
        """The rate to expect."""
        return sum(one.rate * one.weight for one in self.chances)

    @property
    def low(self) -> float:
        """Below it the rate lies in one of ten cases."""
        return self._quantile((1 - SURE) / 2)

    @property
    def high(self) -> float:
        """Above it the rate lies in one of ten cases."""
        return self._quantile((1 + SURE) / 2)

    def _quantile(self, share: float) -> float:
        reached = 0.0
        ordered = sorted(self.chances, key=lambda one: one.rate)
        for one in ordered:
            reached += one.weight
            if reached >= share:
                return one.rate
        return ordered[-1].rate


@dataclass(frozen=True, slots=True)
class _Grids:
    """Values that are tried: rates, persistences, means and strengths; and what is believed of them beforehand.

    `spread[m, s, r]` is the chance of rate r for students whose rates have mean m and strength s.
    """

    rates: Grid
    persistences: Grid
    spread: Grid
    beforehand: Grid


@cache
def _grids() -> _Grids:
    edges = np.concatenate(([0.0], np.geomspace(0.002, 0.3, 36), np.linspace(0.32, 0.98, 23)))
    rates = (edges[1:] + edges[:-1]) / 2
    means = np.array([0.01, 0.02, 0.03, 0.045, 0.06, 0.08, 0.10, 0.125, 0.15, 0.18, 0.22, 0.27, 0.33, 0.4, 0.5])
    strengths = np.array([1.5, 3.0, 6.0, 12.0, 25.0, 50.0, 120.0])
    persistences = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])
    alpha = (means[:, None] * strengths)[..., None]
    beta = ((1 - means)[:, None] * strengths)[..., None]
    spread = _shares((alpha - 1) * np.log(rates) + (beta - 1) * np.log1p(-rates) + np.log(np.diff(edges)))
    widths = np.gradient(means)
    before = (DEFAULT_RATE * PRIOR_SESSIONS - 1) * np.log(means) + np.log(widths)
    before = before + ((1 - DEFAULT_RATE) * PRIOR_SESSIONS - 1) * np.log1p(-means)
    beforehand = before[:, None, None] + np.zeros((1, len(strengths), len(persistences)))
    return _Grids(rates, persistences, spread, beforehand)


def _shares(logs: Grid) -> Grid:
    """Weights along the last axis that add up to one, from their logarithms."""
    weights: Grid = np.exp(logs - logs.max(axis=-1, keepdims=True))
    return weights / weights.sum(axis=-1, keepdims=True)


@cache
def _likelihood(one: SessionHistory) -> Grid:
    """The chance of a history, to a constant, at each persistence (rows) and rate (columns)."""
    grids = _grids()
    rate, kept = grids.rates[None, :], grids.persistences[:, None]
    miss_again, miss_anew = kept + (1 - kept) * rate, (1 - kept) * rate
    logs = np.zeros(np.broadcast_shapes(rate.shape, kept.shape))
    if one.outcomes:
        logs = logs + np.log(rate if one.outcomes[0] else 1 - rate)
    for chance, after_miss in ((miss_again, True), (miss_anew, False)):
        logs = logs + one.followed(after_miss, True) * np.log(chance)
        logs = logs + one.followed(after_miss, False) * np.log1p(-chance)
    return np.exp(logs - logs.max())


class LearnedRates:
    """What the histories of all of a teacher's lines say together."""

    def __init__(self, histories: Iterable[SessionHistory]) -> None:
        """Weigh the means, strengths and persistences by how well they tell what happened."""
        grids = _grids()
        told = grids.beforehand.copy()
        for one in histories:
            if one.outcomes:
                told += np.log(self._told(one))
        weights = np.exp(told - told.max())
        self._weights: Grid = weights / weights.sum()
        self._beliefs: dict[SessionHistory, RateBelief] = {}

    def belief(self, own: SessionHistory) -> RateBelief:
        """What is believed of one line, whose history is among those learned from (or empty)."""
        if own not in self._beliefs:
            self._beliefs[own] = self._believed(own)
        return self._beliefs[own]

    def _believed(self, own: SessionHistory) -> RateBelief:
        grids = _grids()
        ways = self._weights / self._told(own)
        rates = np.einsum("msk,msr->kr", ways, grids.spread) * _likelihood(own)
        rates = rates / rates.sum()
        kept = np.argwhere(rates > LEAST_WEIGHT * rates.max())
        whole = float(sum(rates[k, r] for k, r in kept))
        return RateBelief(
            tuple(
                Chance(float(grids.rates[r]), float(grids.persistences[k]), float(rates[k, r]) / whole)
                for k, r in kept
            ),
            own.last_missed,
        )

    def _told(self, one: SessionHistory) -> Grid:
        """How well each mean, strength and persistence tells one history."""
        found: Grid = np.einsum("msr,kr->msk", _grids().spread, _likelihood(one))
        return found

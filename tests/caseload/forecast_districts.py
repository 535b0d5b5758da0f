"""Districts simulated from known rates, to hold forecasts against what then happens."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from caseload.ledger.forecast import SessionsAhead, forecast
from caseload.ledger.outlook import RESERVED_FOR
from caseload.ledger.rates import Chance, LearnedRates, RateBelief, SessionHistory

type Table = NDArray[np.float64]

STUDENTS = 30
MINUTES = 30
RESERVED = 60


@dataclass(frozen=True, slots=True)
class Kind:
    """Rates are drawn from a beta distribution of this mean and strength; misses persist by `persistence`."""

    mean: float
    strength: float
    persistence: float


KINDS = {
    "students who differ": Kind(mean=0.12, strength=8, persistence=0.0),
    "runs": Kind(mean=0.12, strength=40, persistence=0.45),
}
"""Both kinds are invented; the means lie near what schools publish as absence (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was said beside what happened: of cases said at about a tenth, of reserves, of rates, of all cases."""

    said: list[float] = field(default_factory=list)
    happened: list[bool] = field(default_factory=list)
    enough: list[bool] = field(default_factory=list)
    reserves: list[int] = field(default_factory=list)
    within: list[bool] = field(default_factory=list)
    every: list[tuple[float, bool]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Life:
    """One student's true rate, the sessions that are over, and those to come: whether each is missed."""

    rate: float
    past: tuple[bool, ...]
    future: tuple[bool, ...]


def lives_of(kind: Kind, chance: np.random.Generator) -> Iterator[Life]:
    for _ in range(STUDENTS):
        rate = float(chance.beta(kind.mean * kind.strength, (1 - kind.mean) * kind.strength))
        past = int(chance.integers(8, 45))
        outcomes: list[bool] = []
        for _ in range(past + 40 + RESERVED):
            again = rate
            if outcomes:
                again = (1 - kind.persistence) * rate + kind.persistence * outcomes[-1]
            outcomes.append(bool(chance.random() < again))
        yield Life(rate, tuple(outcomes[:past]), tuple(outcomes[past:]))


def told_of(kind: str, *, districts: int, seed: int, sure: bool = False) -> Told:
    """Forecasts for every student of so many districts. `sure`: as if the rate were known and misses came alone."""
    chance = np.random.default_rng(seed)
    told = Told()
    for _ in range(districts):
        lives = list(lives_of(KINDS[kind], chance))
        learned = LearnedRates(SessionHistory(life.past) for life in lives)
        for life in lives:
            belief = learned.belief(SessionHistory(life.past))
            _tell(told, life, _without_doubt(belief) if sure else belief, chance)
    return told


def delivered_distribution(minutes: Sequence[int], belief: RateBelief) -> Table:
    """Probability of each total of delivered minutes, index = minutes, from sessions of these lengths in order."""
    ahead = SessionsAhead(belief, sum(minutes))
    for length in minutes:
        ahead.take(length)
    return ahead.distribution()


def _without_doubt(belief: RateBelief) -> RateBelief:
    return RateBelief((Chance(belief.mean, 0.0, 1.0),))


def _tell(told: Told, life: Life, belief: RateBelief, chance: np.random.Generator) -> None:
    ahead = int(chance.integers(8, 40))
    held = ahead - sum(life.future[:ahead])
    shorts = np.concatenate(([0.0], np.cumsum(delivered_distribution([1] * ahead, belief))))
    told.every.extend((float(shorts[needed]), held < needed) for needed in range(0, ahead + 1, 2))
    needed = int(np.argmin(np.abs(shorts - 0.10)))
    if 0.07 <= shorts[needed] <= 0.13:
        told.said.append(float(shorts[needed]))
        told.happened.append(held < needed)
    told.within.append(belief.low <= life.rate <= belief.high)
    wanted = MINUTES * (ahead - int(chance.integers(0, 3)))
    lengths = [MINUTES] * ahead
    seen = forecast(needed=wanted, sessions=lengths, belief=belief, make_up_minutes=MINUTES, tolerated=RESERVED_FOR)
    if seen.reserve is not None:
        count = ahead + seen.reserve
        told.reserves.append(seen.reserve)
        told.enough.append(MINUTES * (count - sum(life.future[:count])) >= wanted)
